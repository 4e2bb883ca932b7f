"""Plan: the answer for one car at one target, the ladder that proves it, and the evidence of each row."""

from __future__ import annotations

import streamlit as st

from graph.errors import UnknownName
from graph.model import Car, Platform
from graph.report import Finding, Report
from ui import desk
from ui.asked import QUANTITIES, STEP, Asked, bounds, first_question, from_address, power_range
from ui.chart import SELECT, ladder_chart
from ui.curve_chart import course_chart, course_sentence, course_unit, engine_chart, engine_unit
from ui.evidence import row_answer, row_facts
from ui.format import NOT_KNOWN, gap, kilowatts, number, percent
from ui.ladder import MARKS, WORDS, _answer, _cautions, _conditions, headline
from ui.mark import KNOWN, keys
from ui.sheet_table import Markup, lead, link, note, pairs, table, trouble, unbroken
from ui.theme import palette

KEPT = "asked"
WIDGETS = ("car", "power", "boost", "fuel", "ambient")


def show() -> None:
    """Show the page."""
    cars = {c.id: c for c in desk.cars()}
    if not cars:
        st.title("No car yet")
        lead("Load the shop's sheets on the page parts, or the demo shop on the page cars.")
        return
    answer = st.container()
    asked = _inputs(cars)
    request = asked.request()
    with st.spinner("checking every part of the car"):
        report = desk.report(asked.car, request)
    chosen = _chosen(report, asked)
    with answer:
        st.title(unbroken(headline(report).rstrip(".")))
        note(unbroken(_conditions(report)))
    proof, evidence = st.columns([17, 7], gap="medium")
    with proof:
        _ladder(report, chosen)
        below = st.container()
    with evidence:
        finding = _evidence(report, asked, chosen)
    with below:
        _course(asked, finding)
        _curves(report)
    st.header("What this car carries")
    lead(*map(unbroken, _answer(report)[:3]))
    for warning in report.warnings:
        trouble(f"On the car and not in order: {warning}")
    _without_ceiling(report)
    _as_table(report)
    _remedies(asked)


def _inputs(cars: dict[str, Car]) -> Asked:
    """The question, read as a sentence; the address and the kept question give its first values."""
    kept: Asked | None = st.session_state.get(KEPT)
    named = st.query_params.get("car", "")
    if named and named not in cars:
        trouble(f"The address asks for car '{named}'; on record are {', '.join(cars)}.")
    start = named if named in cars else (kept.car if kept is not None and kept.car in cars else next(iter(cars)))
    fuels = desk.fuels()
    columns = st.columns([3, 5, 2, 2, 2], gap="small", vertical_alignment="bottom")
    with columns[0]:
        car = st.selectbox("Car", list(cars), index=list(cars).index(start), key="car")
    platform: Platform = desk.platforms()[cars[car].platform]
    usual = kept if kept is not None and kept.car == car else first_question(cars[car], platform, fuels)
    parameters = st.query_params.to_dict() if named == car else {}
    asked, refused = from_address(parameters, usual, platform)
    for name in QUANTITIES:  # a widget that stays on the page keeps its own value
        st.session_state.setdefault(f"{name} {car}", getattr(asked, name))
    if asked.fuel not in fuels:
        refused += [f"The address asks for fuel '{asked.fuel}'; the book holds {', '.join(fuels)}."] * (
            "fuel" in parameters
        )
        fuels = [asked.fuel, *fuels] if "fuel" not in parameters else fuels
    fuel = asked.fuel if asked.fuel in fuels else usual.fuel
    st.session_state.setdefault(f"fuel {car}", fuel if fuel in fuels else fuels[0])
    low, high = power_range(platform)
    with columns[1]:
        power = st.slider("wants, crank kW", low, high, step=STEP["power"], format="%.0f", key=f"power {car}")
    with columns[2]:
        boost = st.number_input(
            "boost up to, bar", *bounds("boost"), step=STEP["boost"], format="%.1f", key=f"boost {car}"
        )
    with columns[3]:
        fuel = st.selectbox("on", fuels, key=f"fuel {car}")
    with columns[4]:
        ambient = st.number_input(
            "in air of, °C", *bounds("ambient"), step=STEP["ambient"], format="%.0f", key=f"ambient {car}"
        )
    for sentence in refused:
        trouble(sentence)
    row = st.session_state.get(f"row {car}", asked.row)
    found = Asked(car=car, power=power, boost=boost, fuel=fuel, ambient=ambient, row=row or "")
    st.session_state[KEPT] = found
    if st.query_params.to_dict() != found.address():
        st.query_params.from_dict(found.address())
    return found


def _chosen(report: Report, asked: Asked) -> str:
    known = keys(report.findings)
    if asked.row in known:
        return asked.row
    return next((k for k, f in known.items() if f is report.weakest), next(iter(known), ""))


def _ladder(report: Report, chosen: str) -> None:
    """The ladder, once for a wide and once for a narrow screen; one of the two is shown."""
    car = report.build.car

    def picked(name: str) -> None:
        points = st.session_state[name].selection.get(SELECT, [])
        if points:
            st.session_state[f"row {car}"] = points[0]["key"]

    for name, narrow in (("wide", False), ("narrow", True)):
        with st.container(key=name):
            st.vega_lite_chart(
                ladder_chart(report, palette(), chosen=chosen, narrow=narrow),
                width="stretch",
                theme=None,
                key=f"ladder {name}",
                on_select=lambda name=name: picked(f"ladder {name}"),
                alt=headline(report),
            )
    marks = "  ".join(f"{mark} {word}" for word, mark in KNOWN.items())
    verdicts = "  ".join(f"{MARKS[v]} {word}" for v, word in WORDS.items())
    note(f"How we know: {marks}. Line: 9 in 10. Against the target: {verdicts}.")
    note("* chance that this part is the one that stops the car; below 1 % left blank.")


def _evidence(report: Report, asked: Asked, chosen: str) -> Finding | None:
    """The selected row: where its number comes from and what happens beyond it."""
    known = keys(report.findings)
    if not known:
        return None
    state = f"row {asked.car}"
    if st.session_state.get(state) not in known:
        st.session_state[state] = chosen
    st.selectbox("Row", list(known), key=state)
    finding = known[st.session_state[state]]
    st.subheader(row_answer(finding, report))
    pairs(row_facts(finding, report))
    return finding


def _course(asked: Asked, finding: Finding | None) -> None:
    """The limit of the selected row over engine speed; the engine's own end has no such curve."""
    if finding is None or finding.part is None:
        return
    try:
        course = desk.over_speed(asked.car, asked.request(), finding.slot, finding.rule)
    except UnknownName:
        return
    st.header(f"{finding.rule.capitalize()} over engine speed")
    said = unbroken(course_sentence(course))
    note(f"{course_unit(course)} over 1/min. {said}")
    st.vega_lite_chart(course_chart(course, palette()), width="stretch", theme=None, key="course", alt=said)


def _curves(report: Report) -> None:
    st.header(f"At {kilowatts(report.curve_power)} kW this car runs along these curves")
    if report.curve_power < report.target.power * (1.0 - 1e-9):
        note(
            f"{kilowatts(report.target.power)} kW has no operating point with the car's own parts: {report.makes.cause}. "
            "Drawn is the highest power that has one."
        )
    for column, what in zip(st.columns(3, gap="medium"), ("torque", "boost", "fuel"), strict=True):
        with column:
            st.html(f"<b>{engine_unit(what)}</b>")
            st.vega_lite_chart(
                engine_chart(report, what, palette()),
                width="stretch",
                theme=None,
                key=f"curve {what}",
                alt=f"{engine_unit(what)} over engine speed in 1/min",
            )


def _without_ceiling(report: Report) -> None:
    rest = [f for f in report.findings if f.ceiling is None]
    if not rest and not report.unknown:
        return
    with st.expander(f"{len(rest)} limits set no highest power in range, and why"):
        table(
            ("", "slot", "limit", "why"),
            [(MARKS[f.verdict], f.slot, f.rule, f.ceiling_reason or NOT_KNOWN) for f in rest],
        )
    if report.unknown:
        st.subheader("Not known, and never counted as clear")
        table(("slot", "why"), [(f"? {u.slot}", u.why) for u in report.unknown])


def _as_table(report: Report) -> None:
    with st.expander("The ladder as a table"):
        heads = (
            "slot",
            "part",
            "limit",
            "alone, kW",
            "9 in 10, kW",
            "± target",
            "here, kW",
            "used",
            "first",
            "verdict",
        )
        rows = []
        for f in report.findings:
            i = f.ceiling_interval
            span = "" if i is None else f"{kilowatts(i.low)} to {'…' if i.high is None else kilowatts(i.high)}"
            rows.append(
                (
                    f.slot,
                    f.part or "",
                    f.rule,
                    "" if f.ceiling is None else kilowatts(f.ceiling),
                    span,
                    "" if f.ceiling is None else gap(f.ceiling - report.target.power),
                    "" if f.ceiling_here is None else kilowatts(f.ceiling_here),
                    "" if f.utilisation is None else percent(f.utilisation),
                    percent(f.weakest_probability),
                    f"{MARKS[f.verdict]} {WORDS[f.verdict]}",
                )
            )
        table(heads, rows, right=(3, 4, 5, 6, 7, 8))
        note(f"Adequate means: {'; '.join(report.reference)}.")


def _remedies(asked: Asked) -> None:
    """What would clear each limit; asked last, so that the ladder stands before it."""
    with st.spinner("looking through the book for what clears each limit"):
        report = desk.report(asked.car, asked.request(), suggest=True)
    if not report.remedies and not report.without_remedy:
        return
    power = kilowatts(report.target.power)
    st.header(f"What would clear {power} kW")
    fuel = report.remedies_fuel
    if fuel is not None and fuel != report.target.fuel.name:
        note(
            f"Judged on {fuel}: the engine alone ends at {kilowatts(report.engine_alone)} kW on {report.target.fuel.name}."
        )
    rows: list[tuple[str | Markup, ...]] = []
    before = ""
    for r in report.remedies:
        along = (
            f"{', '.join(r.pulls)}, together {number(r.total) if r.total is not None else NOT_KNOWN}" if r.pulls else ""
        )
        said = "; ".join((*r.conflicts, *r.tasks))
        price = NOT_KNOWN if r.price is None else number(r.price)
        part = link(r.part, "parts", {"part": r.part})
        rows.append((r.slot if r.slot != before else "", part, r.name, price, along, said))
        before = r.slot
    table(("slot", "part", "", "net price", "pulls along", "note"), rows, right=(3,))
    lead(
        *(
            f"The {slot}: no {'fuel' if slot == 'engine' else 'part'} in the book that fits clears it."
            for slot in report.without_remedy
        )
    )
    cautions = [line for line in _cautions(report) if line]
    if cautions:
        st.subheader("With this work")
        lead(*_joined(cautions[1:]))


def _joined(lines: list[str]) -> list[str]:
    """Wrapped lines of a list put together again."""
    found: list[str] = []
    for line in lines:
        if line.startswith("- ") or not found:
            found.append(line.removeprefix("- "))
        else:
            found[-1] += " " + line.strip()
    return found


if __name__ == "__main__":
    show()
