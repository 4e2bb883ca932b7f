"""The least that a set of open choices can cost, from prices and labour alone."""

from __future__ import annotations

import math
from collections.abc import Sequence

from graph.model import RelationKind
from graph.plan.bond import Key
from graph.plan.choice import Choices, Domains, given
from graph.plan.labour import Tariff, alternatives
from graph.plan.wish import Shared

#: Options of a slot that are tried, about, to see what choosing there brings along.
TRIED = 16

#: Open slots of which the certain labour is remembered: most nodes share their options with many others.
REMEMBERED = 20_000


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
        self.free = given(choices)
        self.kits: dict[str, set[Key]] = {number: set() for number in self.free}
        self.least: list[list[float]] = []
        self.operations: list[list[tuple[Shared, ...]]] = []
        self.does: list[frozenset[str]] = []
        self.entangled: list[frozenset[int]] = []
        self._known: dict[tuple[int, tuple[int, ...]], dict[str, float]] = {}
        for s, found in enumerate(choices.options):
            least, rows, entangled = [], [], set()
            for i, option in enumerate(found):
                part = option.bought
                least.append(0.0 if part is None else tariff.least(part, given=part.id in self.free))
                rows.append(() if part is None else tariff.operations(part))
                held = [] if part is None else [r for r in part.relations if r.kind is RelationKind.MEMBER and r.part]
                for relation in held:
                    for number in alternatives(relation.part or ""):
                        self.kits[number].add((s, i))
                if rows[-1] or held or (part is not None and part.id in self.free):
                    entangled.add(i)
            self.least.append(least)
            self.operations.append(rows)
            self.does.append(frozenset(row.operation for found_rows in rows for row in found_rows if row.does))
            self.entangled.append(frozenset(entangled))

    def ordered(self, domains: Domains) -> Domains:
        """Domains with the options of each slot from the cheapest to the dearest."""
        return tuple(tuple(sorted(d, key=lambda i, s=s: (self.least[s][i], i))) for s, d in enumerate(domains))  # type: ignore[misc]

    def staged(self, domains: Domains, slots: Sequence[int]) -> tuple[tuple[int, ...], tuple[int, ...]]:
        """Slots in the order in which they are best settled: first those that move the bound.

        A choice that brings other parts or shared labour along costs more than its price says. Settled first, it is
        paid once; settled last, it is met again for every choice of the others.

        Parameters
        ----------
        domains : tuple of tuple of int
            Options of each slot, the cheapest first.
        slots : sequence of int
            The slots.

        Returns
        -------
        bringing, plain : tuple of int
            Those that bring anything, the dearest first; the rest.
        """
        brought = {s: self._brought(domains, s) for s in slots}
        bringing = sorted((s for s in slots if brought[s] > 0.0), key=lambda s: -brought[s])
        return tuple(bringing), tuple(s for s in slots if brought[s] <= 0.0)

    def _brought(self, domains: Domains, slot: int) -> float:
        """What some options of a slot add to the bound beyond their price, on average [currency]."""
        found = domains[slot]
        base = self.least_of(domains) - self.least[slot][found[0]]
        added = []
        for i in found[:: max(1, len(found) // TRIED)]:
            left = self.choices.narrowed((*domains[:slot], (i,), *domains[slot + 1 :]))
            if left is not None:
                added.append(self.least_of(left) - base - self.least[slot][i])
        return sum(added) / len(added) if added else math.inf

    def exact(self, selection: tuple[int, ...]) -> float:
        """Net cost of a complete choice [currency]."""
        return self.tariff.cost(self.choices.bought(selection)).net

    def least_of(self, domains: Domains) -> float:
        """Net cost that no completion of the open choices can avoid [currency].

        Parameters
        ----------
        domains : tuple of tuple of int
            Options of each slot, the cheapest first.

        Returns
        -------
        float
            The cost itself where no open slot holds an option that shares labour or comes in a kit.
        """
        total = 0.0
        cheaper: list[Shared] = []
        doing: dict[str, float] = {}
        possible: set[str] = set()
        for s, found in enumerate(domains):
            i = found[0]
            total += self.least[s][i]
            if len(found) > 1:
                if self.does[s]:
                    possible |= self.does[s]
                    for operation, duration in self._certain(s, found).items():
                        doing[operation] = max(doing.get(operation, 0.0), duration)
                continue
            if i not in self.entangled[s]:
                continue
            part = self.choices.options[s][i].bought
            if part is not None and part.id in self.free:
                reach = [k for k in self.kits[part.id] if k[1] in domains[k[0]]]
                if any(len(domains[t]) == 1 for t, _ in reach):
                    continue
                if reach:
                    possible.update(row.operation for row in self.operations[s][i] if row.does)
                    continue
                total += self.tariff.least(part, given=False)
            for row in self.operations[s][i]:
                if row.does:
                    doing[row.operation] = max(doing.get(row.operation, 0.0), row.duration)
                else:
                    cheaper.append(row)
        hours = sum(doing.values())
        hours += sum(row.duration for row in cheaper if row.operation not in doing and row.operation not in possible)
        return total + self.tariff.work(hours)

    def _certain(self, slot: int, found: tuple[int, ...]) -> dict[str, float]:
        """Operations that every option of an open slot does, each with the least it takes [s]."""
        if not any(row.does for row in self.operations[slot][found[0]]):
            return {}
        key = (slot, found)
        if key not in self._known:
            if len(self._known) >= REMEMBERED:
                self._known.clear()
            self._known[key] = self._common(slot, found)
        return self._known[key]

    def _common(self, slot: int, found: tuple[int, ...]) -> dict[str, float]:
        least: dict[str, float] | None = None
        for i in found:
            part = self.choices.options[slot][i].bought
            paid = part is not None and part.id not in self.free
            does = {row.operation: row.duration for row in self.operations[slot][i] if row.does and paid}
            least = does if least is None else {o: min(d, does[o]) for o, d in least.items() if o in does}
            if not least:
                return {}
        return least or {}
