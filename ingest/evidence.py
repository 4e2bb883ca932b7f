"""How a shop says how it knows a number: words to the closed list of evidence kinds."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date, datetime

from graph.model import EvidenceKind
from ingest.line import Line
from ingest.problem import Problem
from ingest.table import Value
from ingest.vocabulary import Vocabulary, plain_word

Add = Callable[[Problem], None]
EARLIEST, LATEST = 1950, 2100


def evidence_kind(text: str, words: Vocabulary) -> EvidenceKind | None:
    """Kind of evidence that a shop's words stand for.

    Parameters
    ----------
    text : str
        Such as ``own bench (1 used)`` or ``EJ + 2 failures``: what stands in brackets and whole numbers are left
        out, words joined by ``+`` count as the strongest of them.
    words : Vocabulary
        The closed list.

    Returns
    -------
    EvidenceKind or None
        None where any of the words is in no list.
    """
    order = list(EvidenceKind)
    found: list[EvidenceKind] = []
    for piece in re.sub(r"\([^()]*\)", " ", text).split("+"):
        uncounted = re.sub(r"(?<!\S)\d+(?!\S)", " ", plain_word(piece))
        meaning = words.meaning("evidence", piece) or words.meaning("evidence", uncounted)
        if meaning is None:
            return None
        found.append(EvidenceKind(meaning))
    return min(found, key=order.index)


def iso_date(value: Value, text: str) -> str | None:
    """ISO date of a cell.

    Parameters
    ----------
    value : date, str or any stored value
        As stored.
    text : str
        As shown; year-month-day or day.month.year. ``3/2/2026`` has two readings and is none.

    Returns
    -------
    str or None
        Such as ``2026-03-02``; None where the cell holds no such date between 1950 and 2100.
    """
    found: date | None = None
    if isinstance(value, datetime):
        found = value.date()
    elif isinstance(value, date):
        found = value
    elif isinstance(value, str):
        for pattern, form in ((r"\d{4}-\d{1,2}-\d{1,2}", "%Y-%m-%d"), (r"\d{1,2}\.\s?\d{1,2}\.\s?\d{4}", "%d.%m.%Y")):
            if re.fullmatch(pattern, text):
                try:
                    found = datetime.strptime(text.replace(" ", ""), form).date()
                except ValueError:
                    return None
    return found.isoformat() if found is not None and EARLIEST <= found.year <= LATEST else None


def read_evidence(line: Line, words: Vocabulary, add: Add) -> tuple[EvidenceKind, str, str | None] | None:
    """How the number of a row is known.

    Parameters
    ----------
    line : Line
        A data row with a rating.
    words : Vocabulary
        The closed list.
    add : callable
        Takes every defect found.

    Returns
    -------
    tuple or None
        The kind, the shop's words for it, and since when; None where a defect was found.
    """
    said = line.word("evidence")
    kind = _known(line, said, words, add)
    since = _date(line, add) if line.text("date") else None
    return None if kind is None or (since is None and line.text("date")) else (kind, said, since)


def _known(line: Line, said: str, words: Vocabulary, add: Add) -> EvidenceKind | None:
    kind = evidence_kind(said, words) if said else None
    if kind is None:
        add(
            line.problem(
                "evidence",
                repr(said) if said else "nothing",
                "how the number is known: " + ", ".join(words.known("evidence")),
                "say where the number comes from; 'estimate' if nobody knows",
            )
        )
    return kind


def _date(line: Line, add: Add) -> str | None:
    since = iso_date(line.value("date"), line.text("date"))
    if since is None:
        add(
            line.problem(
                "date",
                repr(line.text("date")),
                "a date such as 2026-03-02 or 2.3.2026",
                "write the date as year-month-day",
            )
        )
    return since
