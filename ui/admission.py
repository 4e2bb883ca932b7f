"""The first thing on every page: who is there, and whether the shop knows them."""

from __future__ import annotations

import streamlit as st

from graph.errors import NotAllowed
from ui import desk
from ui.app_command import HOST
from ui.sheet_table import trouble
from ui.sign_in import actor, in_force, is_loopback


def admitted() -> bool:
    """Say who is signed in; refuse to show anything to somebody whom the shop granted nothing.

    Returns
    -------
    bool
        True where the pages may go on.
    """
    if in_force() is None:
        if is_loopback(str(st.get_option("server.address") or "")):
            return True
        trouble(f"Without a sign-in these pages are for this machine alone; start them with 'pinchpoint ui' on {HOST}.")
        return False
    person = actor()
    with st.container(horizontal=True, horizontal_alignment="right"):
        st.caption(person.name)
        if st.button("Sign out", key="sign_out", type="tertiary"):
            st.logout()
    try:
        desk.state()
    except NotAllowed as error:
        trouble(f"{error}.")
        return False
    return True
