"""What changed in the book between two loads, and blank sheets to fill in: two folds of the parts page."""

from __future__ import annotations

import tempfile
from pathlib import Path

import streamlit as st

from graph.kinds import discover
from graph.store import PartChange, difference
from ingest.template import write_template
from ui import desk
from ui.rating_text import rating_text
from ui.sheet_table import Markup, lead, link, note, table

SHOWN_AT_ONCE = 100


@st.fragment
def between_loads() -> None:
    """Two loads side by side: parts that are new or changed, with what each field said before."""
    with desk.database().read() as view:
        loads = {
            row["id"]: f"{row['id']}: {row['name']}, {row['at']:%Y-%m-%d %H:%M}, {row['who']}" for row in view.loads()
        }
    if len(loads) < 2:
        return
    numbers = list(loads)
    with st.expander("What changed between two loads"):
        columns = st.columns(2, gap="small")
        with columns[0]:
            first = st.selectbox(
                "after this load",
                numbers,
                index=len(numbers) - 2,
                format_func=loads.__getitem__,
                key=f"load before {numbers[-1]}",
            )
        with columns[1]:
            second = st.selectbox(
                "and after this one",
                numbers,
                index=len(numbers) - 1,
                format_func=loads.__getitem__,
                key=f"load after {numbers[-1]}",
            )
        if st.toggle("Compare", key="compare loads"):
            _compare(first, second)


def _compare(first: int, second: int) -> None:
    with desk.database().read() as view:
        found = difference(view, first, second, rating_text)
    if not found:
        lead(f"No part differs between load {first} and load {second}.")
        return
    new = sum(c.before is None for c in found)
    lead(f"{new} parts are new, {len(found) - new} differ.")
    table(
        ("part", "", "field", "before", "after", "by", "fitted to"),
        [row for change in found[:SHOWN_AT_ONCE] for row in _rows(change)],
    )
    if len(found) > SHOWN_AT_ONCE:
        note(f"{SHOWN_AT_ONCE} of {len(found)} parts.")


def _rows(change: PartChange) -> list[tuple[str | Markup, ...]]:
    """One line for each field that differs; a part that is new or not there yet has one line."""
    what = "new" if change.before is None else "not there yet" if change.after is None else "changed"
    name = link(change.part, "parts", {"part": change.part})
    fields = [(f.field, f.before or "nothing", f.after or "nothing") for f in change.fields] or [("", "", "")]
    return [
        (
            name if n == 0 else "",
            what if n == 0 else "",
            *field,
            change.who if n == 0 else "",
            ", ".join(change.cars) if n == 0 else "",
        )
        for n, field in enumerate(fields)
    ]


@st.fragment
def blank_sheets() -> None:
    """A blank sheet for each kind of part, with its units, drop-downs and an example."""
    with st.expander("Blank sheets to fill in"):
        labels = sorted(kind.label for kind in discover().values())
        columns = st.columns([4, 3, 5], gap="small", vertical_alignment="bottom")
        with columns[0]:
            label = st.selectbox("for", labels, key="template kind")
        with columns[1]:
            st.download_button(
                "Blank sheet", _template(label), f"{label.replace(' ', '-')}.xlsx", key="template", width="stretch"
            )
        note("Fill in the sheet 'Parts' and bring it back above; the sheets 'Example' and 'Words' are not read.")


@st.cache_data(show_spinner=False, max_entries=80)
def _template(label: str) -> bytes:
    with tempfile.TemporaryDirectory() as folder:
        return write_template(label, Path(folder) / "blank.xlsx").read_bytes()
