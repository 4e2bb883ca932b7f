"""What can be had: on the shelf, in time, or replaced by a newer part."""

from __future__ import annotations

from collections.abc import Iterable

from graph.model import Part, RelationKind
from graph.plan.labour import alternatives


def on_shelf(part: Part | None) -> bool:
    """True if a part lies on the shelf; one that comes with another is there when the other is."""
    if part is None:
        return True
    comes_along = not part.price and not part.labour and any(r.kind is RelationKind.REQUIRES for r in part.relations)
    return comes_along or (part.stock or 0) >= 1


def there_within(part: Part | None, wait: float) -> bool:
    """True if a part is on the shelf or there in time; one of unknown wait is not."""
    return on_shelf(part) or (part is not None and part.lead_time is not None and part.lead_time <= wait)


def current(book: list[Part]) -> list[Part]:
    """The book without parts that another one replaces, except where one of the old lies on the shelf."""
    replaced = {
        number
        for part in book
        for relation in part.relations
        if relation.kind is RelationKind.SUPERSEDES and relation.part is not None
        for number in alternatives(relation.part)
        if number != part.id
    }
    return [p for p in book if p.id not in replaced or (p.stock or 0) >= 1]


class Stock:
    """A book by what its parts fit and what they are, built once for many cars.

    Parameters
    ----------
    book : iterable of Part
        What can be had.
    """

    def __init__(self, book: Iterable[Part]) -> None:
        self._found: dict[tuple[str, str], list[Part]] = {}
        for part in sorted(book, key=lambda p: p.id):
            for code in dict.fromkeys(part.fits):
                self._found.setdefault((code, part.kind), []).append(part)

    def fitting(self, codes: Iterable[str], kind: str) -> tuple[Part, ...]:
        """Parts of a kind that fit any of some codes, in the order of their numbers.

        Parameters
        ----------
        codes : iterable of str
            Of a car.
        kind : str
            Kind of the slot.

        Returns
        -------
        tuple of Part
            Each once.
        """
        lists = [found for code in dict.fromkeys(codes) if (found := self._found.get((code, kind)))]
        if len(lists) < 2:
            return tuple(lists[0]) if lists else ()
        return tuple(sorted({p.id: p for found in lists for p in found}.values(), key=lambda p: p.id))
