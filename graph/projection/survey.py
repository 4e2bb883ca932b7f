"""Questions about the whole book without reading it: through what parts have in common, and through the few in doubt.

Each answer is what :mod:`graph.projection.question` says of the whole book, with its number of rows and the first of them.
"""

from __future__ import annotations

import heapq
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence

from graph.model import Car, Condition, Evidence, EvidenceKind, Part, Platform, Rating, Relation, RelationKind
from graph.projection.answer import Answer
from graph.projection.facts import Facts, held_row
from graph.projection.nearby import Walk
from graph.projection.question import goes_in_circles, hangs_in_the_air, no_usable_rating, unusable
from graph.store import View
from graph.store.doubt import CIRCLE, UNKNOWN, VAGUE
from graph.store.likeness import Outline
from graph.store.survey import Demand

_NOWHERE = Evidence(kind=EvidenceKind.ESTIMATE, source="")


def survey_usable(view: View, first: int | None = None) -> Answer:
    """Parts that cannot be judged and rows that were held back.

    Parameters
    ----------
    view : View
        Inside a transaction.
    first : int or None
        How many rows are wanted; None for all.

    Returns
    -------
    Answer
        As :func:`graph.projection.question.no_usable_rating` gives it.
    """
    reasons = {outline.id: len(_reasons(outline)) for outline in view.outlines()}
    poor = [number for number, count in reasons.items() if count]
    total = sum(reasons[number] * count for number, count in view.count_by_outline(poor).items())
    parts = view.first_by_outline(poor, first)
    held, rows = view.held_now(None if first is None else max(0, first - total))
    answer = no_usable_rating(Facts(parts=parts, held=tuple(held_row(row) for row in rows)))
    begun = answer.begun(first)
    return begun.begun(None, left=total + held - len(begun.rows))


def _reasons(outline: Outline) -> list[str]:
    """Why parts of an outline cannot be judged, told by a part that states the same."""
    ratings = tuple(
        Rating(
            name=stated.name,
            value=0.0,
            meaning=stated.meaning,
            conditions=tuple(Condition(name=name, value=0.0) for name in stated.conditions),
            evidence=_NOWHERE,
        )
        for stated in outline.stated
    )
    return unusable(Part(id="", kind=outline.kind, name="", fits=("any",) * outline.fits, ratings=ratings))


def survey_circles(view: View, first: int | None = None) -> Answer:
    """Statements that lead back to where they began.

    Parameters
    ----------
    view : View
        Inside a transaction.
    first : int or None
        How many rows are wanted; None for all.

    Returns
    -------
    Answer
        As :func:`graph.projection.question.goes_in_circles` gives it.
    """
    walk = Walk(view)
    doubted = view.parts_numbered(view.doubts(CIRCLE))
    _take_in(walk, doubted)
    return goes_in_circles(walk.facts()).begun(first)


def survey_hanging(view: View, first: int | None = None) -> Answer:
    """Parts that fit nothing, parts that are named and not in the book, requirements that nothing meets.

    Parameters
    ----------
    view : View
        Inside a transaction.
    first : int or None
        How many rows are wanted; None for all.

    Returns
    -------
    Answer
        As :func:`graph.projection.question.hangs_in_the_air` gives it.
    """
    platforms, cars = view.platforms(), view.cars()
    walk = Walk(view)
    taking: dict[str, set[str]] = defaultdict(set)
    for platform in platforms:
        for kind in {slot.kind for slot in platform.slots}:
            taking[kind].update((platform.id, *platform.codes))
    fitments = view.fitments()
    loose = [f.id for f in fitments if taking[f.kind].isdisjoint(f.codes)]
    fitting = sum(view.count_by_fitment(loose).values())
    unknown = _unknown(view, platforms, cars)
    unmet: dict[str, list[str]] = defaultdict(list)
    for number, _, text in view.demanding(_unmet(view, walk, {f.id: f.codes for f in fitments})):
        unmet[number].append(text)
    for part in view.parts_numbered(view.doubts(VAGUE)):
        if vague := [relation.text for relation in part.relations if relation.vague]:
            unmet[part.id] += vague
    # each of these names has a row of its own, so the first names hold the first rows
    shown = set(_first({*view.first_numbers(loose, first), *unmet, *unknown}, first))
    _take_in(walk, (*view.parts_numbered(shown - unknown), *view.parts_that_name(shown & unknown)))
    codes = {code for part in walk.parts.values() if part.id in shown for code in part.fits}
    near = [p for p in platforms if codes & {p.id, *p.codes} or shown & {slot.factory_part for slot in p.slots}]
    answer = hangs_in_the_air(Facts(parts=walk.facts().parts, platforms=tuple(near), cars=cars))
    rows = []
    for what, name, why, source in answer.rows:
        told = name in unknown if what == "not in the book" else what != "unmet requirement" or str(name) in unmet
        if name in shown and told:
            rows.append((what, name, why, source))
    total = fitting + len(unknown) + sum(len(texts) for texts in unmet.values())
    kept = tuple(rows if first is None else rows[:first])
    return Answer(question=answer.question, columns=answer.columns, rows=kept, left=total - len(kept))


def _unknown(view: View, platforms: Iterable[Platform], cars: Iterable[Car]) -> set[str]:
    """Numbers that something leads to and that the book does not hold; a choice leads to those that it holds."""
    found = {slot.factory_part for platform in platforms for slot in platform.slots if slot.factory_part is not None}
    found |= {installed.part for car in cars for installed in car.installed if installed.part is not None}
    stated = view.statements_naming(view.doubts(UNKNOWN))
    known = view.known_numbers(found.union(*(relation.numbers for relation in stated)))
    for relation in stated:
        if relation.kind is not RelationKind.REQUIRES or not known.intersection(relation.numbers):
            found.update(relation.numbers)
    return found - known


def _take_in(walk: Walk, parts: Sequence[Part]) -> None:
    """Take in parts and whatever could meet what they require."""
    walk.add(*parts)
    walk.look_up(number for part in parts for relation in part.relations for number in relation.numbers)
    for part in parts:
        walk.met(part)


def _first(names: Iterable[str], first: int | None) -> list[str]:
    return sorted(names) if first is None else heapq.nsmallest(first, names)


def _unmet(view: View, walk: Walk, codes: Mapping[int, tuple[str, ...]]) -> list[Demand]:
    """Requirements that nothing reaches: no single number, no curve, no part that goes anywhere."""
    found = []
    for asked in view.unmet_by_number():
        relation = Relation(
            kind=RelationKind.REQUIRES, slot=asked.slot, rating=asked.rating, at_least=asked.at_least, text=""
        )
        if not walk.able(relation, codes.get(asked.fitment, ())):
            found.append(asked)
    return found
