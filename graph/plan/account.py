"""A found choice as a plan: what each part is needed for, what is left without it, what the labour shares."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np

from graph.check import ENGINE
from graph.limit import Kind
from graph.plan.choice import CALIBRATION_KIND, Choices
from graph.plan.labour import members
from graph.plan.physics import Physics
from graph.plan.record import Because, Miss, Reason, Step
from graph.plan.wish import MarginPolicy
from graph.report import Report

PROOF = (
    "No set of parts of this book that meets the policy costs less. Every choice of fuel and of the parts that decide "
    "the engine's state was taken in the order of the least it can cost; its state was solved and every limit compared "
    "in {samples} joint samples; nothing was taken to rise or fall with anything. A part that costs more and is better "
    "in no sample was not tried in place of a cheaper one. The set found passed the full check, which draws samples of "
    "its own: a set within about {error:.1%} of a threshold of the policy may be judged either way."
)


def steps(selection: Sequence[int], choices: Choices, physics: Physics, *, explain: bool = True) -> tuple[Step, ...]:
    """The parts to fit, each with its reasons and its skip ceiling.

    Parameters
    ----------
    selection : sequence of int
        Option of each slot.
    choices : Choices
        The options.
    physics : Physics
        The model.
    explain : bool
        False to leave out reasons and skip ceilings.

    Returns
    -------
    tuple of Step
        In the order of the places.
    """
    found = []
    included = members(choices.bought(selection))
    for s, i in enumerate(selection):
        option = choices.options[s][i]
        part = option.bought
        if part is None:
            continue
        before = choices.build.places[s].part
        without = tuple(0 if t == s else j for t, j in enumerate(selection))
        found.append(
            Step(
                slot=choices.names[s],
                install=part.id,
                name=part.name if part.used is None else f"{part.name} ({part.used})",
                remove=before.id if before is not None else None,
                price=0.0 if part.id in included else part.price or 0.0,
                labour=0.0 if part.id in included else part.labour or 0.0,
                why=_why(s, selection, without, choices, physics) if explain else (),
                skip_ceiling=carries(without, physics) if explain else None,
                tasks=part.tasks,
                stock=part.stock,
                lead_time=part.lead_time,
                used=part.used,
            )
        )
    return tuple(found)


def carries(selection: Sequence[int], physics: Physics) -> float | None:
    """What a complete choice carries, without spreads [W]; the same number as a full check gives."""
    core = {s: selection[s] for s in (*physics.core, *physics.linking)}
    car = physics.settle([core])[0]
    lowest = min([car.power, *(car.ceiling(s, i) for s, i in enumerate(selection))])
    return float(lowest) if np.isfinite(lowest) and lowest > 0.0 else None


def _why(
    s: int, selection: Sequence[int], without: Sequence[int], choices: Choices, physics: Physics
) -> tuple[Reason, ...]:
    """Everything that fails when one part is left out of the finished plan."""
    found = [*_limits(s, selection, without, choices, physics), *_bonds(s, selection, without, choices)]
    if choices.build.places[s].slot.kind == CALIBRATION_KIND and "calibration" in choices.options[s][0].barred:
        factory = choices.build.platform.constants["factory power"]
        text = f"more than the factory's {factory / 1e3:.0f} kW needs a calibration"
        found.append(Reason(because=Because.REQUIRES, text=text))
    found.extend(
        Reason(because=Because.EXCLUDES, text=f"{name[7:]} must not be on the finished car")
        for name in sorted(choices.options[s][0].barred)
        if name.startswith("forbid:")
    )
    if not found:
        text = "the set without it costs as much or more, because its job opens the way for others"
        found.append(Reason(because=Because.LIMIT, text=text))
    return tuple(dict.fromkeys(found))


def _limits(
    s: int, selection: Sequence[int], without: Sequence[int], choices: Choices, physics: Physics
) -> list[Reason]:
    power = physics.target.power
    core: Mapping[int, int] = {t: without[t] for t in (*physics.core, *physics.linking)}
    found = []
    place = choices.build.places[s]
    if place.unknown is not None:
        found.append(f"{place.slot.name}: not known ({place.unknown})")
    short = physics.shortfall((s, 0), core) if place.part is not None and place.unknown is None else None
    if short:
        found.append(short)
    if s in physics.core or s in physics.linking:
        car = physics.settle([core])[0]
        if not car.engine:
            found.append(f"without it the engine makes only {car.power / 1e3:.0f} kW")
        else:
            found.extend(
                text
                for t, j in enumerate(without)
                if not car.allowed(t, j) and not (t == s and (place.unknown is not None or short is not None))
                if (text := _pressed(t, j, car.ceiling(t, j), choices, physics, core)) is not None
            )
    if not found:
        had, left = chance(selection, physics), chance(without, physics)
        if left < physics.policy.holds <= had + 1e-12:
            found.append(f"without it the chance to carry {power / 1e3:.0f} kW falls from {had:.0%} to {left:.0%}")
    return [Reason(because=Because.LIMIT, text=text) for text in found]


def _pressed(
    slot: int, option: int, ceiling: float, choices: Choices, physics: Physics, core: Mapping[int, int]
) -> str | None:
    part = choices.options[slot][option].part
    if part is None:
        return None
    if ceiling < physics.target.power:
        return f"without it {choices.names[slot]} {part.id} stops the car at {ceiling / 1e3:.0f} kW"
    said = physics.shortfall((slot, option), core)
    return f"without it {said}" if said else None


def chance(selection: Sequence[int], physics: Physics) -> float:
    """Share of the joint samples in which a complete choice carries the target [1]."""
    car = physics.settle([{s: selection[s] for s in (*physics.core, *physics.linking)}])[0]
    alive = car.engine_survival
    for s, i in enumerate(selection):
        alive &= car.survival(s, i)
    return alive.bit_count() / physics.samples


def _bonds(s: int, selection: Sequence[int], without: Sequence[int], choices: Choices) -> list[Reason]:
    found: list[Reason] = []
    chosen, left = set(enumerate(selection)), set(enumerate(without))
    for key in sorted(chosen - {(s, selection[s])}):
        part = choices.options[key[0]][key[1]].part
        found.extend(
            Reason(because=Because.REQUIRES, text=f"{part.id} requires {need.text}")
            for need in choices.needs_of(key)
            if need.by & chosen and not need.by & left and part is not None
        )
    found.extend(
        clash.reason for clash in choices.clashes_of((s, 0)) if set(clash.pair) <= left and not clash.bridges & left
    )
    found.extend(
        clash.reason
        for key in sorted(left - {(s, 0)})
        for clash in choices.clashes_of(key)
        if (s, selection[s]) in clash.bridges and set(clash.pair) <= left and not clash.bridges & left
    )
    for need in choices.needs_of((s, 0)):
        if not need.by & left:
            part = choices.options[s][0].part
            if part is not None:
                text = f"{part.id} would require {need.text}"
                found.append(Reason(because=Because.REQUIRES, text=text))
    return found


def misses(report: Report, choices: Choices, kinds: Mapping[str, Kind], policy: MarginPolicy) -> tuple[Miss, ...]:
    """What a checked car does not keep of a policy, the worst first.

    Parameters
    ----------
    report : Report
        Of the car as it would be.
    choices : Choices
        For its slots.
    kinds : mapping of str to Kind
        Part kinds by name.
    policy : MarginPolicy
        What is asked.

    Returns
    -------
    tuple of Miss
        Limits that are passed too often, then the chance of the whole car where it is too small.
    """
    kind_of = {place.slot.name: kinds[place.slot.kind] for place in choices.build.places}
    found = []
    for row in report.findings:
        rule = next((r for r in kind_of[row.slot].limits if r.name == row.rule), None) if row.slot in kind_of else None
        costs = row.slot == ENGINE or (rule is not None and rule.costs_power_only)
        allowed = policy.cost if costs else policy.harm
        if row.exceed_probability is not None and row.exceed_probability > allowed:
            found.append(
                Miss(slot=row.slot, part=row.part, rule=row.rule, chance=row.exceed_probability, allowed=allowed)
            )
    found.sort(key=lambda m: m.allowed - m.chance)
    if report.holds_probability < policy.holds - 1e-12:
        text = "chance to carry the target"
        found.append(Miss(slot="car", part=None, rule=text, chance=report.holds_probability, allowed=policy.holds))
    return tuple(found)


def proof(physics: Physics, asked: MarginPolicy) -> str:
    """What exactly is proven by a search that came to its end with a set.

    Parameters
    ----------
    physics : Physics
        The model that was asked.
    asked : MarginPolicy
        The shop's policy; the model's own may be a wider one.

    Returns
    -------
    str
        Sentences.
    """
    text = PROOF.format(samples=physics.samples, error=math.sqrt(0.16 / physics.samples))
    if physics.policy == asked:
        return text
    wider = physics.policy
    return (
        f"Here the policy is a wider one than the shop's: {wider.harm:.1%} and {wider.cost:.1%} of passing a limit, "
        f"{wider.holds:.0%} of carrying the target. {text}"
    )
