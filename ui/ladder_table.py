"""What goes with the ladder on its page: the same as a table, limits that set no highest power, what would clear each."""

from __future__ import annotations

import streamlit as st

from graph.report import Report
from ui.format import NOT_KNOWN, gap, kilowatts, number, percent, power_unit
from ui.ladder import MARKS, WORDS, _cautions
from ui.sheet_table import Markup, lead, link, note, table


def without_ceiling(report: Report) -> None:
    """Limits without a highest power in range, each with its reason, and what is not known."""
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


def as_table(report: Report) -> None:
    """The ladder as a table, one click away from its picture."""
    with st.expander("The ladder as a table"):
        heads = (
            "slot",
            "part",
            "limit",
            f"alone, {power_unit()}",
            f"9 in 10, {power_unit()}",
            "± target",
            f"here, {power_unit()}",
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


def remedies(report: Report) -> None:
    """What would clear each limit; there once it is worked out."""
    if not report.remedies and not report.without_remedy:
        return
    power = kilowatts(report.target.power)
    st.header(f"What would clear {power} {power_unit()}")
    fuel = report.remedies_fuel
    if fuel is not None and fuel != report.target.fuel.name:
        note(
            f"Judged on {fuel}: the engine alone ends at {kilowatts(report.engine_alone)} {power_unit()} on {report.target.fuel.name}."
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
