"""Plans as JSON documents: fixed names, units in the names, null for what is not known."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Any

from graph.plan.path import Missing, Path
from graph.plan.record import Cost, Plan, Point, Reason, Step
from graph.plan.turn import Turn
from ui.customer_options import Offer
from ui.document import check_document, target_document
from ui.way_rule import RULE

Document = dict[str, Any]


def _kilowatts(value: float | None, digits: int = 2) -> float | None:
    """A power as a check prints it; one that was asked for keeps the digits it takes to ask again."""
    return None if value is None or not math.isfinite(value) else round(value / 1e3, digits)


def _money(value: float | None) -> float | None:
    return None if value is None or not math.isfinite(value) else round(value, 2)


def _hours(duration: float) -> float:
    return round(duration / 3600.0, 3)


def cost_document(cost: Cost | None) -> Document | None:
    """What a plan costs."""
    if cost is None:
        return None
    return {
        "parts": _money(cost.parts),
        "labour_h": _hours(cost.labour),
        "labour": _money(cost.work),
        "net": _money(cost.net),
        "tax": _money(cost.tax),
        "total": _money(cost.total),
        "currency": cost.currency,
    }


def _reason(reason: Reason) -> Document:
    return {"kind": reason.because.value, "text": reason.text}


def _step(step: Step) -> Document:
    return {
        "slot": step.slot,
        "install": step.install,
        "name": step.name,
        "remove": step.remove,
        "price": _money(step.price),
        "labour_h": _hours(step.labour),
        "why": [_reason(r) for r in step.why],
        "skip_ceiling_kW": _kilowatts(step.skip_ceiling),
        "tasks": list(step.tasks),
        "stock": step.stock,
        "used": step.used,
        "lead_days": None if step.lead_time is None else round(step.lead_time / 86400.0, 1),
    }


def plan_document(plan: Plan) -> Document:
    """A whole plan.

    Parameters
    ----------
    plan : Plan
        The answer.

    Returns
    -------
    dict
        ``pinchpoint.plan/1``; money with tax where it says total, bound or gap.
    """
    return {
        "schema": "pinchpoint.plan/1",
        "car": None if plan.before is None else plan.before.build.car,
        "target": target_document(plan.target),
        "reachable": plan.reachable,
        "cost": cost_document(plan.cost),
        "lower_bound": _money(plan.lower_bound),
        "gap": _money(plan.gap),
        "proven": plan.proven,
        "proof": plan.proof,
        "policy": {
            "exceed_harm": plan.policy.harm,
            "exceed_cost": plan.policy.cost,
            "holds_probability": plan.policy.holds,
        },
        "steps": [_step(s) for s in plan.steps],
        "shared_labour": [
            {"operation": s.operation, "saves_h": _hours(s.saves), "for": list(s.jobs)} for s in plan.shared_labour
        ],
        "conflict": [_reason(r) for r in plan.conflict],
        "irreducible": plan.irreducible,
        "misses": [
            {"slot": m.slot, "part": m.part, "rule": m.rule, "probability": round(m.chance, 4), "allowed": m.allowed}
            for m in plan.misses
        ],
        "notes": list(plan.notes),
        "wait_days": round(plan.wait[0] / 86400.0, 1),
        "lacks": [
            {"slot": m.slot, "part": m.part, "rule": m.rule, "probability": round(m.chance, 4), "allowed": m.allowed}
            for m in plan.lacks
        ],
        "on_another_fuel": None if plan.refuelled is None else plan_document(plan.refuelled),
        "nearest": None if plan.nearest is None else plan_document(plan.nearest),
        "instead": None if plan.instead is None else plan_document(plan.instead),
        "effort": {k: round(v, 3) for k, v in plan.effort.items()},
        "before": None if plan.before is None else check_document(plan.before),
        "after": None if plan.after is None else check_document(plan.after),
    }


def turning_document(turns: Iterable[Turn]) -> list[Document]:
    """Ratings that would change a plan."""
    return [
        {
            "slot": t.slot,
            "part": t.part,
            "rating": t.rating,
            "enough_factor": t.enough,
            "short_factor": t.short,
            "saves_net": _money(t.saves),
        }
        for t in turns
    ]


def missing_document(rows: Iterable[Missing]) -> list[Document]:
    """What is not known, and what a plan costs with tax if it turns out good or bad; null where no plan is left."""
    return [
        {
            "slot": m.slot,
            "part": m.part,
            "what": m.what,
            "good_means": m.meant,
            "total": _money(m.total),
            "total_if_good": _money(m.good),
            "total_if_bad": _money(m.bad),
            "worth": _money(m.worth),
        }
        for m in rows
    ]


def path_document(path: Path) -> Document:
    """Plans one after the other: the document of the last, with every stage in it."""
    return {
        **plan_document(path.second),
        "stages": [plan_document(plan) for plan in path.plans],
        "drivable": list(path.drivable),
        "path_total": _money(path.total),
        "direct_total": _money(path.direct),
        "alone_totals": [_money(total) for total in path.alone],
        "regrets": [_money(value) for value in path.regrets],
        "regret": _money(path.regret),
        "thrown_away": list(path.thrown_away),
        "nearest_path": None if path.nearest is None else path_document(path.nearest),
        "instead_path": None if path.instead is None else path_document(path.instead),
    }


def options_document(made: Offer, least: Iterable[Cost | None]) -> Document:
    """Three ways: the document of the chosen one, or of the wish that has none, with every way in it.

    Parameters
    ----------
    made : Offer
        The ways.
    least : iterable of Cost or None
        For each way the least cost of its power with nothing left as it is.
    """
    chosen = made.chosen.plan if made.chosen is not None else made.refused
    return {
        **(plan_document(chosen) if chosen is not None else {"schema": "pinchpoint.plan/1", "reachable": False}),
        "rule": RULE,
        "options": [
            {
                "name": option.name,
                "power_kW": _kilowatts(option.power, 3),
                "least_total": None if cost is None else _money(cost.total),
                "plan": plan_document(option.plan),
            }
            for option, cost in zip(made.options, least, strict=True)
        ],
        "wish": None if made.refused is None else plan_document(made.refused),
        "stopped_kW": [_kilowatts(power, 3) for power in made.stopped],
    }


def frontier_document(points: Iterable[Point]) -> Document:
    """Money against power."""
    return {
        "schema": "pinchpoint.frontier/1",
        "points": [
            {
                "power_kW": _kilowatts(p.power, 3),
                "total": _money(p.total),
                "parts": list(p.parts),
                "fuel": p.fuel,
                "holds_probability": round(p.holds_probability, 4),
                "carries_kW": _kilowatts(p.carries),
                "proven": p.proven,
            }
            for p in points
        ],
    }
