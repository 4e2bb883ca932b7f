"""Long work on a page: the words of its step, the time it takes, a way to end it; the page is redrawn with each answer."""

from __future__ import annotations

import streamlit as st

from ui.errand import ENDED, Errand, lane
from ui.format import duration
from ui.sheet_table import note, trouble

#: Seconds between two looks at quick and at long work.
SOON, LATER = 0.3, 1.0


def watch(errand: Errand, drawn: object, *, among: str, silent: bool = False) -> None:
    """Follow an errand until its next answer.

    Parameters
    ----------
    errand : Errand
        The work.
    drawn : object
        The answer that the page shows.
    among : str
        Its lane.
    silent : bool
        True for quick work: its words alone, no way to end it.
    """
    said = errand.news
    if said.best is not None and said.best is not drawn:
        st.rerun()  # it came while the page was drawn
    if said.done:
        _closing(errand)
        return

    @st.fragment(run_every=SOON if silent else LATER)
    def look() -> None:
        news = lane(among).look(errand)
        if news.done or (news.best is not None and news.best is not drawn):
            st.rerun()
        words = news.words[:1].upper() + news.words[1:]
        if silent:
            st.html(f'<div class="note working" role="status">{words}</div>')
            return
        columns = st.columns([9, 2], gap="small", vertical_alignment="center")
        with columns[0]:
            st.html(f'<div class="note working" role="status">{words} · {duration(errand.seconds)}</div>')
        with columns[1]:
            st.button("Stop here", key=f"stop {errand.name}", on_click=lane(among).end, args=(errand,), width="stretch")

    look()


def _closing(errand: Errand) -> None:
    if errand.news.failed:
        trouble(errand.news.words)
    elif errand.news.words == ENDED:
        note(f"Stopped after {duration(errand.seconds)}; what is shown is the best until then.")
