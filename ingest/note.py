"""What a free note may hold that belongs into a column: offered in a question, never taken over."""

from __future__ import annotations

import re

from graph.limit import Kind
from graph.quantity import Quantity
from ingest.line import Line
from ingest.problem import Problem, UnreadableValue
from ingest.rating import rating_spec
from ingest.units import parse_quantity
from ingest.vocabulary import Vocabulary


def note_candidate(line: Line, kind: Kind | None, words: Vocabulary) -> str:
    """Value with a unit that the note of a row holds and that may be its missing rating.

    Parameters
    ----------
    line : Line
        A data row without a rating.
    kind : Kind or None
        Of the part.
    words : Vocabulary
        For names of ratings.

    Returns
    -------
    str
        As written; empty where there is none.
    """
    if kind is None or not line.text("note"):
        return ""
    ignored: list[Problem] = []
    spec = rating_spec(line, kind, words, ignored.append)
    return find_quantity(line.word("note"), spec.quantity) if spec is not None else ""


def find_quantity(text: str, quantity: Quantity) -> str:
    """First piece of a free text that can be read as a quantity with its unit.

    Parameters
    ----------
    text : str
        A note.
    quantity : Quantity
        What is looked for.

    Returns
    -------
    str
        As written; empty where there is none.

    Examples
    --------
    >>> find_quantity("own rig says 0.235 cm3/stroke, lobe checked", Quantity.VOLUME)
    '0.235 cm3/stroke'
    """
    for match in re.finditer(r"(?<![\w.,/-])\d", text):
        said = text[match.start() :].split()
        for count in range(min(4, len(said)), 0, -1):
            piece = " ".join(said[:count]).rstrip(".,;:)")
            try:
                measure = parse_quantity(piece, quantity)
            except UnreadableValue:
                continue
            if not measure.condition:
                return piece
    return ""
