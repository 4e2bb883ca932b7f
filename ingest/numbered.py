"""Several ratings side by side in one row: columns headed ``Rating 1``, ``Rating 2`` with what belongs to each.

``Rating`` beside ``Rating 2`` is the first of them, with the ``Unit`` and ``Condition`` that bear no number.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType

from graph.limit import Kind, RatingSpec
from ingest.header import Header
from ingest.line import Line, line_under
from ingest.problem import Problem
from ingest.rating_number import read_number
from ingest.table import Row
from ingest.vocabulary import Vocabulary, plain_word

#: What belongs to one rating; standing once beside several numbered ones, nobody can say to which of them.
OF_ONE = frozenset({"rating_of", "rating", "unit", "condition", "meaning", "spread"})
#: What may stand once for all ratings of a row.
OF_ALL = frozenset({"evidence", "date", "by"})
_NUMBERED = re.compile(r"(?P<base>.*?\D)[\s.#]*(?P<number>[1-9])")


def grouped(header: Header, words: Vocabulary) -> tuple[Header, ...]:
    """The headers under which the ratings of one row are read, one for each.

    Parameters
    ----------
    header : Header
        Of any table.
    words : Vocabulary
        The spellings.

    Returns
    -------
    tuple of Header
        The header itself where no ratings stand side by side; else one for each number, in rising order, of which none
        asks about the columns of the others.
    """
    first = {field: column for field, column in header.columns.items() if field in OF_ONE}
    if header.table != "parts" or header.rated or (first and "rating" not in first):
        return (header,)
    shared = {field: column for field, column in header.columns.items() if field not in first}
    groups: dict[int, dict[str, str]] = {1: first} if first else {}
    units: dict[str, str] = {}
    for column in header.unknown:
        base, number, unit = _parted(header.names[column])
        field = words.header["parts"].get(base)
        if field not in OF_ONE | OF_ALL or field in groups.get(number, {}) or field in shared:
            continue
        groups.setdefault(number, {})[field] = column
        if unit:
            units[column] = unit
    found = {number: columns for number, columns in sorted(groups.items()) if "rating" in columns}
    if len(found) < 2:
        return (header,)
    read = {column for columns in found.values() for column in columns.values()}
    return tuple(
        replace(
            header,
            columns=MappingProxyType({**shared, **columns}),
            units=MappingProxyType({**units, **header.units}),
            unknown=tuple(c for c in header.unknown if c not in read),
            numbered=place,
        )
        for place, columns in enumerate(found.values(), start=1)
    )


def _parted(text: str) -> tuple[str, int, str]:
    """A header such as ``Rating 2 (g/s)``: the word looked up, its number, its unit; number 0 where it has none."""
    head, _, rest = text.partition("(") if "(" in text else text.partition("[")
    match = _NUMBERED.fullmatch(head.strip())
    if match is None:
        return "", 0, ""
    return plain_word(match["base"]), int(match["number"]), rest.rstrip(" )]").strip()


def side_by_side(headers: tuple[Header, ...], row: Row, file: str, sheet: str, *, fault: bool) -> Iterator[Line]:
    """One row as a line for each rating in it; the first stands for the part as well.

    Parameters
    ----------
    headers : tuple of Header
        As :func:`grouped` gives them.
    row : Row
        Its cells.
    file, sheet : str
        Where it stands.
    fault : bool
        True where a cell shows an error instead of a value.
    """
    for header in headers:
        line = line_under(header, row, file, sheet, fault=fault)
        if header.numbered < 2 or any(map(line.text, OF_ONE)):
            yield line


def told_by_value(line: Line, kind: Kind) -> tuple[RatingSpec, ...]:
    """Ratings of a kind that a cell may state by its number and unit alone.

    Parameters
    ----------
    line : Line
        A row with a rating.
    kind : Kind
        Of the part.

    Returns
    -------
    tuple of RatingSpec
        Those as which it can be read without a defect.
    """
    found = []
    for spec in kind.ratings:
        problems: list[Problem] = []
        value, _ = read_number(line, spec, problems.append)
        if value is not None and not problems:
            found.append(spec)
    return tuple(found)


def numbered_fields(headers: Sequence[Header]) -> Mapping[str, str]:
    """Column letters to field under the headers of one row; what belongs to one of several ratings bears its number."""
    shared = set.intersection(*(set(h.columns.values()) for h in headers))
    return {
        column: name if column in shared else f"{name} {h.numbered}"
        for h in headers
        for name, column in h.columns.items()
    }
