"""Dyno: what a pull or a session says, what it cannot show, and what is known better now."""

from __future__ import annotations

import hashlib
import tempfile
from pathlib import Path

import streamlit as st

from graph.pull import PullReport, judge_log
from graph.quantity import Quantity
from ingest.log import LogBook, read_log
from ingest.log_column import ANSWERS
from ui import desk
from ui.format import kilowatts, number, percent, quantity
from ui.sheet_table import lead, note, table, trouble, unbroken

OPEN = "as the log says"


def show() -> None:
    """Show the page."""
    cars = {c.id: c for c in desk.cars()}
    if not cars:
        st.title("No car yet")
        lead("Load the shop's sheets on the page parts, or the demo shop on the page cars.")
        return
    answer = st.container()
    columns = st.columns([2, 2, 6], gap="small")
    named = st.query_params.get("car", "")
    names = list(cars)
    with columns[0]:
        car = st.selectbox("Car", names, index=names.index(named) if named in cars else 0, key="pulled")
    with columns[1]:
        basis = st.selectbox("power at the", ["crank", "wheel"], key="basis")
    with columns[2]:
        file = st.file_uploader("Log of a pull or a session", type=["csv", "tsv", "txt", "xlsx", "ods"], key="log")
    if st.query_params.to_dict() != {"car": car}:
        st.query_params.from_dict({"car": car})
    answers = _answers()
    if file is None:
        with answer:
            st.title("No pull yet")
        lead("Give a log as CSV or a sheet. It is read and judged here, and stored nowhere.")
        return
    with st.spinner("reading the log"):
        platform = desk.platforms()[cars[car].platform]
        cylinders = int(platform.constants.get("cylinders", 4.0))
        report, book = _judged(
            desk.state(), car, basis, Path(file.name).name, file.getvalue(), tuple(sorted(answers.items())), cylinders
        )
    with answer:
        _heading(report)
    _report(report)
    for problem in book.problems:
        trouble(problem.sentence)


def _answers() -> dict[str, str]:
    """Answers to what a log may leave open; only those that the reader gives."""
    found: dict[str, str] = {}
    with st.expander("Where the log does not say it"):
        for column, (what, words) in zip(st.columns(len(ANSWERS)), ANSWERS.items(), strict=True):
            with column:
                said = st.selectbox(what, [OPEN, *words], key=f"answer {what}")
            if said != OPEN:
                found[what] = said
    return found


@st.cache_resource(show_spinner=False, max_entries=8, hash_funcs={bytes: lambda b: hashlib.sha256(b).hexdigest()})
def _judged(
    data: str, car: str, basis: str, name: str, content: bytes, answers: tuple[tuple[str, str], ...], cylinders: int
) -> tuple[PullReport, LogBook]:
    del data
    with tempfile.TemporaryDirectory() as folder, desk.database().read() as view:
        path = Path(folder) / name
        path.write_bytes(content)
        said = dict(answers)
        said.setdefault("power", basis)
        book = read_log(path, said, cylinders=cylinders)
        return judge_log(view, car, book.reading, desk.knowledge(), basis=basis), book


def _heading(report: PullReport) -> None:
    side = report.separation
    st.title(f"{report.car}: {side.cause}")
    sure = f"{percent(side.confidence)} sure"
    if report.power is not None:
        top = report.power
        at = "" if top.speed is None else f" at {quantity(top.speed, Quantity.ROTATIONAL_SPEED)}"
        sure += (
            f" · {kilowatts(top.value)} kW at the {report.basis}{at} "
            f"(9 in 10: {kilowatts(top.low)} to {kilowatts(top.high)})"
        )
    note(unbroken(sure))


def _report(report: PullReport) -> None:
    side = report.separation
    left, right = st.columns([7, 5], gap="medium")
    with left:
        st.header("What the log shows")
        bad = sorted((e for e in report.events if not e.good), key=lambda e: -e.confidence)
        table(
            ("event", "sure", "1/min", "the numbers"),
            [
                (
                    e.kind,
                    percent(e.confidence),
                    "" if e.speed is None else quantity(e.speed, Quantity.ROTATIONAL_SPEED).split(" ")[0],
                    e.evidence,
                )
                for e in bad
            ],
            right=(1, 2),
        )
        if side.reasons:
            st.subheader("Because")
            lead(*side.reasons)
        if side.ruled_out:
            st.subheader("Ruled out")
            lead(*side.ruled_out)
        if report.shares:
            st.subheader("What each cause takes of the loss")
            table(
                ("cause", "kW", "9 in 10", "how it was separated"),
                [
                    (s.cause, kilowatts(s.power), f"{kilowatts(s.low)} to {kilowatts(s.high)}", s.evidence)
                    for s in report.shares
                ],
                right=(1, 2),
            )
    with right:
        st.header("Cannot be seen in this log")
        if report.blind:
            table(("what", "why; not a pass"), [(f"? {b.what}", b.why) for b in report.blind])
        else:
            lead("Every question that is asked of a pull is answered.")
        if report.suspects:
            st.subheader("Suspects, from the log alone")
            table(("suspect", "chance"), [(s.name, percent(s.probability)) for s in report.suspects[:5]], right=(1,))
    if report.updated:
        st.header("Known better now")
        table(
            ("place", "part", "what", "value", "meaning", "how"),
            [(u.slot, u.part or "", u.what, quantity(u.value, u.quantity), u.meaning, u.text) for u in report.updated],
            right=(3,),
        )
    if report.air_ratio is not None:
        lead(f"Measured air for each power over the model's: {number(report.air_ratio, 2)}.")
    if report.notes:
        note(" ".join(report.notes))


if __name__ == "__main__":
    show()
