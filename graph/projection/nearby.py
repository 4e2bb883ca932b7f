"""The part of a book that a question about one part touches: a few look-ups instead of the whole book.

What a network of these facts says about the part in question is what the network of the whole book says.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Iterable, Sequence

from graph.errors import UnknownName
from graph.limit import Kind, RatingSpec
from graph.model import Part, Relation, RelationKind
from graph.projection.facts import Facts
from graph.projection.network import reaches, shares_fit
from graph.store import View
from graph.store.likeness import Fitment


def parts_for(
    view: View, kind: Kind, spec: RatingSpec, at_least: float, code: str | None = None, first: int | None = None
) -> tuple[Facts, int]:
    """Parts of one kind that may carry an amount, all of them or enough for the first rows of the answer.

    Parameters
    ----------
    view : View
        Inside a transaction.
    kind : Kind
        What a place takes.
    spec : RatingSpec
        What is compared.
    at_least : float
        What must be carried [SI unit of the rating]; for a lower bound, what it must not exceed.
    code : str or None
        Platform, engine or gearbox code.
    first : int or None
        How many rows are wanted; None for all.

    Returns
    -------
    facts : Facts
        With every platform.
    left : int
        How many more parts carry it than the facts hold.

    Raises
    ------
    UnknownName
        Neither a platform nor a part has the code.
    """
    platforms = view.platforms()
    chosen: list[int] | None = None
    witness: tuple[Part, ...] = ()
    if code is not None:
        codes = {code, *(c for p in platforms if p.id == code for c in p.codes)}
        chosen = [f.id for f in view.fitments(kind.name) if codes & set(f.codes)]
        known = {c for p in platforms for c in (p.id, *p.codes)}
        if code not in known:
            witness = view.one_of([f.id for f in view.fitments() if code in f.codes])
            if not witness:
                raise UnknownName("code", code, sorted(known))
    low, high = (-math.inf, at_least) if spec.lower_bound else (at_least, math.inf)
    begin = None if first is None else max(first, 1)
    count, numbered, curves = view.carrying(
        kind.name, spec.name, low, high, fitments=chosen, first=begin, down=spec.lower_bound
    )
    found = {part.id: part for part in (*numbered, *curves) or witness}
    return Facts(parts=tuple(found[n] for n in sorted(found)), platforms=platforms), count - len(numbered)


def ahead(view: View, number: str, *others: str) -> Facts:
    """A part and all that it may bring along, followed to the end.

    Parameters
    ----------
    view : View
        Inside a transaction.
    number : str
        The part.
    others : str
        Further parts to be there.

    Returns
    -------
    Facts
        Parts only; without the files that they come from, which each part names itself.

    Raises
    ------
    UnknownName
        No such part.
    """
    walk = Walk(view)
    walk.start(number, *others)
    walk.follow(number)
    return walk.facts()


def behind(view: View, number: str) -> Facts:
    """A part, all that may need it, and whatever could stand in for it.

    Parameters
    ----------
    view : View
        Inside a transaction.
    number : str
        The part.

    Returns
    -------
    Facts
        With the platforms that it fits and the cars that have it.

    Raises
    ------
    UnknownName
        No such part.
    """
    walk = Walk(view)
    part = walk.start(number)
    seen = {number}
    queue = deque([number])
    while queue:
        gone = queue.popleft()
        known = walk.parts.get(gone)
        needing = {p.id: p for p in view.parts_that_name((gone,))}
        if known is not None:
            needing |= {p.id: p for p in view.parts_that_require(known)}
        for other in needing.values():
            if not any(_may_lead(other, relation, gone, known) for relation in other.relations):
                continue
            walk.add(other)
            walk.met(other)
            if other.id not in seen:
                seen.add(other.id)
                queue.append(other.id)
    platforms = view.platforms()
    cars = tuple(car for car in view.cars() if any(installed.part == number for installed in car.installed))
    if part is not None:
        platforms = tuple(p for p in platforms if {p.id, *p.codes} & set(part.fits))
        codes = {c for p in platforms for c in (p.id, *p.codes)}
        for fitment in walk.fitments(part.kind):
            if codes & set(fitment.codes):
                walk.add(*(view.one_of([fitment.id], bought=True, but=number) or view.parts_of([fitment.id])))
    return Facts(parts=walk.facts().parts, platforms=platforms, cars=cars)


def _may_lead(part: Part, relation: Relation, number: str, other: Part | None) -> bool:
    """Whether a requirement of a part may bring along the other one."""
    if relation.kind is not RelationKind.REQUIRES:
        return False
    if relation.part:
        return number in relation.numbers
    return other is not None and relation.slot == other.kind and shares_fit(part, other) and reaches(other, relation)


class Walk:
    """Parts that are gathered on the way.

    Parameters
    ----------
    view : View
        Inside a transaction.
    """

    def __init__(self, view: View) -> None:
        self.view = view
        self.parts: dict[str, Part] = {}
        self._asked: set[str] = set()
        self._fitments: dict[str, Sequence[Fitment]] = {}
        self._able: dict[tuple[str, str, float, tuple[str, ...]], tuple[Part, ...]] = {}

    def start(self, *wanted: str) -> Part | None:
        """Look up parts; one that is named somewhere and not in the book is known as such."""
        first: Part | None = None
        for i, number in enumerate(wanted):
            part = self.view.part(number)
            if part is not None:
                self.parts[number] = part
                first = part if i == 0 else first
                continue
            naming = self.view.parts_that_name((number,))
            if not naming:
                raise UnknownName("part", number, list(self.view.part_numbers()))
            self.add(*naming)
        return first

    def add(self, *parts: Part) -> None:
        """Take in parts."""
        for part in parts:
            self.parts.setdefault(part.id, part)

    def follow(self, number: str) -> None:
        """Take in what a part brings along, to the end."""
        seen = {number}
        level = [self.parts[number]] if number in self.parts else []
        while level:
            self.look_up(n for part in level for relation in part.relations for n in relation.numbers)
            found = {other.id: other for part in level for other in self.met(part) if other.id not in seen}
            seen |= found.keys()
            level = list(found.values())

    def look_up(self, numbers: Iterable[str]) -> None:
        """Take in parts by their numbers, each looked up once."""
        missing = set(numbers) - self._asked - self.parts.keys()
        if missing:
            self._asked |= missing
            self.add(*self.view.parts_numbered(missing))

    def met(self, part: Part) -> list[Part]:
        """Parts that could meet what a part requires, taken in."""
        found: list[Part] = []
        for relation in part.relations:
            if relation.kind is not RelationKind.REQUIRES:
                continue
            named = relation.numbers
            self.look_up(named)
            found += [self.parts[number] for number in named if number in self.parts]
            if not named and relation.slot is not None:
                found += self.able(relation, part.fits)
        self.add(*found)
        return found

    def able(self, relation: Relation, codes: tuple[str, ...]) -> tuple[Part, ...]:
        """Parts that reach what is required of a place, and share a code or go anywhere."""
        if relation.slot is None or relation.rating is None or relation.at_least is None:
            return ()
        key = (relation.slot, relation.rating, relation.at_least, codes)
        if key not in self._able:
            among = [
                f.id for f in self.fitments(relation.slot) if not codes or not f.codes or set(codes) & set(f.codes)
            ]
            able = self.view.parts_that_reach(relation.rating, relation.at_least, among)
            self._able[key] = tuple(part for part in able if reaches(part, relation))
        return self._able[key]

    def fitments(self, kind: str) -> Sequence[Fitment]:
        """Fitments of a kind, looked up once."""
        if kind not in self._fitments:
            self._fitments[kind] = self.view.fitments(kind)
        return self._fitments[kind]

    def facts(self) -> Facts:
        """In the order of their numbers, as the store has them."""
        return Facts(parts=tuple(self.parts[number] for number in sorted(self.parts)))
