"""Parts: the book with every rating, its condition and its evidence; sheets are loaded here."""

from __future__ import annotations

import streamlit as st

from graph.kinds import discover
from graph.model import Curve, Part, Rating
from ui import desk
from ui.book_history import between_loads, blank_sheets
from ui.book_loading import load_sheets
from ui.format import NOT_KNOWN, counted, number, quantity
from ui.mark import KNOWN, knowledge
from ui.rating_form import rating_form
from ui.sheet_table import Markup, lead, link, note, pairs, table, trouble

SHOWN_AT_ONCE = 40
ANY = "any place"


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
    st.title(f"The book holds {counted(len(parts), 'part')}" if parts else "No part yet")
    if parts:
        _list()
    loading, folds = st.container(), st.container()  # each keeps its place, so that an open fold stays open
    with loading:
        load_sheets(empty=not parts)
    with folds:
        between_loads()
        blank_sheets()


@st.fragment
def _list() -> None:
    """The list and its search; a look-up draws this alone anew."""
    kinds = discover()
    book = desk.index()
    labels = {kinds[kind].label: kind for kind in book.kinds if kind in kinds}
    columns = st.columns([4, 3, 3], gap="small")
    with columns[0]:
        wanted = st.text_input("Find", key="find_part", placeholder="number, name, rating").strip().lower()
    with columns[1]:
        slot = st.selectbox("for", [ANY, *sorted(labels)], key="find_slot")
    with columns[2]:
        fits = st.selectbox("that fits", ["any car", *book.codes], key="find_fits")
    found, count = book.find(
        wanted.split(), labels.get(slot, ""), "" if fits == "any car" else fits, most=SHOWN_AT_ONCE
    )
    if not found:
        trouble(f"No part has '{wanted}' for {slot} that fits {fits}.")
        return
    table(
        ("part", "place", "name", "rating", "how we know", "net price", "stock"),
        [_line(p, kinds[p.kind].label if p.kind in kinds else p.kind) for p in found],
        right=(5, 6),
    )
    if count > len(found):
        note(f"{len(found)} of {count} parts; write more of the name to see another.")
    note("How we know: " + "  ".join(f"{mark} {word}" for word, mark in KNOWN.items()))


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


if __name__ == "__main__":
    show()
