"""Sheets brought to the parts page: what each column would be taken for, every defect, and only then the load."""

from __future__ import annotations

import hashlib
import tempfile
from dataclasses import dataclass
from pathlib import Path

import streamlit as st

from graph.actor import Role
from graph.errors import PinchpointError
from graph.store import last_load
from ingest.book import Book, read_book, store_book
from ingest.mapping import Taken, changes, last_mapping, mapping_of, remembered
from ui import desk
from ui.format import counted
from ui.local_user import local_user
from ui.sheet_table import lead, note, table, trouble
from ui.upload import safe_names

DEFECTS_SHOWN = 200
SHEETS = ["xlsx", "xlsm", "xls", "ods", "csv", "tsv"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Columns:
    """What the columns of one file are taken for, and how that differs from its last load.

    Parameters
    ----------
    file : str
        Its name.
    taken : tuple of Taken
        One for each column.
    known : bool
        True where a file of this name was loaded before.
    differs : tuple of str
        One sentence for each column that is taken otherwise than last time.
    """

    file: str
    taken: tuple[Taken, ...]
    known: bool
    differs: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Loaded:
    """Sheets as read: the book, what each column was taken for, the annotated copy."""

    book: Book
    columns: tuple[Columns, ...]
    annotated: bytes


def load_sheets(*, empty: bool) -> None:
    """Offer to load sheets.

    Parameters
    ----------
    empty : bool
        True where the book holds nothing yet.
    """
    st.header("Load sheets")
    with desk.database().read() as view:
        allowed = view.actor.may(Role.KEEP)
    if not allowed:
        note("Loading sheets needs the role 'keep the book'; ask who administers the database.")
        return
    lead(
        "Parts, platform and car sheets as XLSX, XLS, ODS or CSV. Nothing is written before you say so; "
        "rows that cannot be read with certainty are held and named."
    )
    if empty:
        note("The page cars offers the demo shop.")
    files = st.file_uploader("Sheets", type=SHEETS, accept_multiple_files=True, key="sheets")
    done = st.session_state.pop("loaded", None)
    if done:
        lead(done)
    if not files:
        return
    contents = tuple(zip(safe_names(f.name for f in files), (f.getvalue() for f in files), strict=True))
    with st.spinner(f"reading {len(contents)} files"):
        loaded = _read(desk.state(), contents)
    book, seen = loaded.book, _seen(contents)
    rows, good, held = (sum(getattr(t, name) for t in book.tallies) for name in ("rows", "loaded", "held"))
    st.subheader(
        f"{good} of {counted(rows, 'row')} can be loaded, {held} held, {counted(len(book.problems), 'defect')}"
    )
    table(
        ("file", "sheet", "rows", "good", "held", "not data"),
        [(t.file, t.sheet, str(t.rows), str(t.loaded), str(t.held), str(t.not_data)) for t in book.tallies],
        right=(2, 3, 4, 5),
    )
    for file in loaded.columns:
        _preview(file)
    _defects(book)
    store, back, _ = st.columns([2, 2, 4], gap="small")
    with store:
        if st.button(f"Load {counted(good, 'row')}", key="store", type="primary", disabled=good == 0):
            _store(book, rows, good, held, seen)
    with back:
        if loaded.annotated:
            st.download_button("Annotated copy", loaded.annotated, file_name="annotated.xlsx", key="annotated")
    if loaded.annotated and book.problems:
        note("The annotated copy has each defect as a comment at its cell; mend it there and load it here again.")


def _seen(contents: tuple[tuple[str, bytes], ...]) -> int:
    """Newest load when these sheets were first shown to the reader: what was written since, nobody has looked at."""
    shown = tuple((name, hashlib.sha256(content).hexdigest()) for name, content in contents)
    if st.session_state.get("sheets shown", ((), 0))[0] != shown:
        with desk.database().read() as view:
            st.session_state["sheets shown"] = (shown, last_load(view))
    seen: int = st.session_state["sheets shown"][1]
    return seen


def _store(book: Book, rows: int, good: int, held: int, seen: int) -> None:
    from ui.cli import version

    try:
        store_book(desk.database(), book, who=local_user(), version=version(), seen=seen)
    except PinchpointError as error:
        trouble(f"{error}. Choose the sheets anew to see how the book stands now.")
        return
    st.session_state["loaded"] = (
        f"{good} of {counted(rows, 'row')} loaded, {held} held: {counted(len(book.parts), 'part')}, "
        f"{counted(len(book.platforms), 'platform')}, {counted(len(book.cars), 'car')}."
    )
    st.rerun()


def _preview(columns: Columns) -> None:
    """What each column of a file would be taken for; open where it is new or otherwise than last time."""
    left = sum(not t.field for t in columns.taken)
    known = "as loaded last" if columns.known else "not loaded before"
    state = f"{len(columns.differs)} columns otherwise than last time" if columns.differs else known
    unread = f", {left} not read" if left else ""
    name = f"{columns.file}: what its {len(columns.taken)} columns are taken for{unread}; {state}"
    with st.expander(name, expanded=bool(columns.differs)):
        if columns.differs:
            lead(*columns.differs)
        table(
            ("where", "head as written", "taken for"),
            [(t.place, t.head, t.meaning if t.field else "? not read, left out") for t in columns.taken],
        )


def _defects(book: Book) -> None:
    if not book.problems:
        return
    table(
        ("where", "found", "expected", "what to do"),
        [
            (
                f"{p.file} {p.sheet} {f'row {p.row}' if p.row is not None else ''} {p.column or ''}".strip(),
                p.found,
                p.expected,
                p.remedy,
            )
            for p in book.problems[:DEFECTS_SHOWN]
        ],
    )
    if len(book.problems) > DEFECTS_SHOWN:
        note(f"{DEFECTS_SHOWN} of {len(book.problems)} defects; the annotated copy holds all of them.")


@st.cache_resource(show_spinner=False, max_entries=8, hash_funcs={bytes: lambda b: hashlib.sha256(b).hexdigest()})
def _read(data: str, contents: tuple[tuple[str, bytes], ...]) -> Loaded:
    from ingest.annotate import write_annotated

    del data
    with tempfile.TemporaryDirectory() as folder:
        paths = []
        for name, content in contents:
            path = Path(folder) / name
            path.write_bytes(content)
            paths.append(path)
        with desk.database().read() as view:
            book = read_book(paths, known=view)
            loads = view.loads()
        copy = Path(folder) / "annotated copy.xlsx"
        if book.sources:
            write_annotated(book, copy)
        return Loaded(
            book=book,
            columns=tuple(_columns(book, s.name, last_mapping(loads, s.name)) for s in book.sources),
            annotated=copy.read_bytes() if copy.exists() else b"",
        )


def _columns(book: Book, file: str, before: object) -> Columns:
    taken = mapping_of(book.headers.get(file, ()))
    differs = changes(before, remembered(taken)) if isinstance(before, dict) else ()
    return Columns(file=file, taken=taken, known=before is not None, differs=differs)
