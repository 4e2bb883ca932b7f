"""Plans for more than one power: within a budget, money against power; numbers that would turn a plan."""

from __future__ import annotations

import math
import time
from bisect import bisect_left
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from graph.model import Part
from graph.plan.choice import Choices
from graph.plan.physics import Physics
from graph.plan.record import Plan, Point
from graph.plan.turn import Turn, turns
from graph.plan.wish import MarginPolicy
from graph.proposal import Bureau, Start

#: Powers of a frontier, and of a budget, lie on these grids [W].
STRIDE = 10.0e3
BUDGET_STRIDE = 5.0e3
#: How far a policy is widened, step by step, towards one that allows everything [1].
WIDER = (0.02, 0.05, 0.1, 0.2, 0.35, 0.5, 0.75, 1.0)
#: Frontiers kept for look-ups.
FINISHED = 8


def affordable(bureau: Bureau, power: float, budget: float) -> Plan:
    """Plan for a power within a budget; where it is too small, with the highest power that it buys.

    Parameters
    ----------
    bureau : Bureau
        The car and the book.
    power : float
        [W]
    budget : float
        Largest total with tax [currency].

    Returns
    -------
    Plan
        Its `instead` lies on a grid of powers below the one asked.
    """
    plan = bureau.plan(power, budget=budget).plan
    if plan.reachable:
        return plan
    lower = math.ceil(power / BUDGET_STRIDE - 1.0) * BUDGET_STRIDE
    least = 0.5 * bureau.build.platform.constants["factory power"]
    while lower >= least:
        instead = bureau.plan(lower, budget=budget, explain=False).plan
        if instead.reachable:
            return replace(plan, instead=bureau.plan(lower, budget=budget).plan)
        lower -= BUDGET_STRIDE
    text = f"No lower power down to {least / 1e3:.0f} kW can be had for this budget with these margins either."
    return replace(plan, proof=" ".join(filter(None, (plan.proof, text)))) if plan.proven else plan


def answered(bureau: Bureau, power: float, *, whole: bool = True) -> Plan:
    """Plan for a power; where no set keeps the policy, with the set that misses it least and the power that keeps it.

    Parameters
    ----------
    bureau : Bureau
        The car and the book.
    power : float
        [W]
    whole : bool
        False to leave out the reasons and skip ceilings of the plans inside the answer.

    Returns
    -------
    Plan
        Its `nearest` is the cheapest set under the first of the :data:`WIDER` policies that allows one; its `instead`
        the highest power on a grid that the policy of the shop allows; where the fuel had to stay, its `refuelled` is
        the cheapest set on any fuel of the book that keeps the policy. Each is left out where the time runs out.
    """
    begun = time.monotonic()
    plan = bureau.plan(power).plan
    if plan.reachable or not plan.proven:
        return plan
    until = begun + 2.0 * bureau.terms.patience
    refuelled = None
    if bureau.fuel_fixed:
        free = bureau.freed()
        found = free.plan(power, explain=False).plan
        refuelled = free.plan(power, explain=whole).plan if found.reachable else None
    nearest = next((p for share in WIDER if (p := _widened(bureau, power, share, until, whole)) is not None), None)
    lower = math.ceil(power / STRIDE - 1.0) * STRIDE
    least = bureau.build.platform.constants["factory power"]
    instead = None
    while lower >= least and time.monotonic() < until and instead is None:
        found = bureau.plan(lower, explain=False).plan
        instead = bureau.plan(lower, explain=whole).plan if found.reachable else None
        lower -= STRIDE
    return replace(plan, nearest=nearest, instead=instead, refuelled=refuelled)


def turning(bureau: Bureau, plan: Plan) -> tuple[Turn, ...]:
    """Ratings of parts on the car that would change a plan if they were better than stated.

    Parameters
    ----------
    bureau : Bureau
        The car and the book.
    plan : Plan
        With its reasons.

    Returns
    -------
    tuple of Turn
        Those that need the smallest change first.
    """

    def opened(more: Sequence[Part]) -> tuple[Choices, Physics]:
        return bureau.open(plan.target.power, Start(build=bureau.build, parts=(*bureau.parts, *more)))

    fuel = plan.target.fuel.name
    return turns(bureau.build, plan.steps, bureau.kinds, opened, bureau.tariff.alone, fuel)


def _widened(bureau: Bureau, power: float, share: float, until: float, whole: bool) -> Plan | None:
    """The cheapest set under a policy that is so much of the way to allowing everything."""
    if time.monotonic() > until:
        return None
    asked = bureau.terms.policy
    policy = MarginPolicy(
        harm=asked.harm + share * (1.0 - asked.harm),
        cost=asked.cost + share * (1.0 - asked.cost),
        holds=asked.holds * (1.0 - share),
    )
    found = bureau.plan(power, explain=False, policy=policy).plan
    if found.reachable and whole:
        return bureau.plan(power, policy=policy).plan
    return found if found.reachable else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Frontier:
    """Money against power, finished.

    Parameters
    ----------
    points : tuple of Point
        Rising in power and in money.
    stride : float
        Step of the powers asked [W].
    """

    points: tuple[Point, ...]
    stride: float

    def at(self, power: float) -> Point | None:
        """The cheapest set that reaches a power, exact to the stride; None above the last point.

        Parameters
        ----------
        power : float
            [W]

        Returns
        -------
        Point or None
            The first point at or above the power: whoever carries more carries less as well, by what carrying means.
        """
        index = bisect_left([p.power for p in self.points], power * (1.0 - 1e-9))
        return self.points[index] if index < len(self.points) else None


#: Finished frontiers, the latest last.
_FINISHED: dict[tuple[str, float], Frontier] = {}


def frontier(
    bureau: Bureau, stride: float = STRIDE, progress: Callable[[Point], None] | None = None
) -> tuple[Point, ...]:
    """Money against power: for each power on a grid the cheapest plan, without those that a higher power beats.

    Parameters
    ----------
    bureau : Bureau
        The car and the book.
    stride : float
        Step of the powers [W].
    progress : callable or None
        Called with every point found.

    Returns
    -------
    tuple of Point
        Rising in power and in money; each is checked in full and none is inferred from another.
    """
    return whole_frontier(bureau, stride, progress).points


def whole_frontier(bureau: Bureau, stride: float = STRIDE, progress: Callable[[Point], None] | None = None) -> Frontier:
    """As :func:`frontier`, for look-ups; found once for a car, a book, a day, a policy and wishes."""
    key = bureau.fingerprint, stride
    if key not in _FINISHED:
        _FINISHED[key] = Frontier(points=_swept(bureau, stride, progress), stride=stride)
        for old in list(_FINISHED)[: max(0, len(_FINISHED) - FINISHED)]:
            del _FINISHED[old]
    elif progress is not None:
        for point in _FINISHED[key].points:
            progress(point)
    return _FINISHED[key]


def _swept(bureau: Bureau, stride: float, progress: Callable[[Point], None] | None) -> tuple[Point, ...]:
    found: list[Point] = []
    constants = bureau.build.platform.constants
    power = math.ceil(constants["factory power"] / stride) * stride
    while power <= 2.0 * constants["factory power"]:
        _, physics = bureau.open(power)
        if not any(physics.engine(context) for context in physics.engine_contexts()):
            break
        plan = bureau.plan(power, budget=bureau.wishes.budget, explain=False).plan
        if plan.reachable and plan.cost is not None and plan.after is not None:
            point = Point(
                power=power,
                total=plan.cost.total,
                parts=tuple(step.install for step in plan.steps),
                fuel=plan.target.fuel.name,
                holds_probability=plan.after.holds_probability,
                proven=plan.proven,
                carries=plan.after.carries,
            )
            found.append(point)
            if progress is not None:
                progress(point)
        power += stride
    return tuple(p for n, p in enumerate(found) if all(q.total > p.total + 0.005 for q in found[n + 1 :]))
