"""What a set of parts costs: prices, and labour in which every strip-down is paid once."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from graph.model import Part, RelationKind
from graph.plan.record import Cost, SharedLabour
from graph.plan.wish import Shared, ShopTerms

HOUR = 3600.0


class Tariff:
    """Prices of sets of parts under a shop's terms.

    Parameters
    ----------
    terms : ShopTerms
        Hourly rate and tax.
    operations : iterable of Shared
        Strip-downs that jobs share.
    """

    def __init__(self, terms: ShopTerms, operations: Iterable[Shared]) -> None:
        self.terms = terms
        self._rows = tuple(operations)
        self._found: dict[str, tuple[Shared, ...]] = {}

    def operations(self, part: Part) -> tuple[Shared, ...]:
        """Strip-downs in the job of a part, never longer together than the job itself."""
        if part.id not in self._found:
            named: dict[str, Shared] = {}
            for row in self._rows:
                if row.job == part.id or (row.job == part.kind and row.operation not in named):
                    named[row.operation] = row
            left, rows = part.labour or 0.0, []
            for row in named.values():
                held = min(row.duration, left)
                left -= held
                if held > 0.0:
                    rows.append(Shared(operation=row.operation, job=part.id, duration=held, does=row.does))
            self._found[part.id] = tuple(rows)
        return self._found[part.id]

    def alone(self, part: Part) -> float:
        """Net price of fitting one part on its own [currency]."""
        return (part.price or 0.0) + self.work(part.labour or 0.0)

    def work(self, labour: float) -> float:
        """Net price of labour [currency]."""
        return labour / HOUR * self.terms.hourly_rate

    def least(self, part: Part, *, given: bool) -> float:
        """Net price of a part that no sharing can lower [currency].

        Parameters
        ----------
        part : Part
            The part.
        given : bool
            True if another part may bring it along at no price.

        Returns
        -------
        float
            Price and labour less every hour that another job may save.
        """
        if given:
            return 0.0
        return (part.price or 0.0) + self.work(
            (part.labour or 0.0) - sum(row.duration for row in self.operations(part))
        )

    def shared(self, parts: Sequence[Part]) -> tuple[SharedLabour, ...]:
        """What is saved because jobs share strip-downs.

        Parameters
        ----------
        parts : sequence of Part
            Parts that are fitted together.

        Returns
        -------
        tuple of SharedLabour
            For each operation that saves something; labour [s].
        """
        jobs: dict[str, list[Shared]] = {}
        for part in parts:
            for row in self.operations(part):
                jobs.setdefault(row.operation, []).append(row)
        found = []
        for operation, rows in jobs.items():
            doing = [row.duration for row in rows if row.does]
            if doing and len(rows) > 1:
                saves = sum(row.duration for row in rows) - max(doing)
                if saves > 0.0:
                    found.append(
                        SharedLabour(operation=operation, saves=saves, jobs=tuple(sorted(row.job for row in rows)))
                    )
        return tuple(sorted(found, key=lambda s: s.operation))

    def cost(self, parts: Sequence[Part]) -> Cost:
        """Exact cost of fitting some parts together.

        Parameters
        ----------
        parts : sequence of Part
            Parts to buy and fit; a part that another of them includes costs nothing.

        Returns
        -------
        Cost
            [currency]
        """
        included = members(parts)
        paid = [p for p in parts if p.id not in included]
        labour = sum(p.labour or 0.0 for p in paid) - sum(s.saves for s in self.shared(paid))
        price = float(sum(p.price or 0.0 for p in paid))
        work = self.work(labour)
        return Cost(
            parts=price, labour=labour, work=work, tax=(price + work) * self.terms.tax, currency=self.terms.currency
        )


def members(parts: Iterable[Part]) -> frozenset[str]:
    """Numbers of the parts that some of the parts include."""
    return frozenset(
        number
        for part in parts
        for relation in part.relations
        if relation.kind is RelationKind.MEMBER and relation.part is not None
        for number in alternatives(relation.part)
    )


def alternatives(text: str) -> tuple[str, ...]:
    """The part numbers of ``A | B``."""
    return tuple(option.strip() for option in text.split("|") if option.strip())
