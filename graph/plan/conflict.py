"""Where no plan exists: reasons that exclude each other, none of which can be left out."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from graph.plan.choice import Choices
from graph.plan.labour import Tariff
from graph.plan.outcome import ENGINE, HOLDS, limit_of
from graph.plan.physics import Physics
from graph.plan.record import Because, Reason
from graph.plan.search import Search
from graph.plan.terms import Model

#: Reason that holds the fuel.
FUEL = "fuel"
#: Nodes opened while a conflict is made smaller. A count, not a time: the same conflict is found on a busy machine.
EFFORT = 8000


@dataclass(frozen=True, slots=True, kw_only=True)
class Conflict:
    """Reasons that exclude each other, in words.

    Parameters
    ----------
    reasons : tuple of Reason
        None where the model finds a set that only the full check refused.
    irreducible : bool
        False if the effort ended before it was clear that each of them is needed.
    """

    reasons: tuple[Reason, ...] = ()
    irreducible: bool = True


def irreducible(reasons: Sequence[str], feasible: Callable[[frozenset[str]], bool]) -> tuple[str, ...]:
    """An irreducible set of reasons that cannot hold together.

    Parameters
    ----------
    reasons : sequence of str
        All reasons, those to blame by preference first.
    feasible : callable
        True if some plan satisfies a set of reasons; no superset of an impossible set may be possible.

    Returns
    -------
    tuple of str
        Empty where all of them can hold together; else every reason in it is needed for the conflict.

    References
    ----------
    U. Junker, QuickXplain: preferred explanations and relaxations for over-constrained problems, AAAI 2004.

    Examples
    --------
    >>> irreducible("abcd", lambda held: not {"b", "d"} <= held)
    ('b', 'd')
    """
    if feasible(frozenset(reasons)):
        return ()
    if not feasible(frozenset()):
        return ()
    return tuple(_explain((), (), tuple(reasons), feasible))


def _explain(
    background: tuple[str, ...],
    added: tuple[str, ...],
    reasons: tuple[str, ...],
    feasible: Callable[[frozenset[str]], bool],
) -> tuple[str, ...]:
    if added and not feasible(frozenset(background)):
        return ()
    if len(reasons) == 1:
        return reasons
    half = len(reasons) // 2
    first, second = reasons[:half], reasons[half:]
    right = _explain((*background, *first), first, second, feasible)
    left = _explain((*background, *right), right, first, feasible)
    return (*left, *right)


def conflict(
    choices: Choices,
    physics: Physics,
    tariff: Tariff,
    *,
    refuted: bool = False,
    deadline: float | None = None,
    effort: int = EFFORT,
) -> Conflict:
    """Reasons for which no plan exists.

    Parameters
    ----------
    choices : Choices
        For which there is none.
    physics : Physics
        The model.
    tariff : Tariff
        Prices.
    refuted : bool
        True where a search has already shown that the model finds no set for all reasons together.
    deadline : float or None
        Reading of :func:`time.monotonic` after which nothing more is searched [s].
    effort : int
        Nodes to open after all reasons together are refuted [1].

    Returns
    -------
    Conflict
        In words.
    """
    found, settled = needed(choices, physics, tariff, refuted=refuted, deadline=deadline, effort=effort)
    # What is not in the conflict does not matter to it: a part that only another wish rules out counts as well.
    alone = replace(choices, relaxed=frozenset(_names(choices)) - frozenset(found))
    return Conflict(reasons=tuple(describe(name, alone, physics) for name in found), irreducible=settled)


def _names(choices: Choices) -> tuple[str, ...]:
    """All reasons of a plan; the engine on the fuel asked says more than parts that fall short as well: it is first."""
    asked = choices.reasons()
    limited = [limit_of(name) for name in choices.names]
    return (ENGINE, *(n for n in asked if n == FUEL), *limited, HOLDS, *(n for n in asked if n != FUEL))


def needed(
    choices: Choices,
    model: Model,
    tariff: Tariff,
    *,
    refuted: bool = False,
    deadline: float | None = None,
    effort: int = EFFORT,
) -> tuple[tuple[str, ...], bool]:
    """Names of the reasons of a conflict, and whether it is certain that each of them is needed.

    A set of reasons that is not refuted before the end counts as possible: what is found is then a conflict all the
    same, but perhaps with reasons that it does not need. Parameters as of :func:`conflict`.
    """
    names = _names(choices)
    everything = frozenset(names)
    left, settled = float(effort), True

    def feasible(held: frozenset[str]) -> bool:
        nonlocal left, settled
        if held == everything and refuted:
            return False
        out_of_time = deadline is not None and time.monotonic() > deadline
        if left <= 0 or out_of_time:
            settled = False
            return True
        trial = replace(choices, relaxed=everything - held)
        nodes = math.inf if held == everything else left
        outcome = Search(trial, model, tariff, confirm=False).run(deadline=deadline, nodes=nodes)
        if held != everything:
            left -= outcome.effort["nodes"]
        settled = settled and (outcome.ended or outcome.selection is not None)
        return outcome.selection is not None or not outcome.ended

    return irreducible(names, feasible), settled


def describe(name: str, choices: Choices, physics: Physics) -> Reason:
    """One reason in words."""
    kind, _, what = name.partition(":")
    power = f"{physics.target.power / 1e3:.0f} kW"
    if name == ENGINE:
        best: dict[str, tuple[float, float]] = {}
        for context in physics.engine_contexts():
            found = (physics.engine_short(context), physics.made_alone(context))
            fuel = physics.aimed(context).fuel.name
            best[fuel] = min(best.get(fuel, found), found)
        said = [
            f"{fuel} {made / 1e3:.0f} kW, less than asked with a chance of {short:.0%}"
            for fuel, (short, made) in best.items()
        ]
        text = f"the engine itself, {power} asked, {physics.policy.cost:.0%} allowed: " + "; ".join(said)
        return Reason(because=Because.LIMIT, text=text)
    if name == HOLDS:
        text = f"the finished car must carry {power} with a chance of {physics.policy.holds:.0%} or more"
        return Reason(because=Because.LIMIT, text=text)
    if kind == "limit":
        return Reason(because=Because.LIMIT, text=_limit(what, choices, physics))
    if kind == "keep":
        place = choices.build.place(what)
        number = place.part.id if place is not None and place.part is not None else "nothing"
        return Reason(because=Because.EXCLUDES, text=f"{what}: {number} is to stay")
    if kind == "forbid":
        return Reason(because=Because.EXCLUDES, text=f"{what} must not be fitted")
    if name == "stock":
        return Reason(because=Because.EXCLUDES, text="only what lies on the shelf may be bought")
    if name == "used":
        text = "only new parts are to be fitted, none of the used ones on the shelf"
        return Reason(because=Because.EXCLUDES, text=text)
    if name == "wait":
        text = "every part must be on the shelf or there in the time given"
        return Reason(because=Because.EXCLUDES, text=text)
    if name == "calibration":
        text = "more than the factory's power needs a calibration that is not the factory's"
        return Reason(because=Because.REQUIRES, text=text)
    if name == FUEL:
        return Reason(because=Because.EXCLUDES, text=f"the fuel is to stay {physics.target.fuel.name}")
    bonds = [b for found in choices.needs.values() for b in found if b.name == name]
    if bonds:
        return Reason(
            because=Because.REQUIRES, text=f"{what} requires " + "; ".join(dict.fromkeys(b.text for b in bonds))
        )
    clashes = [c.reason for found in choices.clashes.values() for c in found if c.name == name]
    because = Because.INTERFACE if kind == "interface" else Because.EXCLUDES
    return Reason(because=because, text="; ".join(dict.fromkeys(c.text for c in clashes)))


def _limit(slot: str, choices: Choices, physics: Physics) -> str:
    """What stands against every option of a slot."""
    s = choices.names.index(slot)
    said, clear, carried, all_short = list[str](), list[str](), 0.0, True
    for i, option in enumerate(choices.options[s]):
        if option.part is None:
            continue
        if option.barred - choices.relaxed:
            all_short = False  # of what is barred nothing is known: then nothing is said of all that fit
            continue
        short = physics.shortfall((s, i))
        all_short = all_short and short is not None
        carried = max(carried, physics.carries_alone((s, i)))
        (said if short else clear).append(short or option.part.id)
    if clear:
        word = "is" if len(clear) == 1 else "are"
        said.append(f"{', '.join(clear)} {word} clear alone, but not together with the rest")
    if not said:
        barred = ", ".join(o.part.id for o in choices.options[s] if o.part is not None)
        return f"{slot}: your side conditions rule out all that fits: {barred}" if barred else f"{slot}: nothing fits"
    if all_short and 0.0 < carried < float("inf"):
        plural = slot.endswith("s")
        if carried < physics.target.power:
            what = f"that {'fit carry' if plural else 'fits carries'} more than {carried / 1e3:.0f} kW"
        else:
            asked, most = (f"{power / 1e3:.0f} kW" for power in (physics.target.power, carried))
            what = f"that {'fit carry' if plural else 'fits carries'} {asked} as surely as is asked, {most} at most"
        said.insert(0, f"no {slot} {what}{_asked(physics)}")
        return f"{slot}: " + "; ".join(said)
    return f"{slot}, judged on {physics.aimed(physics.judged_on()).fuel.name}: " + "; ".join(said)


def _asked(physics: Physics) -> str:
    """Fuel and boost that a ceiling stands for."""
    fuel = physics.aimed(physics.judged_on()).fuel.name
    cap = physics.target.boost_cap
    return f" on {fuel}" + ("" if cap is None else f" at {cap / 1e5:.1f} bar boost") + ", every spread left out"
