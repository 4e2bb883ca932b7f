"""Dyno: what a pull or a session says, what it cannot show, and what is known better now."""

from __future__ import annotations

import hashlib
import tempfile
from pathlib import Path

import streamlit as st

from graph.comparison import compare
from graph.errors import PinchpointError
from graph.measured import UpdatedLimit
from graph.pull import PullReport, judge_log
from graph.quantity import Quantity
from graph.store.notebook import add_trials
from ingest.log import LogBook, read_log
from ingest.log_column import ANSWERS
from ui import desk
from ui.format import change, kilowatts, number, percent, power_unit, quantity
from ui.sheet_table import lead, note, table, trouble, unbroken
from ui.upload import safe_name

OPEN = "as the log says"
KINDS = ["csv", "tsv", "txt", "xlsx", "ods"]


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
        file = st.file_uploader("Log of a pull or a session", type=KINDS, key="log")
    if st.query_params.to_dict() != {"car": car}:
        st.query_params.from_dict({"car": car})
    answers = _answers()
    with st.expander("Was there a gain? Pulls before a change"):
        earlier = st.file_uploader(
            "the pull before; further pulls before it measure how well the rollers repeat",
            type=KINDS,
            accept_multiple_files=True,
            key="before",
        )
    if file is None:
        with answer:
            st.title("No pull yet")
        lead(
            "Give a log as CSV or a sheet. It is read and judged here; what it shows of the limits is kept on request."
        )
        return
    with st.spinner("reading the log"):
        platform = desk.platforms()[cars[car].platform]
        cylinders = int(platform.constants.get("cylinders", 4.0))
        report, book = _judged(
            desk.state(), car, basis, safe_name(file.name), file.getvalue(), tuple(sorted(answers.items())), cylinders
        )
    with answer:
        _heading(report)
    if earlier:
        _gain(book, [(safe_name(f.name), f.getvalue()) for f in earlier], basis, answers, cylinders)
    _report(report)
    _limits(report, book)
    for problem in book.problems:
        trouble(problem.sentence)


def _gain(book: LogBook, earlier: list[tuple[str, bytes]], basis: str, answers: dict[str, str], cylinders: int) -> None:
    st.header("Against the pull before")
    books = [_read(name, content, tuple(sorted(answers.items())), basis, cylinders) for name, content in earlier]
    pulls = [b.reading.pull for b in (book, *books)]
    if any(p is None for p in pulls):
        trouble("Single pulls are compared; a session of several pulls is judged by itself.")
        return
    after, before, *repeats = [p for p in pulls if p is not None]
    found = compare(before, after, basis, repeats)
    if found is None:
        trouble("One of the pulls has no power to compare.")
        return
    lead(unbroken(found.sentence))
    if found.course is not None:
        note(unbroken(f"Mean over the speeds of both pulls: {change(found.course, Quantity.POWER, 1)}."))
    if found.doubts:
        st.subheader("What else differs")
        lead(*found.doubts)


@st.cache_resource(show_spinner=False, max_entries=16, hash_funcs={bytes: lambda b: hashlib.sha256(b).hexdigest()})
def _read(name: str, content: bytes, answers: tuple[tuple[str, str], ...], basis: str, cylinders: int) -> LogBook:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        path.write_bytes(content)
        said = dict(answers)
        said.setdefault("power", basis)
        return read_log(path, said, cylinders=cylinders)


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
    book = _read(name, content, answers, basis, cylinders)
    with desk.database().read() as view:
        return judge_log(view, car, book.reading, desk.knowledge(), basis=basis, source=book.source), book


def _heading(report: PullReport) -> None:
    side = report.separation
    st.title(f"{report.car}: {side.cause}")
    sure = f"{percent(side.confidence)} sure"
    if report.power is not None:
        top = report.power
        at = "" if top.speed is None else f" at {quantity(top.speed, Quantity.ROTATIONAL_SPEED)}"
        sure += (
            f" · {kilowatts(top.value)} {power_unit()} at the {report.basis}{at} "
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
                ("cause", power_unit(), "9 in 10", "how it was separated"),
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
    if report.air_ratio is not None:
        lead(f"Measured air for each power over the model's: {number(report.air_ratio, 2)}.")
    if report.notes:
        note(" ".join(report.notes))


def _limits(report: PullReport, book: LogBook) -> None:
    """What the pull shows of limits, and what that makes of the ratings of this car's parts."""
    if not report.updated:
        return
    st.header("Known better now")
    table(
        ("place", "part", "what", "value", "limit", "rating stated", "now, 9 in 10", "how"),
        [
            (
                u.slot,
                u.part or "only claimed",
                u.what,
                quantity(u.value, u.quantity),
                "reached" if u.meaning == "failed" else "not reached",
                "" if u.rating is None else f"{u.rating.name} {quantity(u.rating.stated, u.rating.quantity)}",
                _now(u),
                u.text,
            )
            for u in report.updated
        ],
        right=(3,),
    )
    if not report.trials:
        return
    with desk.database().read() as view:
        kept = any((t.car, t.source) == (report.car, book.source) for t in view.trials())
    if kept:
        note("Kept beside the ratings of the book; every later check of this car counts it in.")
    elif book.problems:
        note("Not kept: the log has defects or open questions.")
    elif st.button("Keep what this pull shows of the limits", key="keep limits"):
        _keep(report, book)


def _now(update: UpdatedLimit) -> str:
    known = update.rating
    if known is None:
        return ""
    low, now, high = (quantity(v, known.quantity) for v in (known.low, known.value, known.high))
    return f"{now} ({low} to {high})"


def _keep(report: PullReport, book: LogBook) -> None:
    from ui.cli import version
    from ui.local_user import local_user

    try:
        with desk.database().write() as unit:
            add_trials(unit, report.trials, sha256=book.sha256, who=local_user(), tool_version=version())
    except PinchpointError as error:
        trouble(str(error))
        return
    st.rerun()


if __name__ == "__main__":
    show()
