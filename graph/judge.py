"""One limit judged: utilisation at the target, ceilings, and how both answer to the spreads."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from graph.bench import Bench
from graph.ceiling import first_crossing
from graph.limit import Control
from graph.model import Array, Cause
from graph.report import Finding, Interval, Verdict
from graph.sampling import Response, ceilings_until, percentiles
from graph.solution import held_by_torque
from graph.subject import Subject

__all__ = ["CLEAR_COST", "CLEAR_HARM", "MARGINAL", "SPENT", "Bench", "Judgement", "cause_text", "judge", "verdict_of"]

#: Largest probability of being exceeded at which a limit is clear: where it harms, and where it only costs power.
CLEAR_HARM = 0.05
CLEAR_COST = 0.20
MARGINAL = 0.50
#: Share by which a limit must end the engine sooner than knock does, to count as its end [1].
SPENT = 2.0e-3


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Judgement:
    """A finding with what the whole answer needs from it.

    Parameters
    ----------
    finding : Finding
        The row.
    alone, here : array, shape (S,)
        Sampled ceilings, infinity where not passed [W].
    utilisation_here : array, shape (P, N)
        With the car's own parts, at all speeds [1].
    """

    finding: Finding
    alone: Array
    here: Array
    utilisation_here: Array


def judge(subject: Subject, bench: Bench) -> Judgement:
    """Judge one limit.

    Parameters
    ----------
    subject : Subject
        The limit.
    bench : Bench
        What was solved.

    Returns
    -------
    Judgement
        With ceilings [W] and verdict.
    """
    question, rule, place = bench.question, subject.rule, subject.place
    configuration = bench.configuration.get(place.slot.name, 0)
    alone_response, alone = bench.judged(subject, configuration)
    here_response, here_judged = bench.judged(subject, bench.here)
    at = question.at_target
    seen = alone.everywhere if rule.no_ceiling is not None and rule.control is Control.TORQUE else alone.counted
    worst = bench.fine.worst(seen)
    index = _worst_speed(seen, worst, at)
    exists = bool(np.isfinite(worst[at]))
    samples = bench.draws.shape[0]
    ceiling = here = interval = None
    reason = rule.no_ceiling
    alone_draws = here_draws = np.full(samples, np.inf)
    if rule.no_ceiling is None:
        if rule.control is Control.SPARK:
            value, value_here, alone_draws = _phasing_spent(bench, configuration)
        else:
            value, alone_draws = _passed(bench, configuration, alone_response)
            value_here, here_draws = _passed(bench, bench.here, here_response)
        ceiling = value if np.isfinite(value) else None
        here = value_here if np.isfinite(value_here) else None
        found = percentiles(alone_draws)
        interval = Interval(low=found[0], median=found[1], high=found[2]) if found is not None else None
        reason = _reason(bench, configuration, ceiling)
    exceed = _exceeded(rule.no_ceiling is not None, alone_draws, alone_response, bench)
    rating = place.part.rating(rule.rating) if place.part is not None else None
    spec = subject.kind.rating(rule.rating)
    return Judgement(
        finding=Finding(
            slot=place.slot.name,
            part=place.part.id if place.part is not None else None,
            part_name=place.part.name if place.part is not None else None,
            rule=rule.name,
            rating=rule.rating,
            axis=rule.axis,
            kind=rule.kind,
            quantity=rule.quantity,
            control=rule.control or (Control.TORQUE if held_by_torque(rule) else None),
            demand=float(alone.demand[at, index]) if exists else None,
            capacity=float(alone.capacity[at, index]) if exists else None,
            utilisation=float(worst[at]) if exists else None,
            utilisation_reason=None if exists else _lost(bench, configuration),
            worst_speed=float(bench.fine.engine.speed[index]),
            ceiling=ceiling,
            ceiling_interval=interval,
            ceiling_here=here,
            ceiling_reason=reason,
            exceed_probability=exceed,
            verdict=Verdict.UNKNOWN if place.unknown is not None else verdict_of(rule.costs_power_only, exceed, exists),
            why=rule.why,
            consequence=rule.consequence,
            source=rule.source,
            evidence=rating.evidence if rating is not None else None,
            condition=_conditions(subject),
            assumed=rating.assumed if rating is not None else spec.default is not None,
        ),
        alone=alone_draws,
        here=here_draws,
        utilisation_here=here_judged.everywhere,
    )


def _passed(bench: Bench, configuration: int, utilisation: Response) -> tuple[float, Array]:
    """Ceiling of a limit in a configuration, as stated and in each draw [W]; infinity where it is not passed."""
    powers = bench.question.powers
    value = float(first_crossing(powers, utilisation.nominal, bench.fine.last_power[configuration]))
    if not bench.variations:
        return value, np.full(bench.draws.shape[0], value)
    return value, ceilings_until(powers, utilisation, bench.ends(configuration), bench.draws, bench.farthest)


def _worst_speed(utilisation: Array, worst: Array, at: int) -> int:
    """Index of the speed at which the limit is tightest: at the target, or at the last power below it that exists."""
    known = np.flatnonzero(np.isfinite(worst[: at + 1]))
    row = utilisation[at if known.size == 0 else known[-1]]
    return int(np.argmax(np.where(np.isnan(row), -np.inf, row)))


def _phasing_spent(bench: Bench, configuration: int) -> tuple[float, float, Array]:
    """Ceiling of a limit that the spark respects: where it, and not the engine, spends the phasing.

    With the car's own parts it is no row of its own: the spark that respects it is part of what the engine makes.
    """
    own, free = bench.ends(configuration), bench.ends(0)
    ends = bench.fine.last_power[configuration] < bench.fine.last_power[0] * (1.0 - SPENT)
    value = float(bench.fine.last_power[configuration]) if ends else np.inf
    return value, np.inf, np.where(own < free * (1.0 - SPENT), own, np.inf)


def _exceeded(no_ceiling: bool, alone: Array, utilisation: Response, bench: Bench) -> float | None:
    """Share of samples in which the limit is passed at the target."""
    at = bench.question.at_target
    if no_ceiling:
        if not np.isfinite(utilisation.nominal[at]):
            return None
        return float((utilisation.thinned(np.array([at])).sample(bench.draws)[:, 0] > 1.0).mean())
    return float((alone < bench.question.target.power * (1.0 - 1e-9)).mean())


def verdict_of(costs_power_only: bool, exceed: float | None, exists: bool) -> Verdict:
    """Verdict of a limit; nothing is called clear at a target that has no operating point: then it is not known.

    Parameters
    ----------
    costs_power_only : bool
        True if overrunning it harms nothing.
    exceed : float or None
        Share of samples in which it is passed at the target [1].
    exists : bool
        True if the target has an operating point.

    Returns
    -------
    Verdict
        Unknown where the share is.
    """
    if exceed is None:
        return Verdict.UNKNOWN
    if exceed <= (CLEAR_COST if costs_power_only else CLEAR_HARM):
        return Verdict.CLEAR if exists else Verdict.UNKNOWN
    return Verdict.MARGINAL if exceed <= MARGINAL else Verdict.EXCEEDED


def cause_text(code: int) -> str:
    """The sentence of a cause code."""
    return next(c.text for c in Cause if c.code == code)


def _lost(bench: Bench, configuration: int) -> str:
    power = bench.fine.last_power[configuration]
    return f"no operating point above {power / 1e3:.0f} kW: {cause_text(int(bench.fine.last_cause[configuration]))}"


def _reason(bench: Bench, configuration: int, ceiling: float | None) -> str | None:
    powers = bench.question.powers
    if ceiling is not None:
        return f"already exceeded at {powers[0] / 1e3:.0f} kW" if ceiling <= powers[0] else None
    last = float(bench.fine.last_power[configuration])
    if last < powers[-1]:
        return f"not reached; {_lost(bench, configuration)}"
    return f"> {powers[-1] / 1e3:.0f} kW"


def _conditions(subject: Subject) -> str:
    part = subject.place.part
    rating = part.rating(subject.rule.rating) if part is not None else None
    if rating is None:
        spec = subject.kind.rating(subject.rule.rating)
        return f"assumed: {spec.default_source}" if spec.default is not None else ""
    return rating.text
