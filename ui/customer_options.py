"""Which powers a customer page offers, and the plan of each."""

from __future__ import annotations

import math
import time
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from graph.plan.record import Plan
from graph.plan.wish import MarginPolicy
from graph.report import Interval, Report

if TYPE_CHECKING:
    from graph.proposal import Bureau

STEP = 5.0e3
#: Distance between two ways worth telling apart [W].
APART = 10.0e3
#: Reserve of the best way above a wish that the car's own fuel allows [1].
RESERVE = 1.05
#: Steps down from a wish that no set of parts reaches, and how many are tried [W].
DOWN, TRIES = 10.0e3, 8
#: Standard deviations between the median and the 5th percentile, and the 20th, of a normal distribution.
AT_5, AT_20 = 1.645, 0.842


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Option:
    """One way: its name in the words' sheet, its power [W] and its plan."""

    name: str
    power: float
    plan: Plan


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Offer:
    """What is offered, and the plan of the wish where no set reaches it.

    Parameters
    ----------
    options : tuple of Option
        Rising in power; each has a set of parts with its cost.
    refused : Plan or None
        The wish's own plan, without a set.
    stopped : tuple of float
        Powers for which the search was stopped before an answer was found [W].
    policy : MarginPolicy
        The margins kept.
    """

    options: tuple[Option, ...] = ()
    refused: Plan | None = None
    stopped: tuple[float, ...] = ()
    policy: MarginPolicy = field(default_factory=MarginPolicy)


def reliable(interval: Interval) -> float:
    """A power that is reached 4 times in 5, from an interval and its median [W].

    Parameters
    ----------
    interval : Interval
        5th, 50th and 95th percentile [W].

    Returns
    -------
    float
        The 20th percentile of a normal distribution with the interval's median and 5th percentile, rounded down to
        5 kW [W].
    """
    return math.floor((interval.median - (interval.median - interval.low) * AT_20 / AT_5) / STEP) * STEP


def powers(report: Report) -> tuple[float, ...]:
    """Powers worth a plan, rising: near what the car carries, what its own fuel allows, the wish or a reserve above.

    Parameters
    ----------
    report : Report
        Of the wish.

    Returns
    -------
    tuple of float
        At most three [W].
    """
    wish = report.target.power
    engine = next((f.ceiling_interval for f in report.findings if f.slot == "engine"), None)
    own = wish if engine is None else reliable(engine)
    low = max(reliable(report.carries_interval), 0.5 * report.build.platform.constants.get("factory power", 0.0))
    wanted = [low, own, wish] if own < wish else [low, wish, math.floor(min(RESERVE * wish, own) / STEP) * STEP]
    found: list[float] = []
    for power in sorted(wanted):
        if not found or power >= found[-1] + APART:
            found.append(power)
        elif power == wish:
            found[-1] = wish
    return tuple(found)


def offer(bureau: Bureau, report: Report, patience: float = 120.0) -> Offer:
    """Plan the powers worth offering.

    Parameters
    ----------
    bureau : Bureau
        Of the car.
    report : Report
        Of the wish.
    patience : float
        Longest search for all of them together [s].

    Returns
    -------
    Offer
        Only ways with a set of parts; each is the cheapest that keeps the shop's margins.
    """
    wish = report.target.power
    until = time.monotonic() + patience
    terms = bureau.terms

    def planned(power: float, *, explain: bool = True) -> Plan | None:
        left = until - time.monotonic()
        if left <= 0.0:
            return None
        bureau.terms = replace(terms, patience=min(terms.patience, left))
        return bureau.plan(power, explain=explain).plan

    found: dict[float, Plan] = {}
    refused: Plan | None = None
    stopped: list[float] = []
    others = [p for p in powers(report) if p != wish]
    for power in (wish, *reversed(others)):
        if power > wish and refused is not None:
            continue
        plan = planned(power)
        if plan is not None and plan.reachable and plan.cost is not None and plan.steps:
            found[power] = plan
        elif plan is None or not (plan.reachable or plan.proven):
            stopped.append(power)
        elif power == wish:
            refused = plan
    if refused is not None:
        for n in range(1, TRIES + 1):
            lower = wish - n * DOWN
            if lower < max((p for p in found), default=0.0) + APART:
                break
            tried = planned(lower, explain=False)
            if tried is not None and tried.reachable:
                found[lower] = planned(lower) or tried
                break
    bureau.terms = terms
    names = {1: ("better",), 2: ("good", "better")}.get(len(found), ("good", "better", "best"))
    options = tuple(Option(name=n, power=p, plan=found[p]) for n, p in zip(names, sorted(found), strict=False))
    return Offer(options=options, refused=refused, stopped=tuple(sorted(stopped)), policy=terms.policy)
