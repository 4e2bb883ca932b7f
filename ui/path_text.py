"""More than one plan as text: stages, numbers that would change a plan, numbers that are missing, three ways."""

from __future__ import annotations

import math
from collections.abc import Iterable

from graph.plan.path import Missing, Path
from graph.plan.record import Cost
from graph.plan.turn import Turn
from ui.customer_options import Offer
from ui.format import counted, kilowatts, number, percent, power_unit
from ui.plan_text import plan_text
from ui.way_rule import RULE


def _money(total: float) -> str:
    return number(total) if math.isfinite(total) else "no plan"


def turning_text(turns: Iterable[Turn]) -> str:
    """Ratings that would change a plan, as text."""
    lines = [
        f"  {t.slot} {t.part}: {t.rating} {percent(t.enough - 1.0)} better than stated ({percent(t.short - 1.0)} is not "
        f"enough) would leave it there; the step costs {number(t.saves)} net on its own"
        for t in turns
    ]
    return "\n".join(["", "Numbers that would change the plan:", *lines]) + "\n" if lines else ""


def missing_text(rows: Iterable[Missing]) -> str:
    """What is not known, the most valuable first, as text.

    Parameters
    ----------
    rows : iterable of Missing
        Of a plan.

    Returns
    -------
    str
        Lines; nothing where everything is known.
    """
    lines = []
    for m in rows:
        if m.good is None or m.bad is None:
            lines.append(f"  {m.slot} ({m.what}): not worked out, the time ran out")
            continue
        saved = f"; worth {number(m.worth)}" if m.worth > 0.005 else "; it would change nothing"
        lines.append(
            f"  {m.slot} ({m.what}): {_money(m.good)} if {m.meant}, {_money(m.bad)} if not, {_money(m.total)} as long as "
            f"nobody knows{saved}"
        )
    return "\n".join(["", "What is not known, and what the plan would cost:", *lines]) + "\n" if lines else ""


def path_text(path: Path) -> str:
    """Stages as text: what is paid when, what regret is left, then each stage.

    Parameters
    ----------
    path : Path
        The answer.

    Returns
    -------
    str
        Lines.
    """
    if not math.isfinite(path.total):
        return _no_path(path)
    return "\n".join([*_ledger(path), *_stages(path)]) + "\n"


def path_title(path: Path | None, first: float, last: float, currency: str) -> str:
    """What two stages come to, as the heading above them.

    Parameters
    ----------
    path : Path or None
        The answer; None as long as it is searched.
    first, last : float
        Powers that were asked for [W].
    currency : str
        Of the shop.

    Returns
    -------
    str
        Without a full stop.
    """
    if path is not None and not math.isfinite(path.total):
        return f"No set of parts for {kilowatts(path.second.target.power)} {power_unit()}"
    title = f"First {kilowatts(first)} {power_unit()}, later {kilowatts(last)} {power_unit()}"
    if path is None:
        return title
    thrown = f"{', '.join(path.thrown_away)} is thrown away" if path.thrown_away else "nothing is thrown away"
    return f"{title}: together {number(path.total)} {currency}, {thrown}"


def start_text(path: Path) -> str:
    """Whether the cheapest first stage is the right start, in a sentence."""
    if not math.isfinite(path.regret):
        return "The cheapest first stage would leave no way to the last one; this first stage costs more and leaves it."
    if path.regret > 0.005:
        return f"Starting with the cheapest first stage would cost {number(path.regret)} more in the end."
    return "The cheapest first stage is also the right start."


def _ledger(path: Path) -> list[str]:
    thrown = ", ".join(path.thrown_away) or "nothing"
    lines = [
        f"All stages together {number(path.total)}; at once it would be {number(path.direct)}. Thrown away: {thrown}.",
        start_text(path),
        "",
        f"{'stage':7}{power_unit():>6}{'pays':>9}{'paid':>9}{'alone':>9}{'regret':>9}  on its own",
    ]
    paid = 0.0
    rows = zip(path.plans, path.alone, path.regrets, path.drivable, strict=True)
    for n, (plan, alone, regret, drivable) in enumerate(rows, start=1):
        total = plan.cost.total if plan.cost is not None else 0.0
        paid += total
        state = "every limit keeps its margin in the full check" if drivable else "below the margins asked"
        lines.append(
            f"{n:<7}{kilowatts(plan.target.power):>6}{number(total):>9}{number(paid):>9}{number(alone):>9}"
            f"{number(regret):>9}  {state}"
        )
    first, last = path.regrets[0], path.regrets[-1]
    lines.append(
        "(alone: the cheapest way to that stage from the car as it is now; regret: what was paid by then above it)"
    )
    lines.append(
        f"A customer who stops after stage 1 has paid {number(first)} too much; one who goes all the way {number(last)}."
    )
    return lines


def _stages(path: Path) -> list[str]:
    lines = []
    for n, plan in enumerate(path.plans, start=1):
        lines += ["", f"Stage {n}", plan_text(plan, inner=n < len(path.plans)).rstrip()]
    return lines


def _no_path(path: Path) -> str:
    failed = path.second
    lines = [f"No path over these stages: stage {len(path.plans)} has no plan.", "", plan_text(failed).rstrip()]
    for head, other in (
        ("The path nearest to it, below the margins asked:", path.nearest),
        ("The path that keeps the margins and goes furthest:", path.instead),
    ):
        if other is not None:
            lines += ["", head, "", *_ledger(other), *_stages(other)]
    return "\n".join(lines) + "\n"


def options_text(made: Offer, least: Iterable[Cost | None]) -> str:
    """Good, better, best as text.

    Parameters
    ----------
    made : Offer
        The ways.
    least : iterable of Cost or None
        For each way the least cost of its power with nothing left as it is.

    Returns
    -------
    str
        Lines: one for each way, the rule, then the chosen way in full.
    """
    lines = []
    for option, cost in zip(made.options, least, strict=True):
        plan = option.plan
        total = math.inf if plan.cost is None else plan.cost.total
        more = total - (total if cost is None else cost.total)
        line = "on the line of least cost" if more < 0.01 else f"{number(more)} more than with every place open"
        holds = "" if plan.after is None else f", held {percent(plan.after.holds_probability)} of the time"
        lines.append(
            f"{option.name:7}{kilowatts(option.power):>5} {power_unit()} on {plan.target.fuel.name}: {_money(total)} with "
            f"tax, {counted(len(plan.steps), 'part')}{holds}; {line}"
        )
    if not lines:
        lines.append("No way can be offered: no set of parts gains anything with the margins asked.")
    stopped = ", ".join(f"{kilowatts(power)} {power_unit()}" for power in made.stopped)
    if stopped:
        lines.append(f"The time ran out at {stopped}; more time may find a way there.")
    lines += ["", RULE]
    chosen = made.chosen
    if made.refused is not None:
        lines += ["", plan_text(made.refused, inner=True).rstrip()]
    if chosen is not None:
        lines += ["", f"The way called {chosen.name}:", "", plan_text(chosen.plan).rstrip()]
    return "\n".join(lines) + "\n"
