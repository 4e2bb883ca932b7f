"""The part of a book that a question about one part touches: a few look-ups instead of the whole book.

What a network of these facts says about the part in question is what the network of the whole book says.
"""

from __future__ import annotations

import math
from collections import deque
from typing import Protocol

from graph.errors import UnknownName
from graph.limit import Kind, RatingSpec
from graph.model import Car, Part, Platform, Relation, RelationKind
from graph.projection.facts import Facts
from graph.projection.network import reaches, shares_fit


class Looking(Protocol):
    """What is looked up in a store."""

    def part(self, number: str) -> Part | None:
        """The current part with this number."""

    def parts(self, kind: str | None = None, fits: str | None = None) -> tuple[Part, ...]:
        """Current parts, of one kind and one code."""

    def parts_that_fit_nothing(self, kind: str) -> tuple[Part, ...]:
        """Current parts of a kind without a code."""

    def parts_that_name(self, number: str, kind: str | None = None) -> tuple[Part, ...]:
        """Current parts whose statements lead to a part."""

    def parts_that_carry(self, kind: str, rating: str, low: float, high: float) -> tuple[Part, ...]:
        """Current parts of a kind with a rating in a range [SI], or one that is a curve."""

    def part_numbers(self) -> tuple[str, ...]:
        """Numbers of all current parts."""

    def platforms(self) -> tuple[Platform, ...]:
        """Current platforms."""

    def cars(self) -> tuple[Car, ...]:
        """Current cars."""


def parts_for(view: Looking, kind: Kind, spec: RatingSpec, at_least: float, code: str | None = None) -> Facts:
    """Parts of one kind that may carry an amount, or all of them with one code.

    Parameters
    ----------
    view : Looking
        Inside a transaction.
    kind : Kind
        What a place takes.
    spec : RatingSpec
        What is compared.
    at_least : float
        What must be carried [SI unit of the rating]; for a lower bound, what it must not exceed.
    code : str or None
        Platform, engine or gearbox code.

    Returns
    -------
    Facts
        With every platform.

    Raises
    ------
    UnknownName
        Neither a platform nor a part has the code.
    """
    platforms = view.platforms()
    if code is None:
        low, high = (-math.inf, at_least) if spec.lower_bound else (at_least, math.inf)
        return Facts(parts=view.parts_that_carry(kind.name, spec.name, low, high), platforms=platforms)
    codes = [code, *(c for p in platforms if p.id == code for c in p.codes)]
    found = {p.id: p for c in dict.fromkeys(codes) for p in view.parts(kind=kind.name, fits=c)}
    known = {c for p in platforms for c in (p.id, *p.codes)}
    if not found and code not in known:
        found = {p.id: p for p in view.parts(fits=code)}
        if not found:
            raise UnknownName("code", code, sorted(known))
    return Facts(parts=tuple(found[number] for number in sorted(found)), platforms=platforms)


def ahead(view: Looking, number: str, *others: str) -> Facts:
    """A part and all that it may bring along, followed to the end.

    Parameters
    ----------
    view : Looking
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
    walk = _Walk(view)
    walk.start(number, *others)
    walk.follow(deque([number]))
    return walk.facts()


def behind(view: Looking, number: str) -> Facts:
    """A part, all that may need it, and whatever could stand in for it.

    Parameters
    ----------
    view : Looking
        Inside a transaction.
    number : str
        The part.

    Returns
    -------
    Facts
        With every platform and car.

    Raises
    ------
    UnknownName
        No such part.
    """
    walk = _Walk(view)
    part = walk.start(number)
    seen = {number}
    queue = deque([number])
    while queue:
        gone = queue.popleft()
        known = walk.parts.get(gone)
        for needing in view.parts_that_name(gone, None if known is None else known.kind):
            if not any(_may_lead(needing, relation, gone, known) for relation in needing.relations):
                continue
            walk.parts.setdefault(needing.id, needing)
            walk.met(needing)
            if needing.id not in seen:
                seen.add(needing.id)
                queue.append(needing.id)
    platforms, cars = view.platforms(), view.cars()
    if part is not None:
        codes = {c for p in platforms if {p.id, *p.codes} & set(part.fits) for c in (p.id, *p.codes)}
        walk.add(*(p for code in sorted(codes) for p in view.parts(kind=part.kind, fits=code)))
    return Facts(parts=walk.facts().parts, platforms=platforms, cars=cars)


def _may_lead(part: Part, relation: Relation, number: str, other: Part | None) -> bool:
    """Whether a requirement of a part may bring along the other one."""
    if relation.kind is not RelationKind.REQUIRES:
        return False
    if relation.part:
        return number in _numbers(relation.part)
    return other is not None and relation.slot == other.kind and shares_fit(part, other) and reaches(other, relation)


class _Walk:
    def __init__(self, view: Looking) -> None:
        self.view = view
        self.parts: dict[str, Part] = {}
        self.groups: dict[tuple[str, str | None], tuple[Part, ...]] = {}
        self.loose: dict[str, tuple[Part, ...]] = {}

    def start(self, *numbers: str) -> Part | None:
        """Look up parts; one that is named somewhere and not in the book is known as such."""
        first: Part | None = None
        for i, number in enumerate(numbers):
            part = self.view.part(number)
            if part is not None:
                self.parts[number] = part
                first = part if i == 0 else first
                continue
            naming = self.view.parts_that_name(number)
            if not any(number in _numbers(r.part) for p in naming for r in p.relations):
                raise UnknownName("part", number, list(self.view.part_numbers()))
            self.add(*naming)
        return first

    def add(self, *parts: Part) -> None:
        for part in parts:
            self.parts.setdefault(part.id, part)

    def follow(self, queue: deque[str]) -> None:
        """Take in what parts bring along."""
        seen = set(queue)
        while queue:
            part = self.parts.get(queue.popleft())
            for other in () if part is None else self.met(part):
                if other.id not in seen:
                    seen.add(other.id)
                    queue.append(other.id)

    def met(self, part: Part) -> list[Part]:
        """Parts that could meet what a part requires."""
        found: list[Part] = []
        for relation in part.relations:
            if relation.kind is not RelationKind.REQUIRES:
                continue
            for number in _numbers(relation.part):
                other = self.parts.get(number) or self.view.part(number)
                found += [other] if other is not None else []
            if not relation.part and relation.slot is not None:
                for code in part.fits or (None,):
                    found += self._group(relation.slot, code)
        self.add(*found)
        return found

    def _group(self, kind: str, code: str | None) -> tuple[Part, ...]:
        """Parts of a kind that share a code, and those that state none."""
        key = (kind, code)
        if key not in self.groups:
            if kind not in self.loose:
                self.loose[kind] = self.view.parts_that_fit_nothing(kind)
            self.groups[key] = (*self.view.parts(kind=kind, fits=code), *(self.loose[kind] if code is not None else ()))
        return self.groups[key]

    def facts(self) -> Facts:
        """In the order of their numbers, as the store has them."""
        return Facts(parts=tuple(self.parts[number] for number in sorted(self.parts)))


def _numbers(text: str | None) -> list[str]:
    return [number.strip() for number in (text or "").split("|") if number.strip()]
