"""Money against power, three ways chosen by a rule, and the way there in two stages."""

from __future__ import annotations

import math
from dataclasses import replace

import streamlit as st

from graph.plan.record import Path, Plan, Point
from graph.quantity import Quantity
from graph.service import Request
from ui import desk
from ui.asked import STEP, Asked, power_range, to_si
from ui.customer_options import powers
from ui.errand import lane
from ui.format import kilowatts, number, percent, power_unit
from ui.inputs import keep, kept
from ui.money_chart import Way, money_chart
from ui.page_plan import PLANS, Terms, wished
from ui.plan_text import _headline
from ui.progress import watch
from ui.sheet_table import Markup, lead, link, note, table, trouble, unbroken
from ui.theme import palette

#: Step of the powers [W].
STRIDE = 10.0e3
NAMES = {1: ("better",), 2: ("good", "better"), 3: ("good", "better", "best")}


def money(asked: Asked, answer: st.delta_generator.DeltaGenerator) -> None:
    """Show money against power.

    Parameters
    ----------
    asked : Asked
        The question.
    answer : delta_generator
        Place of the heading.
    """
    terms = wished(asked)
    commission = desk.commission(asked.car, _anywhere(asked, terms), terms.wishes)
    key = ("frontier", commission)
    errand = lane(PLANS).ask(key, "frontier", commission, STRIDE)
    points: tuple[Point, ...] = errand.news.best or ()
    ways = _ways(points, asked)
    currency = commission.terms.shop.currency
    with answer:
        st.title(unbroken(_title(points, asked, currency)))
        note(
            f"Cheapest set of parts for each power in steps of {STRIDE / 1e3:.0f} kW, with labour and tax, held with at "
            f"least {percent(commission.terms.policy.holds)} probability. Each riser is what has to be bought first."
        )
    watch(errand, points or None, among=PLANS)
    if not points:
        if errand.news.done and not errand.news.failed:
            trouble("No power on the grid can be planned for this car with these side conditions.")
        return
    names = {p.id: kinds for p in desk.parts() if (kinds := p.kind.replace("_", " "))}
    picture = money_chart(points, ways, names, currency, palette())
    st.vega_lite_chart(picture, width="stretch", theme=None, key="money", alt=_title(points, asked, currency))
    _three(ways, asked, currency)
    with st.expander("The line as a table"):
        table(
            (f"crank {power_unit()}", f"total, {currency}", "holds", "fuel", "proven", "parts"),
            [
                (
                    kilowatts(p.power),
                    number(p.total),
                    percent(p.holds_probability),
                    p.fuel,
                    "yes" if p.proven else "not proven",
                    ", ".join(p.parts),
                )
                for p in points
            ],
            right=(0, 1, 2),
        )


def _anywhere(asked: Asked, terms: Terms) -> Request:
    """What the line is asked for: the same at every power."""
    platform = next(c.platform for c in desk.cars() if c.id == asked.car)
    return replace(terms.request, power=desk.platforms()[platform].constants["factory power"])


def _ways(points: tuple[Point, ...], asked: Asked) -> tuple[Way, ...]:
    """The points that are good, better and best: near what the car carries, what its fuel allows, the wish."""
    report, _ = desk.best(asked.car, asked.request())
    found: dict[float, Point] = {}
    for power in powers(report):
        reached = [p for p in points if p.power >= power - 1.0]
        chosen = min(reached, key=lambda p: p.power, default=None) or (points[-1] if points else None)
        if chosen is not None:
            found[chosen.power] = chosen
    chosen_points = [found[power] for power in sorted(found)]
    return tuple(
        Way(name=name, point=point) for name, point in zip(NAMES.get(len(found), ()), chosen_points, strict=False)
    )


def _title(points: tuple[Point, ...], asked: Asked, currency: str) -> str:
    if not points:
        return f"What more power costs on {asked.car}"
    first, last = points[0], points[-1]
    if len(points) == 1 or last.power <= first.power:
        return f"{kilowatts(first.power)} {power_unit()} costs {number(first.total)} {currency}"
    gained = (last.power - first.power) / 1e3
    each = (last.total - first.total) / gained
    return (
        f"{kilowatts(first.power)} {power_unit()} costs {number(first.total)} {currency}; "
        f"each kW more, up to {kilowatts(last.power)} {power_unit()}, about {number(round(each, -1))}"
    )


def _three(ways: tuple[Way, ...], asked: Asked, currency: str) -> None:
    if not ways:
        return
    st.header(" / ".join(w.name.capitalize() for w in ways))
    rows: list[tuple[str | Markup, ...]] = []
    for n, way in enumerate(ways, start=1):
        p = way.point
        address = {**asked.address(), "power": f"{p.power / 1e3:g}", "view": "fit"}
        rows.append(
            (
                f"{n} {way.name}",
                link(f"{kilowatts(p.power)} {power_unit()}", "plan", address),
                number(round(p.total / 50.0) * 50.0),
                percent(p.holds_probability),
                p.fuel,
                str(len(p.parts)),
                "proven cheapest" if p.proven else "cheapest found",
            )
        )
    table(("", "power", f"total, {currency}", "holds", "fuel", "parts", ""), rows, right=(2, 3, 5))
    note(
        "The rule: what the car carries 4 times in 5, what its own fuel allows 4 times in 5, and the wish, each taken to "
        "the next power of the line."
    )


def stages(asked: Asked, answer: st.delta_generator.DeltaGenerator) -> None:
    """Show the way to the target in two stages.

    Parameters
    ----------
    asked : Asked
        The question; its power is the second stage.
    answer : delta_generator
        Place of the heading.
    """
    platform = desk.platforms()[next(c.platform for c in desk.cars() if c.id == asked.car)]
    low, _ = power_range(platform)
    top = asked.power - STEP["power"]
    if top <= low:
        with answer:
            st.title("Two stages need a target above the lowest power")
        return
    usual = min(max(round((platform.constants["factory power"] / 1e3 + asked.power) / 10.0) * 5.0, low), top)
    key = kept(f"first stage {asked.car}", usual)
    st.session_state[key] = min(max(st.session_state[key], low), top)
    first = st.slider("first stage, crank kW", low, top, step=STEP["power"], format="%.0f", key=key)
    keep(key, first)
    terms = wished(asked)
    commission = desk.commission(asked.car, _anywhere(asked, terms), terms.wishes)
    powers_asked = to_si(first, Quantity.POWER), to_si(asked.power, Quantity.POWER)
    errand = lane(PLANS).ask(("stages", commission, *powers_asked), "stages", commission, *powers_asked)
    path: Path | None = errand.news.best
    with answer:
        st.title(unbroken(_path_title(path, first, asked, commission.terms.shop.currency)))
    watch(errand, path, among=PLANS)
    if path is None:
        return
    if math.isfinite(path.total):
        at_once = f"At once it would be {number(path.direct)}." if math.isfinite(path.direct) else ""
        regret = (
            f"Starting with the cheapest first stage instead would cost {number(path.regret)} more in the end."
            if path.regret > 0.005
            else "The cheapest first stage is also the right start."
        )
        lead(" ".join(filter(None, (at_once, regret))))
    for n, plan in enumerate((path.first, path.second), start=1):
        _stage(n, plan, path, asked)


def _path_title(path: Path | None, first: float, asked: Asked, currency: str) -> str:
    if path is None:
        return f"First {first:g} kW, later {asked.power:g} kW"
    if not math.isfinite(path.total):
        return f"No way over {first:g} kW to {asked.power:g} kW"
    thrown = "nothing is thrown away" if not path.thrown_away else f"{', '.join(path.thrown_away)} is thrown away"
    return f"First {first:g} kW, later {asked.power:g} kW: together {number(path.total)} {currency}, {thrown}"


def _stage(n: int, plan: Plan, path: Path, asked: Asked) -> None:
    st.header(f"Stage {n}")
    lead(_headline(plan))
    if plan.conflict:
        table(("", "what"), [(r.because.value, r.text) for r in plan.conflict])
    if plan.steps:
        table(
            ("place", "part", "", "net price", "hours", "later"),
            [
                (
                    s.slot,
                    link(s.install, "parts", {"part": s.install}),
                    s.name,
                    number(s.price),
                    number(s.labour / 3600.0, 1),
                    "" if n == 2 else "thrown away" if s.install in path.thrown_away else "stays",
                )
                for s in plan.steps
            ],
            right=(3, 4),
        )
    address = {**asked.address(), "power": f"{plan.target.power / 1e3:g}", "view": "fit"}
    note(Markup(f"{link('this stage in full', 'plan', address)}"))
