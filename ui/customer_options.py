"""Which ways a customer page offers, and the plan of each.

Every way is the cheapest set for its power that leaves some places as they are. *Good* keeps the fuel, the turbocharger,
the engine inside and the gearbox where that gains anything, *better* opens less than *best*, and *best* is the wish, with
a reserve where a set has one, or the highest power below it that keeps the shop's margins.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from graph.plan.record import Plan
from graph.plan.wish import MarginPolicy
from graph.report import Interval, Report
from ui.way_rule import APART, CHEAPER, ENGINE, FUEL, GEARBOX, NAMES, RESERVE, TURBO, ways

if TYPE_CHECKING:
    from graph.proposal import Bureau

STEP = 5.0e3
#: Grid of the powers tried below a wish [W].
GRID = 10.0e3
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

    @property
    def chosen(self) -> Option | None:
        """The way that the cost and the parts left out are shown for: the second one where there are several."""
        return None if not self.options else self.options[min(1, len(self.options) - 1)]


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


def offer(bureau: Bureau, report: Report, patience: float = 120.0, say: Callable[[str], None] | None = None) -> Offer:
    """Plan the ways worth offering.

    Parameters
    ----------
    bureau : Bureau
        Of the car.
    report : Report
        Of the wish.
    patience : float
        Longest search for all of them together [s].
    say : callable or None
        Told what is being searched, in words.

    Returns
    -------
    Offer
        At most three ways, rising in power, each with a set of parts; each is the cheapest for its power that keeps
        the shop's margins and leaves what it says. Reasons and what the car carries without each part are worked out
        for the chosen way alone.
    """
    desk = _Desk(bureau, report, patience, say)
    wish = report.target.power
    first = desk.planned(wish, frozenset())
    refused = first if first is not None and first.proven and not first.reachable else None
    stopped = () if first is not None and (first.reachable or first.proven) else (wish,)
    found = ways(desk, wish)
    plans = [(power, plan) for power, kept in found.items() if (plan := desk.found(power, kept)).steps]
    names = NAMES.get(len(plans), ())
    made = Offer(
        options=tuple(Option(name=n, power=p, plan=plan) for n, (p, plan) in zip(names, plans, strict=True)),
        refused=None if refused is None else desk.explained(wish, frozenset()),
        stopped=stopped,
        policy=bureau.terms.policy,
    )
    chosen = made.chosen
    if chosen is None:
        return made
    explained = replace(chosen, plan=desk.explained(chosen.power, found[chosen.power]))
    return replace(made, options=tuple(explained if o is chosen else o for o in made.options))


class _Desk:
    """Plans of one car, none of them searched twice, within one time."""

    def __init__(self, bureau: Bureau, report: Report, patience: float, say: Callable[[str], None] | None) -> None:
        self._bureau, self._report, self._say = bureau, report, say
        self._until = time.monotonic() + patience
        self._plans: dict[tuple[float, frozenset[str]], Plan] = {}
        engine = next((f.ceiling_interval for f in report.findings if f.slot == "engine"), None)
        self.own = math.inf if engine is None else reliable(engine)
        self.low = math.ceil((reliable(report.carries_interval) + APART) / GRID) * GRID

    def planned(self, power: float, kept: frozenset[str], *, explain: bool = False) -> Plan | None:
        """Plan of a power that leaves some kinds as they are; None where the time is over."""
        known = self._plans.get((power, kept))
        if known is not None and not explain:
            return known
        left = self._until - time.monotonic()
        if known is None and left <= 0.0:
            return None
        bureau, terms, wishes = self._bureau, self._bureau.terms, self._bureau.wishes
        slots = frozenset(p.slot.name for p in self._report.build.places if p.slot.kind in kept)
        if self._say is not None:
            self._say(f"{'explaining' if known else 'searching'} the way to {power / 1e3:.0f} kW")
        # Reasons end by their own effort: they must not depend on how long the search before them took.
        longest = terms.patience if explain else max(left / 3.0, 5.0)
        bureau.terms = replace(terms, patience=min(terms.patience, longest))
        bureau.wishes = replace(wishes, keep=wishes.keep | slots)
        try:
            plan = bureau.plan(power, explain=explain).plan
        finally:
            bureau.terms, bureau.wishes = terms, wishes
        self._plans[power, kept] = plan
        return plan

    def reached(self, power: float, kept: frozenset[str]) -> bool:
        """True if a set was found."""
        plan = self.planned(power, kept)
        return plan is not None and plan.reachable and plan.cost is not None

    def found(self, power: float, kept: frozenset[str]) -> Plan:
        """The plan of a power that was searched."""
        return self._plans[power, kept]

    def total(self, power: float, kept: frozenset[str]) -> float:
        """What the set costs with tax [currency]."""
        cost = self._plans[power, kept].cost
        return math.inf if cost is None else cost.total

    def opened(self, power: float, kept: frozenset[str]) -> frozenset[str]:
        """The kinds of part that the set changes, of those that a way may promise to leave."""
        kinds = {p.slot.name: p.slot.kind for p in self._report.build.places}
        steps = self._plans[power, kept].steps
        return (FUEL | ENGINE | GEARBOX | TURBO).intersection(kinds.get(s.slot, s.slot) for s in steps)

    def above(self, wish: float) -> float | None:
        """The reserve above a wish, where the car's own fuel allows it and it has a set [W]."""
        reserve = math.floor(min(RESERVE * wish, self.own) / STEP) * STEP
        return reserve if reserve >= wish + APART and self.reached(reserve, frozenset()) else None

    def halfway(self, best: float, kept: frozenset[str]) -> float | None:
        """Half of the gain, where it has a set that costs a tenth less [W]."""
        half = math.floor(0.5 * (best + self.low) / GRID) * GRID
        near = self.low <= half <= best - APART and self.reached(half, frozenset())
        return half if near and self.total(half, frozenset()) <= CHEAPER * self.total(best, kept) else None

    def explained(self, power: float, kept: frozenset[str]) -> Plan:
        """The plan with its reasons and what the car carries without each part."""
        plan = self.planned(power, kept, explain=True)
        found = self._plans[power, kept]
        return found if plan is None else plan

    def highest(self, top: float, kept: frozenset[str]) -> float | None:
        """The highest power found that leaves some kinds as they are: down in growing steps, then in between [W].

        A power between two that have no set is not looked at, so a higher one may exist; each found is checked.
        """
        below = math.ceil(top / GRID - 1.0) * GRID
        powers_tried = [top, *(below - n * GRID for n in range(int(max(0.0, below - self.low) / GRID) + 1))]
        powers_tried = [p for p in powers_tried if p >= self.low or p == self._report.target.power]
        if not powers_tried:
            return None
        bad, n, step, last = -1, 0, 1, len(powers_tried) - 1
        while not self._stands(powers_tried[n], kept):
            if n == last:
                return None
            bad, n, step = n, min(n + step, last), step * 2
        good = n
        while good - bad > 1:
            middle = (good + bad) // 2
            if self._stands(powers_tried[middle], kept):
                good = middle
            else:
                bad = middle
        return powers_tried[good]

    def _stands(self, power: float, kept: frozenset[str]) -> bool:
        """True if a set leaves these kinds as they are; one that a freer search found counts as well."""
        for (other, fewer), plan in list(self._plans.items()):
            if other == power and fewer <= kept and plan.reachable and plan.proven:
                kinds = {p.slot.name: p.slot.kind for p in self._report.build.places}
                if not kept & {kinds.get(s.slot, s.slot) for s in plan.steps}:
                    self._plans[power, kept] = plan
                    return True
            if other == power and fewer <= kept and plan.proven and not plan.reachable:
                return False
        return self.reached(power, kept)
