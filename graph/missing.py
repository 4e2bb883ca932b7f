"""Which number that is missing matters most to a plan: what the plan costs if it turns out good, and if bad."""

from __future__ import annotations

import math
import time
from collections.abc import Iterable, Iterator
from dataclasses import replace

from graph.limit import Kind, RatingSpec
from graph.model import Belief, Build, Curve, Part, Place, Rating
from graph.plan.path import Missing
from graph.plan.record import Plan
from graph.proposal import Bureau, Start

#: Slot of the row that takes everything unknown on the car together.
EVERYTHING = "everything unknown"


def missing(bureau: Bureau, plan: Plan) -> tuple[Missing, ...]:
    """What is not known about a car and about the parts on offer, with what it is worth to a plan to know it.

    A place of the car that is not known is planned for twice: with the part in it that the plan would fit there, and
    with the part that it is judged as. A part on offer that lacks one rating is planned for with the rating of the best
    of its kind in the book; if it is bad nobody fits it and the plan stays.

    Parameters
    ----------
    bureau : Bureau
        The car and the book.
    plan : Plan
        For a power.

    Returns
    -------
    tuple of Missing
        What saves most first; what the time did not suffice for has no totals.
    """
    until = time.monotonic() + 0.5 * bureau.terms.patience
    power, total = plan.target.power, _total(plan)
    found: list[Missing] = []

    def least(start: Start) -> float:
        return _total(bureau.plan(power, start, explain=False, policy=plan.policy).plan)

    unknown = [p for p in bureau.build.places if p.unknown is not None]
    fitted = {step.slot: bureau.catalogue[step.install] for step in plan.steps if step.install in bureau.catalogue}
    asked: list[tuple[tuple[Place, ...], str, str]] = [
        ((p,), p.slot.name, p.unknown or "") for p in unknown if p.slot.name in fitted
    ]
    if len(asked) > 1:
        places = tuple(p for found_places, _, _ in asked for p in found_places)
        asked.append((places, EVERYTHING, ", ".join(p.slot.name for p in places)))
    for places, slot, what in asked:
        late = time.monotonic() > until
        good = {p.slot.name: _seen(p, fitted[p.slot.name]) for p in places}
        bad = {p.slot.name: _seen(p, p.part) for p in places if p.part is not None}
        found.append(
            Missing(
                slot=slot,
                part=None,
                what=what,
                meant=f"as good as {', '.join(fitted[p.slot.name].id for p in places)}",
                total=total,
                good=None if late else least(Start(build=_with(bureau.build, good))),
                bad=None
                if late
                else least(Start(build=_with(bureau.build, bad)))
                if len(bad) == len(places)
                else total,
            )
        )
    for part, slot, spec in _unrated(bureau, plan):
        late = time.monotonic() > until
        filled = _filled(part, spec, bureau.parts)
        if filled is None:
            continue
        others = tuple(filled[0] if p.id == part.id else p for p in bureau.parts)
        found.append(
            Missing(
                slot=slot,
                part=part.id,
                what=f"{part.id} states no {spec.name}",
                meant=f"as good as {filled[1]}",
                total=total,
                good=None if late else least(Start(build=bureau.build, parts=others)),
                bad=total,
            )
        )
    return tuple(sorted(found, key=lambda m: (m.slot == EVERYTHING, -m.worth, m.slot)))


def _total(plan: Plan) -> float:
    return plan.cost.total if plan.reachable and plan.cost is not None else math.inf


def _seen(place: Place, part: Part | None) -> Place:
    """A place with a part that was seen in it."""
    return replace(place, part=part, unknown=None, belief=Belief.SEEN)


def _with(build: Build, places: dict[str, Place]) -> Build:
    return replace(build, places=tuple(places.get(p.slot.name, p) for p in build.places))


def _unrated(bureau: Bureau, plan: Plan) -> Iterator[tuple[Part, str, RatingSpec]]:
    """Parts on offer that lack one rating, for places in which the plan fits something, or any where there is none."""
    choices, physics = bureau.open(plan.target.power, policy=plan.policy)
    context = physics.judged_on()
    unjudged = {
        option.part.id
        for s, options in enumerate(choices.options)
        for i, option in enumerate(options)
        if option.part is not None and option.place.unknown is None and physics.found_alone(context, (s, i)).unknown
    }
    touched = {step.slot for step in plan.steps}
    slots = {p.slot.kind: p.slot.name for p in bureau.build.places if p.slot.name in touched or not plan.reachable}
    for part in bureau.parts:
        fits = set(part.fits) & set(bureau.build.codes)
        if part.factory or part.price is None or part.kind not in slots or not fits:
            continue
        lacking = _lacking(part, bureau.kinds[part.kind])
        if len(lacking) == 1 and part.id in unjudged:
            yield part, slots[part.kind], lacking[0]


def _lacking(part: Part, kind: Kind) -> list[RatingSpec]:
    """Ratings that a limit of a part compares with and that the part does not state."""
    used = {rule.rating for rule in kind.limits}
    return [s for s in kind.ratings if s.name in used and s.default is None and part.rating(s.name) is None]


def _filled(part: Part, spec: RatingSpec, book: Iterable[Part]) -> tuple[Part, str] | None:
    """A part, under a number of its own, with a rating of the best of its kind; with that one's number."""
    stated = [(_size(r), p.id, r) for p in book if p.kind == part.kind and (r := p.rating(spec.name)) is not None]
    if not stated:
        return None
    _, number, rating = min(stated, key=lambda t: t[:2]) if spec.lower_bound else max(stated, key=lambda t: t[:2])
    return replace(part, id=f"{part.id} rated", ratings=(*part.ratings, replace(rating, spread=0.0))), number


def _size(rating: Rating) -> float:
    return max(rating.value.y) if isinstance(rating.value, Curve) else float(rating.value)
