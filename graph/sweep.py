"""Plans for more than one power: within a budget, money against power, one stage after the other."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

from graph.errors import UsageError
from graph.plan.record import Path, Plan, Point
from graph.proposal import Bureau, Found, Start

#: Powers of a frontier, and of a budget, lie on these grids [W].
STRIDE = 10.0e3
BUDGET_STRIDE = 5.0e3


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
    return plan


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


def stages(bureau: Bureau, first: float, second: float) -> Path:
    """Two stages, so that as little as possible is bought twice.

    Two paths are compared: the cheapest first stage with whatever follows, and a first stage from parts of the
    cheapest direct way to the second power. No path costs less than the direct way.

    Parameters
    ----------
    bureau : Bureau
        The car and the book.
    first, second : float
        Powers [W].

    Returns
    -------
    Path
        The cheaper one.

    Raises
    ------
    UsageError
        The second power is not above the first.
    """
    if second <= first:
        raise UsageError("the second stage must ask for more power than the first")
    direct = bureau.plan(second)
    greedy = _path(bureau, bureau.plan(first), second)
    paths = [greedy]
    if direct.plan.reachable and direct.after is not None:
        wanted = {step.install for step in direct.plan.steps}
        only = tuple(p for p in bureau.parts if p.id in wanted)
        paths.append(_path(bureau, bureau.plan(first, Start(build=bureau.build, parts=only)), second))
    best = min(paths, key=lambda p: (p.total, len(p.thrown_away)))
    known = math.isfinite(greedy.total)
    return replace(
        best,
        direct=direct.plan.cost.total if direct.plan.cost is not None else math.inf,
        regret=max(0.0, greedy.total - best.total) if known else 0.0,
    )


def _path(bureau: Bureau, begun: Found, power: float) -> Path:
    nothing = Path(first=begun.plan, second=begun.plan, total=math.inf, thrown_away=(), direct=math.inf, regret=0.0)
    if begun.after is None or begun.plan.cost is None:
        return nothing
    ended = bureau.plan(power, begun.after).plan
    if ended.cost is None:
        return replace(nothing, second=ended)
    bought = {step.install for step in begun.plan.steps}
    return replace(
        nothing,
        second=ended,
        total=begun.plan.cost.total + ended.cost.total,
        thrown_away=tuple(step.remove for step in ended.steps if step.remove in bought and step.remove is not None),
    )
