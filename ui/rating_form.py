"""A rating corrected on the page of its part, by somebody who has the page as it stands before their eyes."""

from __future__ import annotations

import streamlit as st

from graph.actor import Role
from graph.errors import PinchpointError
from graph.kinds import discover
from graph.model import Part
from graph.store import correct_rating, revisions
from ingest.correction import read_correction
from ingest.vocabulary import read_vocabulary
from ui import desk
from ui.local_user import local_user
from ui.rating_text import rating_text
from ui.sheet_table import lead, trouble

KEY = "correct_"  # before the field, in the name of its widget
FIELDS = ("rating_of", "rating", "condition", "evidence", "date")


def rating_form(part: Part) -> None:
    """Offer to correct a rating, to those who keep the book.

    Parameters
    ----------
    part : Part
        As it is shown on the page.
    """
    kind = discover().get(part.kind)
    with desk.database().read() as view:
        allowed = view.actor.may(Role.KEEP)
        known = revisions(view, part.id) if allowed else ()
    said = st.session_state.pop("correction", None)
    if said is not None:
        (lead if said[0] else trouble)(said[1])
    shown = next((r.number for r in reversed(known) if r.part == part), None)
    if kind is None or not kind.ratings or shown is None:
        return
    with st.expander("Correct a rating"), st.form("correction_form"):
        st.selectbox("which", [spec.name for spec in kind.ratings], key=f"{KEY}rating_of")
        st.text_input("value with unit", key=f"{KEY}rating", placeholder="190 l/h")
        st.text_input("holds at", key=f"{KEY}condition", placeholder="5 bar, 13.5 V")
        st.selectbox("how we know", read_vocabulary().known("evidence"), key=f"{KEY}evidence")
        st.text_input("found on", key=f"{KEY}date", placeholder="2026-03-02")
        # The revision is fixed when the form is drawn, so it is the one that the reader has seen.
        st.form_submit_button(f"Correct revision {shown}", on_click=_correct, args=(part, shown))


def _correct(part: Part, seen: int) -> None:
    from ui.cli import version

    words = {field: str(st.session_state[f"{KEY}{field}"]) for field in FIELDS}
    who = local_user()
    database = desk.database()
    try:
        meant = read_correction(part, words, who=who if database.actor.local else database.actor.name)
        with database.write() as unit:
            revision = correct_rating(unit, part.id, meant, seen=seen, who=who, tool_version=version(), say=rating_text)
    except PinchpointError as error:
        st.session_state["correction"] = (False, f"{error}.")
    else:
        st.session_state["correction"] = (True, f"{meant.name} is now {meant.text}, revision {revision.number}.")
