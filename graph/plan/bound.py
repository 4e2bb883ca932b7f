"""The least that a set of open choices can cost, from prices and labour alone."""

from __future__ import annotations

from graph.plan.choice import Choices, Domains, given
from graph.plan.labour import Tariff
from graph.plan.wish import Shared


class Bounds:
    """Lower bounds of cost.

    Parameters
    ----------
    choices : Choices
        The options.
    tariff : Tariff
        Prices and shared labour.
    """

    def __init__(self, choices: Choices, tariff: Tariff) -> None:
        self.choices, self.tariff = choices, tariff
        free = given(choices)
        self.free = free
        self.least = [
            [0.0 if o.bought is None else tariff.least(o.bought, given=o.bought.id in free) for o in found]
            for found in choices.options
        ]
        self.operations: list[list[tuple[Shared, ...]]] = [
            [() if o.bought is None else tariff.operations(o.bought) for o in found] for found in choices.options
        ]

    def exact(self, domains: Domains) -> float:
        """Net cost of a complete choice [currency]."""
        return self.tariff.cost(self.choices.bought([d[0] for d in domains])).net

    def least_of(self, domains: Domains) -> float:
        """Net cost that no completion of the open choices can avoid [currency]."""
        total, cheaper = 0.0, []
        doing: dict[str, float] = {}
        possible: set[str] = set()
        for s, found in enumerate(domains):
            if len(found) > 1:
                total += min(self.least[s][i] for i in found)
                for i in found:
                    possible.update(row.operation for row in self.operations[s][i] if row.does)
                continue
            option = self.choices.options[s][found[0]].bought
            total += self.least[s][found[0]]
            if option is None or option.id in self.free:
                continue
            for row in self.operations[s][found[0]]:
                if row.does:
                    doing[row.operation] = max(doing.get(row.operation, 0.0), row.duration)
                else:
                    cheaper.append(row)
        hours = sum(doing.values())
        hours += sum(row.duration for row in cheaper if row.operation not in doing and row.operation not in possible)
        return total + self.tariff.work(hours)
