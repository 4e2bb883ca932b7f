"""Parts: the book with every rating, its condition and its evidence; sheets are loaded here."""

from __future__ import annotations

import hashlib
import tempfile
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import streamlit as st

from graph.kinds import discover
from graph.model import Curve, Part, Rating
from ingest.book import Book, read_book, store_book
from ingest.header import recognise
from ingest.problem import UnreadableFile
from ingest.table import read_workbook
from ingest.vocabulary import read_vocabulary
from ui import desk
from ui.format import NOT_KNOWN, number, quantity
from ui.local_user import local_user
from ui.mark import KNOWN, knowledge
from ui.rating_form import rating_form
from ui.sheet_table import Markup, lead, link, note, pairs, table, trouble

SHOWN_AT_ONCE = 40
DEFECTS_SHOWN = 200
ANY = "any place"
SHEETS = ["xlsx", "xlsm", "xls", "ods", "csv", "tsv"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Loaded:
    """Sheets as read: the book, what each column was taken for, the annotated copy."""

    book: Book
    columns: tuple[tuple[str, str, str, str, str], ...]
    annotated: bytes


def show() -> None:
    """Show the page."""
    parts = desk.parts()
    number_asked = st.query_params.get("part", "")
    chosen = next((p for p in parts if p.id == number_asked), None)
    if chosen is not None:
        _part(chosen)
        return
    if number_asked:
        trouble(f"The address asks for part '{number_asked}'; the book holds no such number.")
    st.title(f"The book holds {len(parts)} parts" if parts else "No part yet")
    if parts:
        _list(parts)
    _load(empty=not parts)


def _list(parts: tuple[Part, ...]) -> None:
    kinds = discover()
    labels = {kinds[p.kind].label: p.kind for p in parts if p.kind in kinds}
    columns = st.columns([4, 3, 3], gap="small")
    with columns[0]:
        wanted = st.text_input("Find", key="find_part", placeholder="number, name, rating").strip().lower()
    with columns[1]:
        slot = st.selectbox("for", [ANY, *sorted(labels)], key="find_slot")
    with columns[2]:
        codes = sorted({code for p in parts for code in p.fits})
        fits = st.selectbox("that fits", ["any car", *codes], key="find_fits")
    found = [
        p
        for p in parts
        if (slot == ANY or p.kind == labels[slot])
        and (fits == "any car" or fits in p.fits)
        and all(word in _text(p) for word in wanted.split())
    ]
    if not found:
        trouble(f"No part has '{wanted}' for {slot} that fits {fits}.")
        return
    table(
        ("part", "place", "name", "rating", "how we know", "net price", "stock"),
        [_line(p, kinds[p.kind].label if p.kind in kinds else p.kind) for p in found[:SHOWN_AT_ONCE]],
        right=(5, 6),
    )
    if len(found) > SHOWN_AT_ONCE:
        note(f"{SHOWN_AT_ONCE} of {len(found)} parts; write more of the name to see another.")
    note("How we know: " + "  ".join(f"{mark} {word}" for word, mark in KNOWN.items()))


def _text(part: Part) -> str:
    return " ".join((part.id, part.name, part.maker, part.kind, *(r.text for r in part.ratings))).lower()


def _line(part: Part, label: str) -> tuple[str | Markup, ...]:
    ratings = "; ".join(r.text or r.name for r in part.ratings)
    known = list(dict.fromkeys(knowledge(r.evidence.kind) for r in part.ratings))
    return (
        link(part.id, "parts", {"part": part.id}),
        label,
        part.name,
        ratings,
        ", ".join(f"{KNOWN[k]} {k}" for k in known),
        "" if part.price is None else number(part.price),
        "" if part.stock is None else str(part.stock),
    )


def _part(part: Part) -> None:
    kinds = discover()
    kind = kinds.get(part.kind)
    st.title(f"{part.id}, {part.name}")
    note(Markup('<a href="/parts" target="_self">all parts</a>'))
    pairs(
        (
            ("place", kind.label if kind is not None else part.kind),
            ("does", kind.does if kind is not None else ""),
            ("maker", part.maker),
            ("fits", ", ".join(part.fits)),
            ("leaves the factory", "yes" if part.factory else ""),
            ("net price", NOT_KNOWN if part.price is None else number(part.price)),
            ("stock", "" if part.stock is None else str(part.stock)),
            ("interfaces", "; ".join(f"{i.port}: {i.type}" for i in part.interfaces)),
            ("says of others", "; ".join(r.text for r in part.relations)),
            ("goes with it", "; ".join(part.tasks)),
            ("note", part.note),
            ("from", part.source),
        )
    )
    rating_form(part)
    st.header("Every rating and where it comes from")
    if not part.ratings:
        lead(kind.no_limit if kind is not None and kind.no_limit else "No rating is on record, so no limit is judged.")
        return
    table(
        ("rating", "as written", "as read", "means", "spread", "how we know", "from", "date"),
        [_rating(part, r) for r in part.ratings],
        right=(4,),
    )
    for rating in part.ratings:
        earlier = desk.history(part.id, rating.name)[:-1]
        if earlier:
            st.subheader(f"Earlier statements of {rating.name}")
            table(
                ("as written", "how we know", "from", "date"),
                [(r.text, r.evidence.kind.value, r.evidence.source, r.evidence.date or "") for r in earlier],
            )


def _rating(part: Part, rating: Rating) -> tuple[str | Markup, ...]:
    known = knowledge(rating.evidence.kind)
    detail = f": {rating.evidence.detail}" if rating.evidence.detail else ""
    return (
        rating.name,
        rating.text,
        _value(part, rating) + (" (a condition is assumed)" if rating.assumed else ""),
        rating.meaning.value,
        f"{rating.spread:.0%}".replace("%", " %") if rating.spread else "",
        f"{KNOWN[known]} {known}{detail}",
        rating.evidence.source,
        rating.evidence.date or "",
    )


def _value(part: Part, rating: Rating) -> str:
    kind = discover().get(part.kind)
    spec = next((s for s in kind.ratings if s.name == rating.name), None) if kind is not None else None
    if spec is None:
        return ""
    if isinstance(rating.value, Curve):
        return f"{len(rating.value.x)} points, {quantity(min(rating.value.y), spec.quantity)} to {quantity(max(rating.value.y), spec.quantity)}"
    return quantity(rating.value, spec.quantity)


def _load(*, empty: bool) -> None:
    st.header("Load sheets")
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
    contents = tuple((Path(f.name).name, f.getvalue()) for f in files)
    with st.spinner(f"reading {len(contents)} files"):
        loaded = _read(desk.state(), contents)
    book = loaded.book
    rows, good, held = (sum(getattr(t, name) for t in book.tallies) for name in ("rows", "loaded", "held"))
    st.subheader(f"{good} of {rows} rows can be loaded, {held} held, {len(book.problems)} defects")
    table(
        ("file", "sheet", "rows", "good", "held", "not data"),
        [(t.file, t.sheet, str(t.rows), str(t.loaded), str(t.held), str(t.not_data)) for t in book.tallies],
        right=(2, 3, 4, 5),
    )
    _defects(book)
    with st.expander("What each column is taken for"):
        table(("file", "sheet", "column", "head as written", "taken for"), loaded.columns)
    columns = st.columns([2, 2, 4], gap="small")
    with columns[0]:
        if st.button(f"Load {good} rows", key="store", type="primary", disabled=good == 0):
            from ui.cli import version

            store_book(desk.database(), book, who=local_user(), version=version())
            st.session_state["loaded"] = (
                f"{good} of {rows} rows loaded, {held} held: {len(book.parts)} parts, "
                f"{len(book.platforms)} platforms, {len(book.cars)} cars."
            )
            st.rerun()
    with columns[1]:
        if loaded.annotated:
            st.download_button("Annotated copy", loaded.annotated, file_name="annotated.xlsx", key="annotated")


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
        copy = Path(folder) / "annotated copy.xlsx"
        if book.sources:
            write_annotated(book, copy)
        return Loaded(
            book=book,
            columns=tuple(_columns(paths)),
            annotated=copy.read_bytes() if copy.exists() else b"",
        )


def _columns(paths: Iterable[Path]) -> list[tuple[str, str, str, str, str]]:
    """Which column of which sheet is taken for which field; heads that mean nothing are named as such."""
    words = read_vocabulary()
    found: list[tuple[str, str, str, str, str]] = []
    for path in paths:
        try:
            workbook = read_workbook(path)
        except UnreadableFile:
            continue
        for sheet in workbook.sheets:
            for header in (h for row in sheet.rows if (h := recognise(row, words)) is not None):
                taken = {column: field for field, column in header.columns.items()}
                found += [
                    (sheet.file, sheet.name, column, head, taken.get(column, "? nothing, left out"))
                    for column, head in header.names.items()
                ]
    return found


if __name__ == "__main__":
    show()
