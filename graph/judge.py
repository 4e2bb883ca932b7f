"""One limit judged: utilisation at the target, ceilings, and how both answer to the spreads."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType

import numpy as np

from graph.ceiling import first_crossing
from graph.limit import Control, Kind
from graph.model import Array, Build, Cause, Place, Setting
from graph.operation import MODEL_SPREAD
from graph.report import Finding, Interval, Verdict
from graph.sampling import Response, ceilings, percentiles, response
from graph.solution import Question, Solution, held_by_torque
from graph.subject import Anatomy, Subject, fed_by, offered_by, sampled

#: Stands for the slot where a variation belongs to the model and not to a part; its rating is a field of the path.
MODEL = "model"
#: Largest probability of being exceeded at which a limit is clear: where it harms, and where it only costs power.
CLEAR_HARM = 0.05
CLEAR_COST = 0.20
MARGINAL = 0.50
#: Share by which a limit must end the engine sooner than knock does, to count as its end [1].
SPENT = 2.0e-3


@dataclass(frozen=True, slots=True, kw_only=True)
class Variation:
    """One uncertain rating of one place.

    Parameters
    ----------
    slot, rating : str
        Which.
    index : int
        Its column among the draws.
    sigma : float
        Standard deviation of the logarithm of the true value [1].
    changes_state : bool
        True if it changes the engine's state and not only a capacity.
    """

    slot: str
    rating: str
    index: int
    sigma: float
    changes_state: bool

    def factors(self, deviations: float) -> dict[str, float]:
        """Factor on the rating, so many standard deviations off [1]."""
        return {self.rating: float(np.exp(self.sigma * deviations))}


def vary(anatomy: Anatomy, build: Build, kinds: Mapping[str, Kind], question: Question) -> tuple[Variation, ...]:
    """Every rating with a spread that matters to a limit or to the engine's state, then the model's parameters.

    Parameters
    ----------
    anatomy : Anatomy
        The build taken apart.
    build : Build
        The build.
    kinds : mapping of str to Kind
        Part kinds by name.
    question : Question
        For the constants.

    Returns
    -------
    tuple of Variation
        In the order of the places.
    """
    judged = {(s.place.slot.name, s.rule.rating) for s in anatomy.subjects}
    found: list[Variation] = []
    for place in build.places:
        if place.part is None:
            continue
        kind = kinds[place.slot.kind]
        nominal = fed_by(place, kind, question.setting)
        for rating in place.part.ratings:
            if rating.spread <= 0.0:
                continue
            sigma = float(np.sqrt(np.log1p(rating.spread**2)))
            moved = fed_by(place, kind, question.setting, {rating.name: float(np.exp(sigma))})
            changes = any(not np.isclose(moved[k], nominal[k], rtol=1e-12, atol=0.0) for k in nominal)
            if (
                changes
                or _offers_move(place, kind, question.setting, rating.name)
                or (place.slot.name, rating.name) in judged
                or any(s.place.slot.name == place.slot.name for s in anatomy.subjects)
            ):
                found.append(
                    Variation(
                        slot=place.slot.name,
                        rating=rating.name,
                        index=len(found),
                        sigma=sigma,
                        changes_state=changes,
                    )
                )
    for parameter, (spread, _) in MODEL_SPREAD.items():
        sigma = float(np.sqrt(np.log1p(spread**2)))
        found.append(Variation(slot=MODEL, rating=parameter, index=len(found), sigma=sigma, changes_state=True))
    return tuple(found)


def _offers_move(place: Place, kind: Kind, setting: Setting, rating: str) -> bool:
    """True if what a part offers to the rules of others depends on one of its ratings."""
    return offered_by(place, kind, setting) != offered_by(place, kind, setting, {rating: 1.01})


def offered(
    variations: tuple[Variation, ...], build: Build, kinds: Mapping[str, Kind], setting: Setting
) -> dict[tuple[int, int], Setting]:
    """Settings of the question with what parts offer to others moved by one standard deviation.

    Parameters
    ----------
    variations : tuple of Variation
        Uncertain ratings.
    build : Build
        The build.
    kinds : mapping of str to Kind
        Part kinds by name.
    setting : Setting
        Of the question.

    Returns
    -------
    dict of (int, int) to Setting
        By variation and sign; only variations on which an offer depends.
    """
    found: dict[tuple[int, int], Setting] = {}
    for v in variations:
        place = build.place(v.slot)
        if place is None or not _offers_move(place, kinds[place.slot.kind], setting, v.rating):
            continue
        for sign in (1, -1):
            moved = offered_by(place, kinds[place.slot.kind], setting, v.factors(sign))
            found[(v.index, sign)] = replace(setting, shared=MappingProxyType({**setting.shared, **moved}))
    return found


def draw(variations: tuple[Variation, ...], build: Build, samples: int, seed: int) -> Array:
    """Joint draws for all variations, in standard deviations, shape (samples, variations) [1]."""
    normal = np.random.default_rng(seed).standard_normal((samples, len(variations)))
    for v in variations:
        place = build.place(v.slot)
        rating = place.part.rating(v.rating) if place is not None and place.part is not None else None
        if rating is not None:
            normal[:, v.index] = sampled(rating, normal[:, v.index])
    return normal


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
        nominal = self.fine.utilisation(subject, configuration)
        base = self.coarse.worst(self.coarse.utilisation(subject, configuration))
        plus: list[Array] = []
        minus: list[Array] = []
        which: list[int] = []
        for v in self.variations:
            own = v.slot == subject.place.slot.name
            state = (v.index, 1, configuration) in self.moved
            if not own and not state and (v.index, 1) not in self.offered:
                continue
            for sign, into in ((1, plus), (-1, minus)):
                at = self.moved.get((v.index, sign, configuration), configuration)
                factors = v.factors(sign) if own else None
                setting = self.offered.get((v.index, sign))
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
        utilisation_here=bench.fine.utilisation(subject, bench.here, all_speeds=True),
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
