"""The paths of the plan page: where the car is too narrow for the target, as channels and as a table."""

from __future__ import annotations

import streamlit as st

from graph.report import Report
from ui.format import kilowatts, power_unit
from ui.ladder import MARKS, WORDS
from ui.path_chart import path_chart
from ui.path_place import Path, gather_paths
from ui.sheet_table import note, table
from ui.theme import palette


def paths_view(report: Report) -> None:
    """Where the car is too narrow: what the target needs and what each part carries, path by path."""
    st.header(f"Where the car is too narrow for {kilowatts(report.target.power)} {power_unit()}")
    note(
        "The band is what the target needs, the same width everywhere. The walls are what each part carries at its "
        "worst engine speed; where they close inside the band, the hatched strip does not get through. The number is "
        "the share of the limit that is used; where the target has no operating point, the power that passes."
    )
    paths = gather_paths(report)
    with st.container(key="wide"):
        for path in paths:
            st.html(f"<b>{path.name}</b>")
            st.vega_lite_chart(
                path_chart(path, palette()), width="stretch", theme=None, key=f"path {path.name}", alt=path.sentence
            )
    with st.container(key="narrow"):
        _paths_table(paths)
    note(
        "◀ over 100 %: too narrow   ‖ within the margin   ▷ clear   ? not known, never clear   "
        "> not passed where the engine itself ends; both without walls"
    )
    with st.expander("The paths as a table"):
        _paths_table(paths)


def _paths_table(paths: tuple[Path, ...]) -> None:
    table(
        ("place", "path", "used, or passes", "against target"),
        [
            (
                p.slot,
                path.name,
                p.text,
                f"{MARKS[p.verdict]} {WORDS[p.verdict]}",
            )
            for path in paths
            for p in path.places
        ],
        right=(2,),
    )
