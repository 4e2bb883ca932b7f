"""Asking the book: one way for the command and the page, by a few look-ups wherever the question allows it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from graph.errors import UnknownName, UsageError

if TYPE_CHECKING:
    from graph.limit import Kind, RatingSpec
    from graph.projection.answer import Answer, Cell
    from graph.projection.facts import Facts
    from graph.quantity import Quantity
    from graph.store import View

#: Longest time that a SPARQL query may take [s].
SECONDS = 20.0
#: How a query in a file ends.
QUERY = ".rq"


def check_arguments(name: str, arguments: tuple[str, ...]) -> None:
    """Refuse a question that cannot be asked.

    Parameters
    ----------
    name : str
        Of the question, or of a file with a query.
    arguments : tuple of str
        As given.

    Raises
    ------
    UnknownName
        No question has this name.
    UsageError
        Too few or too many arguments.
    """
    from graph.projection.question import QUESTIONS

    if name.lower().endswith(QUERY):
        if arguments:
            raise UsageError(f"{name} takes no arguments; write what you look for into the query")
        return
    if name not in QUESTIONS:
        raise UnknownName("question", name, [*QUESTIONS, f"FILE{QUERY}"])
    expected = QUESTIONS[name].arguments
    least = sum(not a.startswith("[") for a in expected)
    if not least <= len(arguments) <= len(expected):
        wanted = " ".join((name, *expected))
        raise UsageError(f"found {len(arguments)} arguments, expected is: ask {wanted}")


def ask_named(
    view: View, name: str, arguments: tuple[str, ...], first: int | None = None
) -> tuple[Answer, Quantity | None]:
    """Answer a question with a name.

    Parameters
    ----------
    view : View
        Inside a transaction.
    name : str
        Of the question.
    arguments : tuple of str
        As given.
    first : int or None
        How many rows are wanted; None for all. The answer knows how many there are.

    Returns
    -------
    answer : Answer
        Each row with its evidence.
    quantity : Quantity or None
        Of the values, where there are any.
    """
    from graph.projection import question, survey
    from graph.projection.nearby import ahead, behind

    check_arguments(name, arguments)
    if name == "fits-slot-and-carries":
        return _carries(view, first, *arguments)
    if name == "pulls-along":
        answer = question.pulls_along(ahead(view, arguments[0]), arguments[0])
    elif name == "why-needed":
        answer = question.why_needed(ahead(view, arguments[1], arguments[0]), *arguments)
    elif name == "breaks-if-withdrawn":
        answer = question.breaks_if_withdrawn(behind(view, arguments[0]), arguments[0])
    elif name == "no-usable-rating":
        answer = survey.survey_usable(view, first)
    elif name == "goes-in-circles":
        answer = survey.survey_circles(view, first)
    else:
        answer = survey.survey_hanging(view, first)
    return answer.begun(first, answer.left), None


def _carries(
    view: View, first: int | None, slot: str, amount: str, code: str | None = None, rating: str | None = None
) -> tuple[Answer, Quantity]:
    from graph.projection.nearby import parts_for
    from graph.projection.question import fits_slot_and_carries

    kind, spec, at_least = _wanted(slot, amount, rating)
    facts, left = parts_for(view, kind, spec, at_least, code, first)
    return fits_slot_and_carries(facts, kind, at_least, code=code, rating=rating).begun(first, left), spec.quantity


def _wanted(slot: str, amount: str, rating: str | None) -> tuple[Kind, RatingSpec, float]:
    from graph.projection.question import rated_by
    from graph.service import find_kind
    from ui.cli import _value

    kind = find_kind(slot)
    spec = rated_by(kind, rating)
    at_least = _value(amount, spec.quantity, "AMOUNT")
    assert at_least is not None
    return kind, spec, at_least


def ask_own(facts: Facts, text: str, seconds: float = SECONDS) -> Answer:
    """Answer a question in SPARQL from the graph of the whole book.

    Parameters
    ----------
    facts : Facts
        Everything in the book.
    text : str
        The query.
    seconds : float
        Longest time for it [s].

    Returns
    -------
    Answer
        Rows, a truth value, or statements.
    """
    from graph.projection.rdf import describe
    from graph.projection.sparql import query

    return query(describe(facts), text, seconds=seconds)


def said(value: Cell, column: str, quantity: Quantity | None) -> str:
    """A value of an answer in words; one in its column ``value [...]`` in the shop's unit."""
    from ui import format as form

    if value is None:
        return "-"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        if quantity is not None and column.startswith("value ["):
            return form.quantity(value, quantity)
        return f"{value:.6g}"
    return str(value)
