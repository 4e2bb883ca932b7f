"""A rating corrected by hand: the words of a person, read by the same rules as a row of a sheet."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from graph.errors import UsageError
from graph.kinds import discover
from graph.model import Part, Rating
from ingest.header import Header
from ingest.line import line_under
from ingest.problem import Problem
from ingest.rating import read_rating
from ingest.table import Row
from ingest.vocabulary import read_vocabulary

if TYPE_CHECKING:
    from collections.abc import Mapping

FIELDS = ("rating_of", "rating", "condition", "meaning", "evidence", "date", "spread", "by")
_COLUMNS = {name: chr(ord("A") + index) for index, name in enumerate(FIELDS)}


def read_correction(part: Part, said: Mapping[str, str], *, who: str) -> Rating:
    """Read a corrected rating.

    Parameters
    ----------
    part : Part
        As it stands.
    said : mapping of str to str
        Field of :data:`FIELDS` to text, as in a sheet: ``{"rating": "190 l/h @ 5 bar", "evidence": "own bench"}``.
    who : str
        Who says so; stands in the evidence.

    Returns
    -------
    Rating
        [SI]

    Raises
    ------
    UsageError
        The words cannot be read with certainty; every defect is named.
    """
    kind = discover().get(part.kind)
    if kind is None:
        raise UsageError(f"{part.id} is of the kind {part.kind!r}, which this program does not know")
    given = {name: text.strip() for name, text in {"by": who, **said}.items() if text.strip()}
    header = Header(
        table="parts", row=1, columns=_COLUMNS, names={c: n for n, c in _COLUMNS.items()}, units={}, unknown=()
    )
    texts = tuple(given.get(name, "") for name in FIELDS)
    line = line_under(header, Row(number=1, values=texts, texts=texts), "correction")
    problems: list[Problem] = []
    rating = read_rating(line, kind, read_vocabulary(), problems.append)
    if rating is None or problems:
        raise UsageError("; ".join(_plain(p) for p in problems) or f"no rating of {part.id} can be read from {given}")
    return replace(rating, evidence=replace(rating.evidence, source=f"corrected by {who} in the program"))


def _plain(problem: Problem) -> str:
    """A defect without the place, which here is what the person has just typed."""
    field = next((n for n, c in _COLUMNS.items() if c == problem.column), "").replace("_", " ")
    return f"{field}: found {problem.found}; expected is {problem.expected}; {problem.remedy}".removeprefix(": ")
