"""A book as one car has it: every rating weighed against the pulls of this car and of the shop's others.

Nothing of the book is changed: a part comes back as a copy whose rating says what was stated and what pulls showed.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace

import numpy as np

from graph.capacity import Learned, Stated, Trial, learn
from graph.model import Belief, Car, Curve, Evidence, EvidenceKind, Meaning, Part, Platform, Rating

UNSEEN = (Belief.CLAIMED, Belief.UNKNOWN)
#: Spread taken for a part that is only claimed: what sits there may be anything of its kind (assumption) [1].
ANYTHING = 0.20
#: Change of a rating or of its spread from which a pull is said to have taught something [1].
TELLS = 0.002


def scalar(rating: Rating) -> float:
    """A rating as one number: its value, or the mean of its curve [SI]."""
    return float(np.mean(rating.value.y)) if isinstance(rating.value, Curve) else float(rating.value)


def with_hindsight(
    catalogue: Mapping[str, Part], trials: Collection[Trial], car: Car, platform: Platform
) -> dict[str, Part]:
    """Weigh the parts of a book against pulls, as one car has them.

    Parameters
    ----------
    catalogue : mapping of str to Part
        The book by part number.
    trials : collection of Trial
        Of every car of the shop.
    car : Car
        Whose pieces are judged by their own pulls; every other part is a new piece of its number.
    platform : Platform
        For the factory parts.

    Returns
    -------
    dict of str to Part
        The same numbers; a part without trials of its kind is the same object.
    """
    told = {(t.kind, t.rating) for t in trials}
    if not told:
        return dict(catalogue)
    kinds = {kind for kind, _ in told}
    own = {number: place for place, number in _pieces(car, platform).items()}
    claimed = {i.slot for i in car.installed if i.belief in UNSEEN}
    found = {}
    for number, part in catalogue.items():
        found[number] = part
        if part.kind in kinds:
            slot = own.get(number)
            piece = None if slot is None else (car.id, slot)
            of_kind = [t for t in trials if t.kind == part.kind]
            found[number] = _weighed(part, of_kind, catalogue, piece, unseen=slot in claimed)
    return found


def _pieces(car: Car, platform: Platform) -> dict[str, str]:
    """Number of the part that each place of a car is judged by; the factory's where another is only claimed."""
    said = {i.slot: i for i in car.installed}
    pieces: dict[str, str] = {}
    for slot in platform.slots:
        installed = said.get(slot.name)
        number = slot.factory_part
        if installed is not None and installed.belief not in UNSEEN:
            number = installed.part
        if number is not None:
            pieces[slot.name] = number
    return pieces


def _weighed(
    part: Part, trials: Collection[Trial], catalogue: Mapping[str, Part], piece: tuple[str, str] | None, *, unseen: bool
) -> Part:
    ratings = []
    for rating in part.ratings:
        about = [t for t in trials if t.rating == rating.name]
        ratings.append(_rating(rating, part, about, catalogue, piece, unseen=unseen) if about else rating)
    return replace(part, ratings=tuple(ratings))


def _rating(
    rating: Rating,
    part: Part,
    trials: list[Trial],
    catalogue: Mapping[str, Part],
    piece: tuple[str, str] | None,
    *,
    unseen: bool,
) -> Rating:
    """The rating as it stands after the trials, or itself where they say nothing about it.

    What a place carried while its part was only claimed counts until the part is seen: then it may be another one.
    """
    mine = [t for t in trials if (t.car, t.slot) == piece and t.part == (None if unseen else part.id)]
    others = [t for t in trials if (t.car, t.slot) != piece and t.part is not None]
    stated = {
        number: Stated(rated=scalar(r), spread=r.spread, meaning=r.meaning)
        for number, p in catalogue.items()
        if p.kind == part.kind and (r := p.rating(rating.name)) is not None and scalar(r) > 0.0
    }
    used = [*mine, *(t for t in others if t.part in stated)]
    if part.id not in stated or not used:
        return rating
    if unseen and any(t.reached for t in mine):
        stated[part.id] = replace(stated[part.id], spread=max(ANYTHING, rating.spread), meaning=Meaning.NOMINAL)
    learned = learn(used, part.id, piece, stated)
    before = learn([], part.id, None, {part.id: stated[part.id]})
    if abs(learned.median / before.median - 1.0) < TELLS and abs(learned.spread / before.spread - 1.0) < TELLS:
        return rating
    return replace(
        rating,
        value=_scaled(rating.value, learned.median),
        spread=learned.spread,
        meaning=Meaning.NOMINAL,
        evidence=_evidence(rating, used, learned),
    )


def _scaled(value: float | Curve, factor: float) -> float | Curve:
    if isinstance(value, Curve):
        return replace(value, y=tuple(y * factor for y in value.y))
    return value * factor


def _evidence(rating: Rating, used: list[Trial], learned: Learned) -> Evidence:
    said = []
    if learned.own:
        said.append(f"{learned.own} on this car")
    others = learned.reached + learned.carried - learned.own
    if others:
        said.append(f"{others} on others of its kind")
    logs = ", ".join(dict.fromkeys(t.source for t in used if t.source))
    stated = f"{rating.evidence.detail or rating.evidence.kind.value}, ± {rating.spread * 100.0:.3g} %"
    return Evidence(
        kind=EvidenceKind.OWN_LOG if learned.own else rating.evidence.kind,
        source=f"{rating.evidence.source}; logs {logs}",
        detail=(
            f"stated ({stated}), weighed with pulls: {' and '.join(said)}, {learned.reached} at the limit, "
            f"{learned.carried} below it; now × {learned.median:.3f} of the stated figure, "
            f"9 in 10 from {learned.low:.3f} to {learned.high:.3f}"
        ),
        date=max((t.date for t in used if t.date), default=rating.evidence.date),
        by=rating.evidence.by,
    )
