"""One stage after the other: a path over rising powers on which little is bought twice, and what regret it leaves."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import replace

from graph.errors import UsageError
from graph.plan.path import Path
from graph.plan.record import Plan
from graph.plan.wish import MarginPolicy
from graph.proposal import Bureau, Start
from graph.sweep import answered

#: A stage this little above the one before it is none [W].
LEAST_STEP = 1.0


def stages(bureau: Bureau, *powers: float, policy: MarginPolicy | None = None) -> Path:
    """Two or more stages, so that as little as possible is bought twice.

    Two paths are compared: the cheapest first stage with whatever follows, each stage the cheapest from the car as it
    then is; and earlier stages made of parts of the cheapest direct way to the last power. The one that costs less
    over all stages is taken, of two that cost the same the one that throws fewer parts away. No path costs less than
    the direct way.

    Parameters
    ----------
    bureau : Bureau
        The car and the book.
    *powers : float
        Rising, at least two [W].
    policy : MarginPolicy or None
        When a limit is clear; None for the shop's.

    Returns
    -------
    Path
        The cheaper one, each of its stages found in order by the full check of the car as it then is.

    Raises
    ------
    UsageError
        Fewer than two powers, or one that is not above the one before it.
    """
    if len(powers) < 2:
        raise UsageError("a path needs two or more powers, one for each stage")
    if any(b < a + LEAST_STEP for a, b in itertools.pairwise(powers)):
        raise UsageError("each stage must ask for more power than the one before it")
    directs = [bureau.plan(p, explain=False, policy=policy) for p in powers]
    alone = tuple(d.plan.cost.total if d.plan.cost is not None else math.inf for d in directs)
    failed = next((n for n, d in enumerate(directs) if not d.plan.reachable), None)
    if failed is not None:
        # What no set reaches from the car as it is, no set reaches from one that has parts of the same book already.
        return Path(plans=tuple(d.plan for d in directs[: failed + 1]), total=math.inf, alone=alone)
    ways = (None, frozenset(step.install for step in directs[-1].plan.steps))
    paths = [_walked(bureau, powers, way, policy) for way in ways]
    n = min(range(len(paths)), key=lambda n: (round(paths[n].total, 2), len(paths[n].thrown_away)))
    told = _walked(bureau, powers, ways[n], policy, explain=True)
    regret = paths[0].total - paths[n].total if math.isfinite(paths[n].total) else 0.0
    return replace(told, alone=alone, regret=max(0.0, regret))


def staged(bureau: Bureau, *powers: float) -> Path:
    """As :func:`stages`; where the policy leaves no path, with what comes nearest and how far the policy goes.

    Parameters
    ----------
    bureau : Bureau
        The car and the book.
    *powers : float
        Rising, at least two [W].

    Returns
    -------
    Path
        Its `nearest` keeps the first wider policy under which the stage without a plan has one; its `instead` goes to
        the highest last power that the policy of the shop allows. Both are left out where the time runs out.
    """
    path = stages(bureau, *powers)
    failed = path.second
    if math.isfinite(path.total) or not failed.proven:
        return path
    plan = answered(bureau, failed.target.power, whole=False)
    nearest = instead = None
    if plan.nearest is not None:
        nearest = stages(bureau, *powers, policy=plan.nearest.policy)
    lower = [p for p in powers if plan.instead is not None and p <= plan.instead.target.power - LEAST_STEP]
    if plan.instead is not None and lower and failed.target.power == powers[-1]:
        instead = stages(bureau, *lower, plan.instead.target.power)
    told = replace(plan, nearest=None, instead=None)
    return replace(
        path,
        plans=(*path.plans[:-1], told),
        nearest=nearest if nearest is not None and math.isfinite(nearest.total) else None,
        instead=instead if instead is not None and math.isfinite(instead.total) else None,
    )


def _walked(
    bureau: Bureau,
    powers: Sequence[float],
    way: frozenset[str] | None,
    policy: MarginPolicy | None,
    *,
    explain: bool = False,
) -> Path:
    """The stages one after the other; all but the last from the parts of a way, if one is given."""
    parts = None if way is None else tuple(p for p in bureau.parts if p.id in way)
    plans: list[Plan] = []
    thrown: list[str] = []
    bought: set[str] = set()
    total = 0.0
    start = Start(build=bureau.build, parts=parts)
    for n, power in enumerate(powers):
        begin = start if n < len(powers) - 1 else replace(start, parts=None)
        found = bureau.plan(power, begin, explain=explain, policy=policy)
        plans.append(found.plan)
        if found.after is None or found.plan.cost is None:
            return Path(plans=tuple(plans), total=math.inf)
        total += found.plan.cost.total
        thrown += [s.remove for s in found.plan.steps if s.remove is not None and s.remove in bought]
        bought |= {s.install for s in found.plan.steps}
        start = replace(found.after, parts=parts)
    return Path(plans=tuple(plans), total=total, thrown_away=tuple(thrown))
