"""Trail: what was done, by whom, when and from where. For those who administer the database."""

from __future__ import annotations

import streamlit as st

from graph.errors import NotAllowed
from graph.store import Entry, broken, trail
from ui import desk
from ui.sheet_table import lead, note, table, trouble

SHOWN = (40, 200, 1000)


def show() -> None:
    """Show the page; the store refuses those who do not administer it."""
    answer = st.container()
    columns = st.columns([5, 2, 5], gap="small", vertical_alignment="bottom")
    with columns[0]:
        about = st.text_input("About", key="about", placeholder="a part's number, a person, a file").strip()
    with columns[1]:
        last = st.selectbox("newest", SHOWN, key="last")
    with columns[2]:
        check = st.button("Check that nothing was changed or taken away", key="verify")
    try:
        with desk.database().read() as view:
            found = trail(view, about=about or None, last=last)
            wrong = broken(view) if check else None
    except NotAllowed as error:
        with answer:
            st.title("What was done")
        trouble(f"{error}.")
        return
    with answer:
        st.title(_answer(found, about))
    if check and wrong is None:
        end = f" Last digest: {found[-1].digest}." if found else ""
        lead(f"The trail is whole: every entry is as it was written.{end}")
    elif check:
        trouble(f"Entry {wrong} was changed, or one before it is gone. Compare with the last backup.")
    table(
        ("entry", "at, UTC", "who", "did", "to", "from", "changed"),
        [
            (str(e.number), f"{e.at:%Y-%m-%d %H:%M:%S}", e.who, e.what, e.about, e.place, _changed(e))
            for e in reversed(found)
        ],
        right=(0,),
    )
    note("Newest first. Nothing of it can be changed with this program.")


def _answer(found: tuple[Entry, ...], about: str) -> str:
    if not found:
        return f"Nothing is on record about '{about}'" if about else "Nothing was done yet"
    newest = found[-1]
    return f"Last: {newest.who} did '{newest.what}' on {newest.at:%Y-%m-%d} at {newest.at:%H:%M} UTC"


def _changed(entry: Entry) -> str:
    return "; ".join(
        f"{c['field']}: {c['before'] or 'nothing'} → {c['after'] or 'nothing'}" for c in entry.detail.get("changes", ())
    )


if __name__ == "__main__":
    show()
