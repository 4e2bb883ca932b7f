"""One limit judged: utilisation at the target, ceilings, and how both answer to the spreads."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from graph.ceiling import first_crossing
from graph.limit import Control
from graph.model import Array, Cause, Setting
from graph.report import Finding, Interval, Verdict
from graph.sampling import Response, ceilings, percentiles, response
from graph.solution import Question, Solution, held_by_torque
from graph.subject import Subject
from graph.variation import Heard, Variation

#: Largest probability of being exceeded at which a limit is clear: where it harms, and where it only costs power.
CLEAR_HARM = 0.05
CLEAR_COST = 0.20
MARGINAL = 0.50
#: Share by which a limit must end the engine sooner than knock does, to count as its end [1].
SPENT = 2.0e-3


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bench:
    """Everything solved once and needed to judge each limit.

    Parameters
    ----------
    question : Question
        Target and powers.
    fine, coarse : Solution
        Nominal configurations on the full speed grid; nominal and moved ones on a coarser grid.
    variations : tuple of Variation
        Uncertain ratings.
    draws : array, shape (S, V)
        Joint draws in standard deviations [1].
    configuration : mapping of str to int
        Configuration in which a slot is judged alone; 0, the reference, where it is not listed.
    here : int
        Configuration with the car's own parts.
    moved : mapping of (int, int, int) to int
        (variation, sign, configuration) to the moved configuration on the coarse grid.
    offered : mapping of (int, int) to Setting
        (variation, sign) to the setting in which what a part offers to the rules of others is moved.
    together : Setting or None
        The setting of the car's own parts, with what each tells its neighbours; None for the question's.
    linked : mapping of (int, int) to Setting
        As `offered`, for the car's own parts.
    """

    question: Question
    fine: Solution
    coarse: Solution
    variations: tuple[Variation, ...]
    draws: Array
    configuration: Mapping[str, int]
    here: int
    moved: Mapping[tuple[int, int, int], int]
    offered: Mapping[tuple[int, int], Setting] = field(default_factory=dict)
    together: Setting | None = None
    linked: Mapping[tuple[int, int], Setting] = field(default_factory=dict)

    def setting(self, configuration: int) -> Setting:
        """Constants of the rules in a configuration: neighbours speak only where the car's own parts are together."""
        return self.together if configuration == self.here and self.together is not None else self.question.setting

    def last_power(self, configuration: int, *, capped: bool = False) -> Response:
        """Answer of the highest power with an operating point to the spreads, shape (1,) [W]."""
        fine, coarse = ((s.capped_power if capped else s.last_power) for s in (self.fine, self.coarse))
        touched = [v for v in self.variations if (v.index, 1, configuration) in self.moved]
        plus = [coarse[[self.moved[(v.index, 1, configuration)]]] for v in touched]
        minus = [coarse[[self.moved[(v.index, -1, configuration)]]] for v in touched]
        return response(fine[[configuration]], plus, minus, [v.index for v in touched], coarse[[configuration]])

    def utilisation(self, subject: Subject, configuration: int) -> tuple[Response, Array]:
        """Answer of the worst utilisation to the spreads, and the utilisation over power and speed.

        Parameters
        ----------
        subject : Subject
            The limit.
        configuration : int
            In which it is judged.

        Returns
        -------
        response : Response
            Over the powers [1].
        utilisation : array, shape (P, N)
            Without variation [1].
        """
        around = self.setting(configuration)
        heard = Heard(around.linked)
        nominal = self.fine.utilisation(subject, configuration, setting=replace(around, linked=heard))
        said = self.linked if heard.listened else self.offered
        base = self.coarse.worst(self.coarse.utilisation(subject, configuration, setting=around))
        plus: list[Array] = []
        minus: list[Array] = []
        which: list[int] = []
        for v in self.variations:
            own = v.slot == subject.place.slot.name
            state = (v.index, 1, configuration) in self.moved
            if not own and not state and (v.index, 1) not in said:
                continue
            for sign, into in ((1, plus), (-1, minus)):
                at = self.moved.get((v.index, sign, configuration), configuration)
                factors = v.factors(sign) if own else None
                setting = said.get((v.index, sign), around)
                into.append(self.coarse.worst(self.coarse.utilisation(subject, at, factors, setting=setting)))
            which.append(v.index)
        return response(self.fine.worst(nominal), plus, minus, which, base), nominal


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
    alone_response, alone_u = bench.utilisation(subject, configuration)
    here_response, here_u = bench.utilisation(subject, bench.here)
    at = question.at_target
    if rule.no_ceiling is not None and rule.control is Control.TORQUE:
        alone_u = bench.fine.utilisation(subject, configuration, all_speeds=True)
    worst = bench.fine.worst(alone_u)
    index = _worst_speed(alone_u, worst, at)
    exists = bool(np.isfinite(worst[at]))
    demand, capacity = subject.utilisation(bench.fine.state(configuration), question.setting)
    samples = bench.draws.shape[0]
    ceiling = here = interval = None
    reason = rule.no_ceiling
    alone_draws = here_draws = np.full(samples, np.inf)
    if rule.no_ceiling is None:
        last_alone, last_here = bench.last_power(configuration), bench.last_power(bench.here)
        if rule.control is Control.SPARK:
            value, value_here, alone_draws = _phasing_spent(bench, configuration, last_alone)
        else:
            value = float(first_crossing(question.powers, worst, bench.fine.last_power[configuration]))
            value_here = float(
                first_crossing(question.powers, bench.fine.worst(here_u), bench.fine.last_power[bench.here])
            )
            alone_draws, here_draws = np.full(samples, value), np.full(samples, value_here)
            if bench.variations:
                alone_draws = ceilings(question.powers, alone_response, last_alone, bench.draws)
                here_draws = ceilings(question.powers, here_response, last_here, bench.draws)
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
            demand=float(demand[at, index]) if exists else None,
            capacity=float(capacity[at, index]) if exists else None,
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
        utilisation_here=bench.fine.utilisation(
            subject, bench.here, all_speeds=True, setting=bench.setting(bench.here)
        ),
    )


def _worst_speed(utilisation: Array, worst: Array, at: int) -> int:
    """Index of the speed at which the limit is tightest: at the target, or at the last power below it that exists."""
    known = np.flatnonzero(np.isfinite(worst[: at + 1]))
    row = utilisation[at if known.size == 0 else known[-1]]
    return int(np.argmax(np.where(np.isnan(row), -np.inf, row)))


def _phasing_spent(bench: Bench, configuration: int, last: Response) -> tuple[float, float, Array]:
    """Ceiling of a limit that the spark respects: where it, and not the engine, spends the phasing.

    With the car's own parts it is no row of its own: the spark that respects it is part of what the engine makes.
    """
    reference = bench.last_power(0)
    own = last.sample(bench.draws)[:, 0]
    free = reference.sample(bench.draws)[:, 0]
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
