"""People: who may do what through the pages, and what each role is for. For those who administer the database."""

from __future__ import annotations

import streamlit as st

from graph.actor import MEANING, Role
from graph.errors import NotAllowed, PinchpointError
from graph.store import grant, people
from ui import desk
from ui.local_user import local_user
from ui.sheet_table import lead, note, table, trouble

NEW = "somebody new"
SEEN = "roles seen"


def show() -> None:
    """Show the page; the store refuses those who do not administer it."""
    try:
        with desk.database().read() as view:
            known = people(view)
    except NotAllowed as error:
        st.title("Who may do what")
        trouble(f"{error}.")
        return
    st.title(_answer(len(known)))
    note("Roles count where people sign in. On this machine alone the rights of the database's file are the limit.")
    if known:
        table(
            ("person", *(role.value for role in Role)),
            [(name, *("yes" if role in roles else "" for role in Role)) for name, roles in known.items()],
        )
    said = st.session_state.pop("granted", None)
    if said is not None:
        (lead if said[0] else trouble)(said[1])
    _form(known)
    st.header("What each role is for")
    table(("role", "may"), [(role.value, meaning) for role, meaning in MEANING.items()])


def _answer(count: int) -> str:
    return (
        "Nobody has a role yet"
        if not count
        else "One person has a role"
        if count == 1
        else f"{count} people have roles"
    )


def _form(known: dict[str, frozenset[Role]]) -> None:
    st.header("Let somebody in, or change what they may do")
    person = st.selectbox("Person", [NEW, *known], key="person")
    with st.form("grant", border=False):
        columns = st.columns([5, 5, 2], gap="small", vertical_alignment="bottom")
        with columns[0]:
            name = st.text_input(
                "Mail address, as the sign-in states it",
                "" if person == NEW else person,
                key=f"address {person}",
                disabled=person != NEW,
            )
        with columns[1]:
            roles = st.multiselect(
                "may",
                list(Role),
                default=[r for r in Role if r in known.get(person, frozenset())],
                format_func=lambda r: r.value,
                key=f"roles {person}",
            )
        with columns[2]:
            # The roles are fixed when the form is drawn, so they are the ones that the reader has seen.
            sent = st.form_submit_button(
                "Keep", width="stretch", on_click=_seen, args=(known.get(person, frozenset()),)
            )
    note("Every role includes looking; without a role a person may nothing. Earlier grants stay on record.")
    if sent:
        _keep(name, roles)


def _seen(roles: frozenset[Role]) -> None:
    st.session_state[SEEN] = roles


def _keep(name: str, roles: list[Role]) -> None:
    try:
        with desk.database().write() as unit:
            now = grant(unit, name, roles, who=local_user(), seen=st.session_state.get(SEEN))
    except PinchpointError as error:
        st.session_state["granted"] = (False, f"{error}.")
    else:
        held = ", ".join(r.value for r in Role if r in now) or "nothing"
        st.session_state["granted"] = (True, f"{name.strip().lower()} may now: {held}.")
    st.rerun()


if __name__ == "__main__":
    show()
