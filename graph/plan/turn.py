"""How much more a part on the car would have to stand for the plan to leave it there."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from graph.limit import Kind
from graph.model import Build, Curve, Part, Rating
from graph.plan.choice import Choices
from graph.plan.physics import Physics
from graph.plan.record import Because, Step

#: Factors on a rating that are tried, rising [1].
FACTORS = (1.03, 1.06, 1.1, 1.15, 1.2, 1.3, 1.5)


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """A rating that would change the plan if it were better than stated.

    Parameters
    ----------
    slot, part, rating : str
        Which.
    enough : float
        Factor on it at which the part is clear alone and may stay [1].
    short : float
        The largest factor tried at which it is not [1].
    saves : float
        Net price and labour of the step that would fall away, nothing shared [currency].
    """

    slot: str
    part: str
    rating: str
    enough: float
    short: float
    saves: float


def scaled(part: Part, name: str, factor: float) -> Part:
    """A part with one rating multiplied, under a number of its own."""
    ratings = tuple(_times(r, factor) if r.name == name else r for r in part.ratings)
    return replace(part, id=f"{part.id} × {factor:g}", ratings=ratings, factory=False, price=0.0, relations=())


def _times(rating: Rating, factor: float) -> Rating:
    value = rating.value
    if isinstance(value, Curve):
        return replace(rating, value=Curve(x=value.x, y=tuple(factor * y for y in value.y)))
    return replace(rating, value=value * factor)


def turns(
    build: Build,
    steps: Sequence[Step],
    kinds: Mapping[str, Kind],
    opened: Callable[[Sequence[Part]], tuple[Choices, Physics]],
    price: Callable[[Part], float],
    fuel: str,
) -> tuple[Turn, ...]:
    """The ratings that turn a plan, those that need the smallest change first.

    Parameters
    ----------
    build : Build
        The car as it is.
    steps : sequence of Step
        Of the plan.
    kinds : mapping of str to Kind
        Part kinds by name.
    opened : callable
        Choices and model with some more parts on offer.
    price : callable
        Net price of fitting a part alone [currency].
    fuel : str
        Burned by the finished car.

    Returns
    -------
    tuple of Turn
        For parts that feed nothing into the engine's state and are changed for one rating alone.
    """
    choices, physics = opened(())
    context = next((c for c in physics.fuels() if physics.aimed(c).fuel.name == fuel), physics.fuels()[0])
    wanted: dict[str, tuple[Part, str]] = {}
    for step in steps:
        place = build.place(step.slot)
        if place is None or place.part is None or place.unknown is not None:
            continue
        kind = kinds[place.slot.kind]
        if {r.because for r in step.why} != {Because.LIMIT} or kind.feeds or kind.offers:
            continue
        rows = physics.found_alone(context, (choices.names.index(step.slot), 0)).rows
        passed = [(r, r.exceeded(physics.target.power, physics.draws)) for r in rows]
        over = {r.subject.rule.rating for r, p in passed if p is None or p > physics.allowed_share(r.subject)}
        if len(over) == 1 and place.part.rating(name := over.pop()) is not None:
            wanted[step.slot] = place.part, name
    choices, physics = opened([scaled(part, name, f) for part, name in wanted.values() for f in FACTORS])
    context = next((c for c in physics.fuels() if physics.aimed(c).fuel.name == fuel), physics.fuels()[0])
    found = []
    for step in steps:
        if step.slot not in wanted:
            continue
        part, name = wanted[step.slot]
        s = choices.names.index(step.slot)
        at = {o.part.id: i for i, o in enumerate(choices.options[s]) if o.part is not None}
        short = 1.0
        for factor in FACTORS:
            key = (s, at.get(scaled(part, name, factor).id, 0))
            if key[1] and physics.alone(context, key) is True:
                bought = choices.options[s][at[step.install]].part
                saves = price(bought) if bought is not None else 0.0
                found.append(Turn(slot=step.slot, part=part.id, rating=name, enough=factor, short=short, saves=saves))
                break
            short = factor
    return tuple(sorted(found, key=lambda t: (t.enough, -t.saves)))
