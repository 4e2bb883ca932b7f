"""Ask: questions with a name over the book, and questions of the reader's own, each row with its evidence."""

from __future__ import annotations

import streamlit as st

from graph.projection.answer import Answer
from graph.projection.question import QUESTIONS
from graph.quantity import Quantity
from graph.store import View
from ui import desk
from ui.format import counted
from ui.question import ask_named, ask_own, said
from ui.sheet_table import Markup, lead, link, note, table, trouble

OWN = "a question of your own, in SPARQL"
SHOWN_AT_ONCE = 100
WORDS = {
    "SLOT": "place",
    "AMOUNT": "amount with its unit",
    "CODE": "code that it fits",
    "RATING": "rating",
    "PART": "part number",
    "FOR": "the other part's number",
}


def show() -> None:
    """Show the page."""
    with desk.database().read() as view:
        empty = not view.one_of([fitment.id for fitment in view.fitments()])
    if empty:
        st.title("No part yet")
        lead("Load the shop's sheets on the page parts, or the demo shop on the page cars.")
        return
    answer = st.container()
    named = st.query_params.get("question", "")
    names = [*QUESTIONS, OWN]
    st.session_state.setdefault("question", named if named in names else "no-usable-rating")
    chosen = st.selectbox(
        "Question", names, key="question", format_func=lambda n: n if n == OWN else f"{QUESTIONS[n].asks} ({n})"
    )
    if chosen == OWN:
        _own(answer)
        return
    expected = QUESTIONS[chosen].arguments
    given = _arguments(chosen, expected)
    st.query_params.from_dict({"question": chosen, **{w.strip("[]").lower(): t for w, t in given.items() if t}})
    missing = [WORDS[w] for w in expected if not w.startswith("[") and not given[w]]
    if missing:
        with answer:
            st.title(QUESTIONS[chosen].asks)
        note(f"Name the {' and the '.join(missing)}.")
        return
    words = [given[w] for w in expected]
    while words and not words[-1]:
        words.pop()
    with desk.database().read() as view:
        found, quantity = ask_named(view, chosen, tuple(words), SHOWN_AT_ONCE)
        known = _numbers(view, found)
    _show(answer, found, quantity, QUESTIONS[chosen].asks, known)


def _arguments(name: str, expected: tuple[str, ...]) -> dict[str, str]:
    if not expected:
        return {}
    found: dict[str, str] = {}
    for column, word in zip(st.columns(len(expected), gap="small"), expected, strict=True):
        plain = word.strip("[]")
        key = f"{name} {word}"
        st.session_state.setdefault(key, st.query_params.get(plain.lower(), ""))
        with column:
            label = WORDS[plain] + (" (may stay empty)" if word.startswith("[") else "")
            found[word] = st.text_input(label, key=key).strip()
    return found


def _own(answer: st.delta_generator.DeltaGenerator) -> None:
    with st.form("own", border=False):
        text = st.text_area("SELECT, ASK or CONSTRUCT", key="sparql", height=160)
        asked = st.form_submit_button("Ask")
    if not (asked and text.strip()):
        with answer:
            st.title("A question of your own")
        return
    with st.spinner("asking the graph of the book"):
        found = ask_own(desk.facts(), text).begun(SHOWN_AT_ONCE)
    with desk.database().read() as view:
        known = _numbers(view, found)
    _show(answer, found, None, "Your question", known)


def _numbers(view: View, answer: Answer) -> set[str]:
    """Part numbers among the values that are shown."""
    return view.known_numbers(value for row in answer.rows for value in row if isinstance(value, str))


def _show(
    place: st.delta_generator.DeltaGenerator, answer: Answer, quantity: Quantity | None, asks: str, known: set[str]
) -> None:
    count = answer.count
    with place:
        st.title(f"{asks} {counted(count, 'row') if count else 'Nothing in the book.'}")
    if answer.turtle is not None:
        st.code(answer.turtle, language="turtle")
        return
    if not answer.rows:
        return
    heads = [c.split(" [")[0] if c.startswith("value [") else c for c in answer.columns]

    def shown(value: object, column: str) -> str | Markup:
        text = "" if value is None else said(value, column, quantity)  # type: ignore[arg-type]
        return link(text, "parts", {"part": text}) if text in known else text

    table(
        heads,
        [[shown(v, c) for v, c in zip(row, answer.columns, strict=True)] for row in answer.rows],
        right=[i for i, v in enumerate(answer.rows[0]) if isinstance(v, float | int) and not isinstance(v, bool)],
    )
    if answer.left:
        trouble(
            f"{len(answer.rows)} of {count} rows; ask more narrowly, or on the command line with: pinchpoint ask --all"
        )


if __name__ == "__main__":
    show()
