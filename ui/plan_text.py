"""Plans as text: the answer in one sentence, then what to fit, why, and what is left without it."""

from __future__ import annotations

from collections.abc import Iterable

from graph.kinds import discover
from graph.plan.record import Miss, Plan, Point
from ui.caution import cautions
from ui.format import boost, counted, kilowatts, number, percent, power_unit, respoken

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
    lines = [_headline(plan), *_standing(plan), *_cost(plan), *_waiting(plan), *_misses(plan)]
    lines += [*_possible(plan), *_steps(plan), *_shared(plan), *_conflict(plan), *([] if inner else _notes(plan))]
    if plan.proof and not inner:
        lines += ["", respoken(plan.proof)]
    for head, other in _others(plan):
        lines += ["", head, "", plan_text(other, inner=True).rstrip()]
    if not inner:
        lines += _cautions(plan)
    return "\n".join(lines) + "\n"


def _headline(plan: Plan) -> str:
    target = plan.target
    cap = "" if target.boost_cap is None else f" within {boost(target.boost_cap)} boost"
    fuel = "any fuel of the book" if plan.fuel_open else target.fuel.name
    asked = f"{kilowatts(target.power)} {power_unit()}{cap} on {fuel}"
    if not plan.reachable and not plan.proven:
        return f"No answer yet for {asked}: the time ran out, which proves nothing."
    if not plan.reachable or plan.cost is None:
        return f"No plan for {asked}."
    if not plan.steps:
        return f"{asked}: the car does it as it stands."
    many = counted(len(plan.steps), "part")
    word = "proven cheapest" if plan.proven else "cheapest found"
    if plan.misses:
        word += ", but below the margins asked"
    return f"{asked}: {many}, {number(plan.cost.total)} {plan.cost.currency} with tax, {word}."


def _power(value: float | None) -> str:
    return f"{kilowatts(value)} {power_unit()}"


def _standing(plan: Plan) -> list[str]:
    """What the car does as it stands, where that is not what anybody would expect."""
    before = plan.before
    if before is None or (plan.reachable and not plan.steps):
        return []
    if before.carries < plan.target.power:
        return [] if plan.reachable else [f"as it stands the car carries {_power(before.carries)}"]
    if before.unknown:
        open_slots = ", ".join(dict.fromkeys(u.slot for u in before.unknown))
        return [f"as it stands the car carries {_power(before.carries)} or less, for nobody has seen: {open_slots}"]
    lines = [f"as it stands the car carries {_power(before.carries)}, but not with the margins asked:"]
    return lines + [_missed(m) for m in plan.lacks] if plan.lacks else []


def _possible(plan: Plan) -> list[str]:
    """What would make a target possible that no set reaches, in a line each."""
    if plan.reachable:
        return []
    lines = []
    if plan.refuelled is not None and plan.refuelled.cost is not None:
        other = plan.refuelled
        lines.append(f"  another fuel: on {other.target.fuel.name} it costs {_total(other)}")
    near = plan.nearest
    if near is not None and near.after is not None:
        lines.append(
            f"  narrower margins: {_total(near)} on {near.target.fuel.name} holds it {percent(near.after.holds_probability)} "
            f"of the time instead of {percent(plan.policy.holds)}; "
            f"--harm {100 * near.policy.harm:.3g} --loss {100 * near.policy.cost:.3g} --holds {100 * near.policy.holds:.3g}"
        )
    if plan.instead is not None and plan.instead.cost is not None:
        less = plan.instead
        price = f"costs {_total(less)}" if less.steps else "needs nothing, the car does it as it stands"
        lines.append(f"  less power: {_power(less.target.power)} on {less.target.fuel.name} {price}")
    return ["", "What is possible:", *lines] if lines else []


def _total(plan: Plan) -> str:
    return "" if plan.cost is None else f"{number(plan.cost.total)} {plan.cost.currency} with tax"


def _others(plan: Plan) -> list[tuple[str, Plan]]:
    """Plans inside a plan, each with what it is."""
    found = []
    if plan.refuelled is not None:
        found.append(("On another fuel, with the margins asked:", plan.refuelled))
    if plan.nearest is not None:
        wide, asked = plan.nearest.policy, plan.policy
        head = (
            f"Nearest to it, below the margins asked; here a limit may be passed {percent(wide.harm)} of the time where "
            f"that does harm and {percent(wide.cost)} where it only costs power, not {percent(asked.harm)} and "
            f"{percent(asked.cost)}:"
        )
        found.append((head, plan.nearest))
    if plan.instead is not None:
        found.append(("What the margins or the budget allow instead:", plan.instead))
    return found


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
            f"the finished car carries {_power(after.carries)}; chance that it holds "
            f"{_power(plan.target.power)}: {percent(after.holds_probability)}"
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
    return ["", f"Passed more often than allowed at {_power(plan.target.power)}:", *(_missed(m) for m in plan.misses)]


def _missed(miss: Miss) -> str:
    if miss.slot == "car":
        return f"  {miss.rule}: {percent(miss.chance)}, {percent(miss.allowed)} is asked"
    part = f" {miss.part}" if miss.part else ""
    return f"  {miss.slot}{part}, {miss.rule}: {percent(miss.chance)}, {percent(miss.allowed)} is allowed"


def _notes(plan: Plan) -> list[str]:
    return ["", "In the book:", *(f"- {n}" for n in plan.notes)] if plan.notes else []


def _steps(plan: Plan) -> list[str]:
    if not plan.steps:
        return []
    lines = ["", f"{'slot':22}{'install':10}{'price':>7}{'hours':>7}{'without':>9}  why"]
    for step in plan.steps:
        skip = "·" if step.skip_ceiling is None else kilowatts(step.skip_ceiling)
        said = [f"{r.because.value}: {respoken(r.text)}" for r in step.why[:MOST_REASONS]]
        if step.used is not None:
            said.append(f"from the shelf: {step.used}")
        head = f"{step.slot:22}{step.install:10}{number(step.price):>7}{number(step.labour / 3600.0, 1):>7}{skip:>9}  "
        lines.append(head + (said[0] if said else step.name))
        lines += [" " * len(head) + more for more in said[1:]]
        if step.tasks:
            lines.append(" " * len(head) + "with it: " + ", ".join(step.tasks))
    lines.append(f"(without: {power_unit()} that the finished car carries if this part alone is left out)")
    return lines


def _shared(plan: Plan) -> list[str]:
    if not plan.shared_labour:
        return []
    return ["", "Paid once:"] + [
        f"  {s.operation}: saves {number(s.saves / 3600.0, 1)} h, shared by {', '.join(s.jobs)}"
        for s in plan.shared_labour
    ]


def conflict_head(plan: Plan) -> str:
    """What is said above the reasons of a plan that was not found.

    Parameters
    ----------
    plan : Plan
        With at least one reason.

    Returns
    -------
    str
        Without a full stop or colon.
    """
    if not plan.proven:
        return "Why there is no answer"
    if len(plan.conflict) == 1:
        return "This alone stands against it"
    if not plan.irreducible:
        return "These exclude each other; the search was ended before it was clear that all of them are needed for that"
    return "These exclude each other; with any one of them gone the rest can be met"


def _conflict(plan: Plan) -> list[str]:
    if not plan.conflict:
        return []
    return ["", f"{conflict_head(plan)}:"] + [f"  {r.because.value}: {respoken(r.text)}" for r in plan.conflict]


def _cautions(plan: Plan) -> list[str]:
    names: set[str] = set()
    for one in (plan, plan.refuelled, plan.nearest, plan.instead):
        if one is not None and one.after is not None:
            touched = {step.slot for step in one.steps}
            names |= {p.slot.kind for p in one.after.build.places if p.slot.name in touched}
    found = cautions([k for k in discover().values() if k.name in names])
    return ["", "With this work:", *(f"- {c}" for c in found)] if found else []


def frontier_text(points: Iterable[Point]) -> str:
    """Money against power as text."""
    rows = list(points)
    if not rows:
        return "No power on the grid can be planned for this car.\n"
    lines = [f"{power_unit():>6}{'total':>9}{'chance':>8}  {'fuel':8}parts"]
    lines += [
        f"{kilowatts(p.power):>6}{number(p.total):>9}{percent(p.holds_probability):>8}  {p.fuel:8}"
        f"{len(p.parts)}: {', '.join(p.parts[:8])}{' ...' if len(p.parts) > 8 else ''}"
        + ("" if p.proven else "  (not proven)")
        for p in rows
    ]
    return "\n".join(lines) + "\n"
