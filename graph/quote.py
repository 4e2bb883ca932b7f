"""What a plan may cost in the end: hours that vary, findings that add work, a range, and a cap that is never below it.

A plan states one total. Jobs take longer on one car than on the next, and a place that is opened may show something
that adds work. Both are drawn many times; the range holds nine jobs in ten, the cap at least nineteen in twenty.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from graph.experience import Experience, Spread, Surprise
from graph.plan.record import Plan
from graph.plan.wish import ShopTerms

HOUR = 3600.0
SAMPLES = 20_000
SEED = 20261125


@dataclass(frozen=True, slots=True, kw_only=True)
class Chance:
    """A finding that this plan may meet.

    Parameters
    ----------
    surprise : Surprise
        What.
    low, usual, high : float
        What it adds with tax [currency]; labour and parts at the same percentile.
    """

    surprise: Surprise
    low: float
    usual: float
    high: float

    @property
    def weight(self) -> float:
        """What it adds on average over all such jobs, by its usual value [currency]."""
        return self.surprise.probability * self.usual


@dataclass(frozen=True, slots=True, kw_only=True)
class Quote:
    """What a plan may cost with tax.

    Parameters
    ----------
    planned : float
        The plan's own total [currency].
    low, usual, high : float
        5th, 50th and 95th percentile of what the job costs in the end [currency].
    cap : float
        Never more than this without a new signature; never below `high` [currency].
    within_cap : float
        Share of the drawn jobs that cost no more than the cap [1].
    chances : tuple of Chance
        Findings that the plan may meet, the one that weighs most first.
    reckoned : tuple of str
        Numbers of the parts whose hours have no range of their own.
    jobs : int
        Jobs with labour.
    samples : int
        Jobs drawn.
    """

    planned: float
    low: float
    usual: float
    high: float
    cap: float
    within_cap: float
    chances: tuple[Chance, ...] = ()
    reckoned: tuple[str, ...] = ()
    jobs: int = 0
    samples: int = SAMPLES


def quote(
    plan: Plan,
    kinds: Mapping[str, str],
    experience: Experience,
    terms: ShopTerms,
    *,
    overrun: float = 0.0,
    step: float = 50.0,
    samples: int = SAMPLES,
    seed: int = SEED,
) -> Quote | None:
    """Range and cap of a plan's total.

    Parameters
    ----------
    plan : Plan
        With its cost.
    kinds : mapping of str to str
        Slot to kind of part.
    experience : Experience
        Ranges of hours, and findings.
    terms : ShopTerms
        Hourly rate and tax.
    overrun : float
        Least room between the total and the cap [1].
    step : float
        The cap lies on a grid of this width [currency].
    samples, seed : int
        Jobs drawn, and the start of the draws; the same start gives the same answer.

    Returns
    -------
    Quote or None
        None where the plan has no cost.
    """
    if plan.cost is None:
        return None
    draw = np.random.default_rng(seed)
    shared = draw.standard_normal(samples)
    labour, reckoned = np.zeros(samples), []
    jobs = lasting(plan, kinds)
    for job, kind, seconds in jobs:
        deviation = math.sqrt(experience.common) * shared
        deviation = deviation + math.sqrt(1.0 - experience.common) * draw.standard_normal(samples)
        spread = _time(job, kind, experience)
        if spread is None:
            reckoned.append(job)
        labour += seconds * (spread or experience.other).at(deviation)
    net = plan.cost.parts + labour / HOUR * terms.hourly_rate
    chances = met(plan, kinds, experience, terms)
    for chance in chances:
        found, deviation = draw.random(samples) < chance.surprise.probability, draw.standard_normal(samples)
        work = chance.surprise.labour.at(deviation) / HOUR * terms.hourly_rate
        net += np.where(found, work + chance.surprise.parts.at(deviation), 0.0)
    totals = net * (1.0 + terms.tax)
    low, usual, high = (float(v) for v in np.quantile(totals, (0.05, 0.5, 0.95)))
    cap = math.ceil(max(high, plan.cost.total * (1.0 + overrun)) / step - 1e-9) * step
    return Quote(
        planned=plan.cost.total,
        low=low,
        usual=usual,
        high=high,
        cap=cap,
        within_cap=float(np.mean(totals <= cap)),
        chances=chances,
        reckoned=tuple(reckoned),
        jobs=len(jobs),
        samples=samples,
    )


def lasting(plan: Plan, kinds: Mapping[str, str]) -> tuple[tuple[str, str, float], ...]:
    """Jobs of a plan with the labour that is left to each when every strip-down is paid once.

    Parameters
    ----------
    plan : Plan
        With its steps.
    kinds : mapping of str to str
        Slot to kind of part.

    Returns
    -------
    tuple of (str, str, float)
        Part number, kind and labour [s]; jobs without labour are left out. What a shared strip-down saves is taken
        from the jobs that share it in proportion to what they still have.
    """
    left = {step.install: step.labour for step in plan.steps}
    for saved in plan.shared_labour:
        held = sum(left.get(job, 0.0) for job in saved.jobs)
        for job in saved.jobs:
            if held > 0.0 and job in left:
                left[job] *= max(0.0, 1.0 - saved.saves / held)
    return tuple((s.install, kinds.get(s.slot, s.slot), left[s.install]) for s in plan.steps if left[s.install] > 0.0)


def met(plan: Plan, kinds: Mapping[str, str], experience: Experience, terms: ShopTerms) -> tuple[Chance, ...]:
    """Findings that a plan may meet.

    Parameters
    ----------
    plan : Plan
        With its steps.
    kinds : mapping of str to str
        Slot to kind of part.
    experience : Experience
        With its findings.
    terms : ShopTerms
        Hourly rate and tax.

    Returns
    -------
    tuple of Chance
        The one that weighs most first.
    """
    opened = jobs_of(plan, kinds)

    def priced(labour: float, parts: float) -> float:
        return (labour / HOUR * terms.hourly_rate + parts) * (1.0 + terms.tax)

    found = [
        Chance(
            surprise=s,
            low=priced(s.labour.low, s.parts.low),
            usual=priced(s.labour.usual, s.parts.usual),
            high=priced(s.labour.high, s.parts.high),
        )
        for s in experience.surprises
        if s.jobs & opened and not s.unless & opened
    ]
    return tuple(sorted(found, key=lambda c: (-c.weight, c.surprise.key)))


def jobs_of(plan: Plan, kinds: Mapping[str, str]) -> frozenset[str]:
    """Numbers and kinds of the parts that a plan fits."""
    return frozenset(s.install for s in plan.steps) | frozenset(kinds.get(s.slot, s.slot) for s in plan.steps)


def lasts(job: str, kind: str, labour: float, experience: Experience) -> Spread:
    """How long one job takes on its own.

    Parameters
    ----------
    job, kind : str
        Number and kind of the part.
    labour : float
        As the book states it [s].
    experience : Experience
        Of the shop.

    Returns
    -------
    Spread
        [s]
    """
    shares = _time(job, kind, experience) or experience.other
    return Spread(low=labour * shares.low, usual=labour * shares.usual, high=labour * shares.high)


def _time(job: str, kind: str, experience: Experience) -> Spread | None:
    """Hours of a job as shares of its usual hours: of its own number, else of its kind."""
    for name in (job, kind):
        for time in experience.times:
            if time.job == name:
                return _shares(time.labour)
    return None


def _shares(spread: Spread) -> Spread | None:
    if spread.usual == 0.0:
        return None
    return Spread(low=spread.low / spread.usual, usual=1.0, high=spread.high / spread.usual)
