"""One row of a sheet: what is stored in its cells, and the same as a person reads it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import NamedTuple

from ingest.extent import column_letters

Value = str | float | int | bool | date | time | timedelta | None

#: Numbers of one sheet whose texts are kept.
MOST_SHOWN = 50_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One cell.

    Parameters
    ----------
    column : str
        The column's letters as the spreadsheet shows them.
    value : str, float, int, bool, date, time, timedelta or None
        The stored value; None when the cell is empty. A number shown as a percentage is the text ``72 %``.
    text : str
        The value as a person reads it, without white space at its ends.
    """

    column: str
    value: Value
    text: str


class Row(NamedTuple):
    """One row, from column A to the last filled cell.

    Parameters
    ----------
    number : int
        The row's number as the spreadsheet shows it [1], counted from 1.
    values : tuple of str, float, int, bool, date, time, timedelta or None
        Stored values; what a blank cell holds does not count.
    texts : tuple of str
        The same as a person reads them; empty for a blank cell, and no text at all for a blank row.
    types : tuple of type
        Of the values; none where all of them are texts, which say everything themselves.
    """

    number: int
    values: tuple[Value, ...]
    texts: tuple[str, ...]
    types: tuple[type, ...] = ()

    @property
    def cells(self) -> tuple[Cell, ...]:
        """The cells one by one."""
        return tuple(
            Cell(column=_letters_of(index), value=value if text else None, text=text)
            for index, (value, text) in enumerate(zip(self.values, self.texts, strict=True))
        )

    @property
    def filled(self) -> dict[str, str]:
        """Column letters to text of every filled cell."""
        return {_letters_of(index): text for index, text in enumerate(self.texts) if text}


def laid_out(
    records: Sequence[Sequence[Value]], first: int, percentages: frozenset[str] = frozenset()
) -> tuple[Row, ...]:
    """Return records as rows; blank cells at the end of a row and blank rows at the end are left out.

    Parameters
    ----------
    records : sequence of sequence of stored values
        As the reader gives them.
    first : int
        Number of the first of them as the spreadsheet shows it [1].
    percentages : frozenset of str
        Cells whose number is shown as a percentage, such as ``C7``.

    Returns
    -------
    tuple of Row
        One for each record up to the last that is filled.
    """
    shown = _Shown()
    rows = [_row(record, number, percentages, shown) for number, record in enumerate(records, start=first)]
    while rows and not rows[-1].texts:
        rows.pop()
    return tuple(rows)


class _Shown(dict[float, str]):
    """Numbers to their texts; a sheet repeats its numbers."""

    def __missing__(self, value: float) -> str:
        text = _text_of(value)
        if len(self) < MOST_SHOWN:
            self[value] = text
        return text


def _row(record: Sequence[Value], number: int, percentages: frozenset[str], known: _Shown) -> Row:
    """Return a record up to its last filled cell."""
    try:
        texts, all_text = list(map(str.strip, record)), True  # type: ignore[arg-type]
    except TypeError:
        all_text = False
        texts = [
            value.strip() if type(value) is str else known[value] if type(value) is float else _text_of(value)
            for value in record
        ]
    while texts and not texts[-1]:
        texts.pop()
    values = record[: len(texts)]
    if percentages:
        shown = list(values)
        for index, value in enumerate(values):
            if isinstance(value, float) and f"{_letters_of(index)}{number}" in percentages:
                shown[index] = texts[index] = f"{value * 100:.15g} %"
        values = shown
    return Row(number, tuple(values), tuple(texts), () if all_text else tuple(map(type, values)))


_LETTERS: list[str] = []


def _letters_of(index: int) -> str:
    """Return the letters of a column from a growing list: one string per column, not per cell."""
    while len(_LETTERS) <= index:
        _LETTERS.append(column_letters(len(_LETTERS)))
    return _LETTERS[index]


def _text_of(value: Value) -> str:
    """Return a stored value as a person reads it."""
    if value is None:
        return ""
    if isinstance(value, str):
        return value.strip()
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)
    if isinstance(value, datetime) and value.time() == time():
        return value.date().isoformat()
    if isinstance(value, (date, time)):
        return value.isoformat()
    return str(value)
