"""Plans as text: the answer in one sentence, then what to fit, why, and what is left without it."""

from __future__ import annotations

import math
from collections.abc import Iterable

from graph.kinds import discover
from graph.plan.record import Path, Plan, Point
from graph.plan.turn import Turn
from ui.caution import cautions
from ui.format import kilowatts, number, percent

MOST_REASONS = 3


def plan_text(plan: Plan, *, inner: bool = False) -> str:
    """A whole plan as text.

    Parameters
    ----------
    plan : Plan
        The answer.
    inner : bool
        True for a plan inside another one, which has said the cautions.

    Returns
    -------
    str
        Lines.
    """
    lines = [_headline(plan), *_cost(plan), *_waiting(plan), *_misses(plan), *_steps(plan), *_shared(plan)]
    lines += [*_conflict(plan), *_notes(plan)]
    if plan.proof and not inner:
        lines += ["", plan.proof]
    if plan.nearest is not None:
        lines += ["", "Nearest to it, below the margins asked:", "", plan_text(plan.nearest, inner=True).rstrip()]
    if plan.instead is not None:
        head = "What the policy or the budget allows instead:"
        lines += ["", head, "", plan_text(plan.instead, inner=True).rstrip()]
    if not inner:
        lines += _cautions(plan)
    return "\n".join(lines) + "\n"


def _headline(plan: Plan) -> str:
    target = plan.target
    cap = "" if target.boost_cap is None else f" within {number(target.boost_cap / 1e5, 1)} bar boost"
    fuel = "any fuel of the book" if plan.fuel_open else target.fuel.name
    asked = f"{kilowatts(target.power)} kW{cap} on {fuel}"
    if not plan.reachable and not plan.proven:
        return f"No answer yet for {asked}: the time ran out, which proves nothing."
    if not plan.reachable or plan.cost is None:
        return f"No plan for {asked}."
    if not plan.steps:
        return f"{asked}: the car does it as it stands."
    many = f"{len(plan.steps)} parts" if len(plan.steps) > 1 else "1 part"
    word = "proven cheapest" if plan.proven else "cheapest found"
    if plan.misses:
        word += ", but below the margins asked"
    return f"{asked}: {many}, {number(plan.cost.total)} {plan.cost.currency} with tax, {word}."


def _cost(plan: Plan) -> list[str]:
    cost = plan.cost
    if cost is None:
        return []
    lines = [
        f"parts {number(cost.parts)} + labour {number(cost.labour / 3600.0, 1)} h = {number(cost.work)}; net {number(cost.net)}, "
        f"tax {number(cost.tax)}, total {number(cost.total)} {cost.currency}; lower bound {number(plan.lower_bound)}, gap {number(plan.gap or 0.0)}"
    ]
    if plan.after is not None:
        after = plan.after
        lines.append(
            f"the finished car carries {kilowatts(after.carries)} kW; chance that it holds "
            f"{kilowatts(plan.target.power)} kW: {percent(after.holds_probability)}"
            + ("" if plan.misses else f" (policy: {percent(plan.policy.holds)} or more)")
        )
    return lines


def _waiting(plan: Plan) -> list[str]:
    """When every part is there, and the work after that."""
    wait, last = plan.wait
    if plan.cost is None or not plan.steps:
        return []
    unknown = [s.install for s in plan.steps if (s.stock or 0) < 1 and s.lead_time is None and s.price > 0.0]
    hours = number(plan.cost.labour / 3600.0, 1)
    first = (
        f"the last part, {last.install}, is there after {number(wait / 86400.0)} days"
        if last
        else "no part is waited for"
    )
    more = f"; the wait for {', '.join(unknown)} is not known" if unknown else ""
    return [f"{first}; then {hours} h of work{more}"]


def _misses(plan: Plan) -> list[str]:
    """What a plan below the policy does not keep."""
    if not plan.misses:
        return []
    lines = ["", f"Passed more often than allowed at {kilowatts(plan.target.power)} kW:"]
    for m in plan.misses:
        if m.slot == "car":
            lines.append(f"  {m.rule}: {percent(m.chance)}, {percent(m.allowed)} is asked")
        else:
            part = f" {m.part}" if m.part else ""
            lines.append(f"  {m.slot}{part}, {m.rule}: {percent(m.chance)}, {percent(m.allowed)} is allowed")
    return lines


def _notes(plan: Plan) -> list[str]:
    return ["", "In the book:", *(f"- {n}" for n in plan.notes)] if plan.notes else []


def _steps(plan: Plan) -> list[str]:
    if not plan.steps:
        return []
    lines = ["", f"{'slot':22}{'install':10}{'price':>7}{'hours':>7}{'without':>9}  why"]
    for step in plan.steps:
        skip = "·" if step.skip_ceiling is None else kilowatts(step.skip_ceiling)
        said = [f"{r.because.value}: {r.text}" for r in step.why[:MOST_REASONS]]
        head = f"{step.slot:22}{step.install:10}{number(step.price):>7}{number(step.labour / 3600.0, 1):>7}{skip:>9}  "
        lines.append(head + (said[0] if said else step.name))
        lines += [" " * len(head) + more for more in said[1:]]
        if step.tasks:
            lines.append(" " * len(head) + "with it: " + ", ".join(step.tasks))
    lines.append("(without: kW that the finished car carries if this part alone is left out)")
    return lines


def _shared(plan: Plan) -> list[str]:
    if not plan.shared_labour:
        return []
    return ["", "Paid once:"] + [
        f"  {s.operation}: saves {number(s.saves / 3600.0, 1)} h, shared by {', '.join(s.jobs)}"
        for s in plan.shared_labour
    ]


def _conflict(plan: Plan) -> list[str]:
    if not plan.conflict:
        return []
    head = "These exclude each other; with any one of them gone the rest can be met:"
    if not plan.irreducible:
        head = "These exclude each other; the time ran out before it was clear that all of them are needed for that:"
    if len(plan.conflict) == 1:
        head = "This alone stands against it:"
    return ["", head] + [f"  {r.because.value}: {r.text}" for r in plan.conflict]


def _cautions(plan: Plan) -> list[str]:
    names: set[str] = set()
    for one in (plan, plan.nearest, plan.instead):
        if one is not None and one.after is not None:
            touched = {step.slot for step in one.steps}
            names |= {p.slot.kind for p in one.after.build.places if p.slot.name in touched}
    found = cautions([k for k in discover().values() if k.name in names])
    return ["", "With this work:", *(f"- {c}" for c in found)] if found else []


def turning_text(turns: Iterable[Turn]) -> str:
    """Ratings that would change a plan, as text."""
    lines = [
        f"  {t.slot} {t.part}: {t.rating} {percent(t.enough - 1.0)} better than stated ({percent(t.short - 1.0)} is not "
        f"enough) would leave it there; the step costs {number(t.saves)} net on its own"
        for t in turns
    ]
    return "\n".join(["", "Numbers that would change the plan:", *lines]) + "\n" if lines else ""


def path_text(path: Path) -> str:
    """Two stages as text."""
    if not math.isfinite(path.total):
        return "No path over both stages.\n\n" + plan_text(path.second if path.first.reachable else path.first)
    thrown = ", ".join(path.thrown_away) or "nothing"
    lines = [
        f"Both stages together {number(path.total)}; at once it would be {number(path.direct)}. Thrown away: {thrown}.",
        f"Starting with the cheapest first stage would cost {number(path.regret)} more in the end."
        if path.regret > 0.005
        else "The cheapest first stage is also the right start.",
    ]
    for n, plan in enumerate((path.first, path.second), start=1):
        lines += ["", f"Stage {n}", plan_text(plan).rstrip()]
    return "\n".join(lines) + "\n"


def frontier_text(points: Iterable[Point]) -> str:
    """Money against power as text."""
    rows = list(points)
    if not rows:
        return "No power on the grid can be planned for this car.\n"
    lines = [f"{'kW':>6}{'total':>9}{'chance':>8}  {'fuel':8}parts"]
    lines += [
        f"{kilowatts(p.power):>6}{number(p.total):>9}{percent(p.holds_probability):>8}  {p.fuel:8}"
        f"{len(p.parts)}: {', '.join(p.parts[:8])}{' ...' if len(p.parts) > 8 else ''}"
        + ("" if p.proven else "  (not proven)")
        for p in rows
    ]
    return "\n".join(lines) + "\n"
