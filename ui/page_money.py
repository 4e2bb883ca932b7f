"""Money against power, three ways chosen by a rule, and the way there in two stages."""

from __future__ import annotations

import math
from dataclasses import replace

import streamlit as st

from graph.kinds import discover
from graph.plan.path import Path
from graph.plan.record import Plan, Point
from graph.quantity import Quantity
from graph.service import Request
from ui import desk
from ui.asked import STEP, Asked, power_range, shown, to_si
from ui.errand import lane
from ui.format import in_unit, kilowatts, number, percent, power_unit, respoken
from ui.inputs import keep, kept
from ui.money_chart import Way, money_chart
from ui.money_way import ways_on_line
from ui.page_plan import PLANS, Terms, wished
from ui.path_text import path_title, start_text
from ui.plan_text import _headline
from ui.progress import watch
from ui.sheet_table import Markup, lead, link, note, table, trouble, unbroken
from ui.theme import palette
from ui.way_rule import RULE

#: Step of the powers [W].
STRIDE = 10.0e3


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
    ways = _ways(points, asked) if errand.news.done else ()  # the line may go on
    currency = commission.terms.shop.currency
    with answer:
        st.title(unbroken(_title(points, asked, currency)))
        note(
            f"Cheapest set of parts for each power in steps of {kilowatts(STRIDE)} {power_unit()}, with labour and tax, held with at "
            f"least {percent(commission.terms.policy.holds)} probability. Each riser is what has to be bought first."
        )
    watch(errand, points or None, among=PLANS)
    if not points:
        if errand.news.done and not errand.news.failed:
            trouble("No power on the grid can be planned for this car with these side conditions.")
        return
    kinds = discover()
    names = {p.id: kinds[p.kind].label if p.kind in kinds else p.kind for p in desk.parts()}
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
    """The points that are good, better and best by the customer page's rule."""
    kinds = {p.id: p.kind for p in desk.parts()}

    def changed(point: Point) -> set[str]:
        other_fuel = {"fuel_grade"} if point.fuel != asked.fuel else set[str]()
        return {kinds.get(number, "") for number in point.parts} | other_fuel

    return ways_on_line(points, changed, to_si(asked.power, Quantity.POWER))


def _title(points: tuple[Point, ...], asked: Asked, currency: str) -> str:
    if not points:
        return f"What more power costs on {asked.car}"
    first, last = points[0], points[-1]
    if len(points) == 1 or last.power <= first.power:
        return f"{kilowatts(first.power)} {power_unit()} costs {number(first.total)} {currency}"
    gained = in_unit(last.power - first.power, Quantity.POWER) or 1.0
    each = (last.total - first.total) / gained
    return (
        f"{kilowatts(first.power)} {power_unit()} costs {number(first.total)} {currency}; "
        f"each {power_unit()} more, up to {kilowatts(last.power)} {power_unit()}, about {number(round(each, -1))}"
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
    note(f"The rule of the customer's page, read off the points of this line. {RULE}")


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
    first = _first_stage(asked, low, top, shown(platform.constants["factory power"], Quantity.POWER))
    terms = wished(asked)
    commission = desk.commission(asked.car, _anywhere(asked, terms), terms.wishes)
    powers_asked = to_si(first, Quantity.POWER), to_si(asked.power, Quantity.POWER)
    errand = lane(PLANS).ask(("stages", commission, *powers_asked), "stages", commission, *powers_asked)
    path: Path | None = errand.news.best
    with answer:
        st.title(unbroken(path_title(path, *powers_asked, commission.terms.shop.currency)))
    watch(errand, path, among=PLANS)
    if path is None:
        return
    if math.isfinite(path.total):
        at_once = f"At once it would be {number(path.direct)}." if math.isfinite(path.direct) else ""
        first_less, last_more = path.regrets[0], path.regrets[-1]
        stops = (
            f"Who stops after stage 1 has paid {number(first_less)} too much, who goes all the way {number(last_more)}."
        )
        lead(" ".join(filter(None, (at_once, start_text(path), stops))))
    for n, plan in enumerate(path.plans, start=1):
        _stage(n, plan, path, asked)


def _first_stage(asked: Asked, low: float, top: float, factory: float) -> float:
    """The first stage's power [kW], asked for in the person's own unit."""
    each, step = in_unit(to_si(1.0, Quantity.POWER), Quantity.POWER) or 1.0, STEP["power"]
    least, most = math.ceil(low * each / step) * step, math.floor(top * each / step) * step
    if least >= most:  # too narrow for the usual steps in this unit
        step = 1.0
        least, most = float(math.ceil(low * each)), float(math.floor(top * each))
    half = min(max(round(0.5 * (factory + asked.power) * each / step) * step, least), most)
    key = kept(f"first stage {asked.car} {power_unit()}", half)
    st.session_state[key] = min(max(st.session_state[key], least), most)
    found = st.slider(f"first stage, crank {power_unit()}", least, most, step=step, format="%.0f", key=key)
    keep(key, found)
    return float(found) / each


def _stage(n: int, plan: Plan, path: Path, asked: Asked) -> None:
    st.header(f"Stage {n}")
    lead(_headline(plan))
    if plan.conflict:
        table(("", "what"), [(r.because.value, respoken(r.text)) for r in plan.conflict])
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
