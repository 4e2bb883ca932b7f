"""Plan: the answer for one car at one target, the ladder that proves it, and the evidence of each row."""

from __future__ import annotations

from dataclasses import replace

import streamlit as st

from graph.errors import UnknownName
from graph.quantity import Quantity
from graph.report import Finding, Report, Verdict
from ui import desk
from ui.asked import Asked
from ui.chart import SELECT, ladder_chart, ladder_domain, ladder_rows
from ui.curve_chart import course_chart, course_sentence, course_unit, engine_chart, engine_unit
from ui.engine_text import learnt_lines
from ui.evidence import row_answer, row_facts
from ui.format import NOT_KNOWN, in_unit, kilowatts, power_unit
from ui.inputs import ask, told
from ui.ladder import MARKS, WORDS, _answer, _conditions, headline
from ui.ladder_table import as_table, remedies, without_ceiling
from ui.mark import KNOWN, keys
from ui.page_paths import paths_view
from ui.progress import watch
from ui.sheet_table import lead, note, pairs, strip, table, trouble, unbroken
from ui.theme import palette

#: View in the address -> its word on the page.
VIEWS = {
    "": "ladder",
    "paths": "paths",
    "curves": "over speed",
    "fit": "what to fit",
    "money": "money",
    "stages": "in stages",
}


def show() -> None:
    """Show the page."""
    cars = {c.id: c for c in desk.cars()}
    if not cars:
        st.title("No car yet")
        lead("Load the shop's sheets on the page parts, or the demo shop on the page cars.")
        return
    answer = st.container()
    asked = ask(cars)
    asked = replace(asked, view=_view(asked))
    told(asked)
    if asked.view in ("fit", "money", "stages"):
        from ui import page_money, page_plan  # the ladder comes sooner without them

        {"fit": page_plan.fit, "money": page_money.money, "stages": page_money.stages}[asked.view](asked, answer)
        return
    report, errand = desk.best(asked.car, asked.request())
    with answer:
        st.title(unbroken(headline(report).rstrip(".")))
        note(unbroken(_conditions(report)))
    if asked.view == "paths":
        paths_view(report)
    elif asked.view == "curves":
        _curves(report)
        _course(asked, _shown_row(report, asked))
    else:
        _proof(report, asked, pending=not errand.news.done)
    watch(errand, report, among="checks", silent=True)


def _view(asked: Asked) -> str:
    known = asked.view if asked.view in VIEWS else ""
    st.session_state.setdefault("view", known)
    chosen = st.segmented_control(
        "Show", list(VIEWS), key="view", format_func=VIEWS.__getitem__, label_visibility="collapsed"
    )
    return known if chosen is None else str(chosen)


def _proof(report: Report, asked: Asked, *, pending: bool) -> None:
    """The ladder, the evidence of the row chosen, and everything that goes with them."""
    chosen = _chosen(report, asked)
    proof, evidence = st.columns([17, 7], gap="medium")
    with proof:
        _ladder(report, chosen)
        below = st.container()
    with evidence:
        finding = _evidence(report, asked, chosen)
    with below:
        _course(asked, finding)
    st.header("What this car carries")
    said = _answer(report)[:3]
    if not report.samples and pending:
        said[0] = f"{report.build.car} carries {kilowatts(report.carries)} {power_unit()} by the stated values."
    lead(*map(unbroken, said))
    for line in learnt_lines(report):
        note(unbroken(line))
    for warning in report.warnings:
        trouble(f"On the car and not in order: {warning}")
    without_ceiling(report)
    as_table(report)
    remedies(report)


def _shown_row(report: Report, asked: Asked) -> Finding | None:
    return keys(report.findings).get(_chosen(report, asked))


def _chosen(report: Report, asked: Asked) -> str:
    known = keys(report.findings)
    if asked.row in known:
        return asked.row
    return next((k for k, f in known.items() if f is report.weakest), next(iter(known), ""))


def _ladder(report: Report, chosen: str) -> None:
    """The ladder, as a chart for a wide and as rows for a narrow screen; one of the two is shown."""
    car = report.build.car

    def picked() -> None:
        points = st.session_state["ladder"].selection.get(SELECT, [])
        if points:
            st.session_state[f"row {car}"] = points[0]["key"]

    with st.container(key="wide"):
        st.vega_lite_chart(
            ladder_chart(report, palette(), chosen=chosen),
            width="stretch",
            theme=None,
            key="ladder",
            on_select=picked,
            alt=headline(report),
        )
    with st.container(key="narrow"):
        _ladder_list(report)
    marks = "  ".join(f"{mark} {word}" for word, mark in KNOWN.items())
    verdicts = "  ".join(f"{MARKS[v]} {word}" for v, word in WORDS.items())
    note(f"How we know: {marks}. Line: 9 in 10. Against the target: {verdicts}.")
    note("* chance that this part is the one that stops the car; below 1 % left blank.")


def _ladder_list(report: Report) -> None:
    """The ladder for a narrow screen: name, value, range and mark of each row."""
    rows = ladder_rows(report)
    ends = ladder_domain(rows, in_unit(report.target.power, Quantity.POWER) or 0.0)
    note(f"Crank {power_unit()} at which each part alone stops the car, 9 in 10, and the distance to the target.")
    table(
        ("", "", "", ""),
        [
            (
                row["slot"],
                row.get("text", "?"),
                strip(row["low"] or row["kw"], row["kw"], row["high"], ends, palette(), first=row["first"])
                if "kw" in row
                else NOT_KNOWN,
                f"{MARKS[Verdict(row['verdict'])]} {row.get('gap', '')}",
            )
            for row in rows
        ],
    )


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
    st.header(f"At {kilowatts(report.curve_power)} {power_unit()} this car runs along these curves")
    if report.curve_power < report.target.power * (1.0 - 1e-9):
        note(
            f"{kilowatts(report.target.power)} {power_unit()} has no operating point with the car's own parts: {report.makes.cause}. "
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


if __name__ == "__main__":
    show()
