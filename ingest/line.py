"""One data row under a header, its cells by field, and the memory of cells that were read before."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import dataclass
from itertools import compress
from typing import TypeVar

from graph.store.record import row_place, rows_place
from ingest.extent import column_letters
from ingest.header import Header
from ingest.problem import Problem
from ingest.table import Row, Value

_Read = TypeVar("_Read")
#: Clean cells that are remembered under one header.
MOST_REMEMBERED = 100_000


@dataclass(slots=True, kw_only=True, eq=False)
class Line:
    """One data row under a header.

    Parameters
    ----------
    file, sheet : str
        Where it stands; the sheet's name is empty for a text table.
    number : int
        Row number as the spreadsheet shows it [1].
    header : Header
        Of its table.
    row : Row
        Its cells.
    texts : tuple of str
        Their texts, at least as many as the header has columns, and an empty one at the end.
    fault : bool
        True where a cell shows an error instead of a value; the error has been recorded.
    """

    file: str
    sheet: str
    number: int
    header: Header
    row: Row
    texts: tuple[str, ...]
    fault: bool = False

    def text(self, name: str) -> str:
        """Text of a field, empty where the cell is."""
        return self.texts[self.header.at[name]]

    def word(self, name: str) -> str:
        """Text of a field with every kind of space as one plain space."""
        text = self.texts[self.header.at[name]]
        return " ".join(text.split()) if text else ""

    def value(self, name: str) -> Value:
        """Stored value of a field, None where the cell is empty."""
        return self.row.values[self.header.at[name]] if self.text(name) else None

    def unit(self, name: str) -> str | None:
        """Unit that the header declares for a field."""
        return self.header.units.get(self.header.columns.get(name, ""))

    @property
    def raw(self) -> dict[str, str]:
        """Every filled cell: header, or column letters where there is none, to text."""
        keys, texts = self.header.keys, self.row.texts
        if len(texts) > len(keys):
            keys = (*keys, *map(column_letters, range(len(keys), len(texts))))
        return dict(zip(compress(keys, texts), filter(None, texts), strict=True))

    @property
    def columns(self) -> tuple[str, ...]:
        """Letters of every filled cell."""
        return tuple(self.row.filled)

    @property
    def place(self) -> str:
        """Place of the row in words, such as ``parts.xlsx, sheet 'Fuel', row 12``."""
        return row_place(self.file, self.sheet, self.number)

    def source(self, name: str) -> str:
        """Place of a field in words, such as ``parts.xlsx, sheet 'Fuel', row 12, column 'Rating' (F)``."""
        return f"{rows_place(self.file, self.sheet)}{self.number}{self.header.ends.get(name, '')}"

    def cell(self, name: str) -> str:
        """Place of a field within its sheet, such as ``F12``; empty where the table has no such column."""
        column = self.header.columns.get(name)
        return "" if column is None else f"{column}{self.number}"

    def problem(self, name: str, found: str, expected: str, remedy: str) -> Problem:
        """A defect of one field of this row."""
        return Problem(
            file=self.file,
            sheet=self.sheet,
            row=self.number,
            column=self.header.columns.get(name),
            found=found,
            expected=expected,
            remedy=remedy,
        )


def line_under(header: Header, row: Row, file: str, sheet: str = "", *, fault: bool = False) -> Line:
    """A data row under its header.

    Parameters
    ----------
    header : Header
        Of its table.
    row : Row
        Its cells.
    file, sheet : str
        Where it stands; the sheet's name is empty for a text table.
    fault : bool
        True where a cell shows an error instead of a value.

    Returns
    -------
    Line
        With its cells by field.
    """
    texts = row.texts + header.blank[len(row.texts) :] + ("",)
    return Line(file=file, sheet=sheet, number=row.number, header=header, row=row, texts=texts, fault=fault)


def remember(
    line: Line, key: Hashable, add: Callable[[Problem], None], read: Callable[..., _Read | None], *given: object
) -> _Read | None:
    """What cells read as, from memory where the same texts were read without a defect under this header.

    A book repeats its words: units, conditions, dates, evidence. Whatever is out of order is read anew each time, so
    that each defect is found at its own cell.

    Parameters
    ----------
    line : Line
        The row.
    key : hashable
        What is read, and everything that it depends on beside the header and the shop's words.
    add : callable
        Takes every defect found.
    read : callable
        Reads it: its arguments are the row, what is given, and what takes the defects.
    given : object
        What it takes beside the row.

    Returns
    -------
    object or None
        As read.
    """
    clean = line.header.clean
    known: _Read | None = clean.get(key)
    if known is not None:
        return known
    problems: list[Problem] = []
    found = read(line, *given, problems.append)
    for problem in problems:
        add(problem)
    if not problems and found is not None:
        keep(line, key, found)
    return found


def keep(line: Line, key: Hashable, found: object) -> None:
    """Remember under a line's header what clean cells read as, as long as that is not too much."""
    if len(line.header.clean) < MOST_REMEMBERED:
        line.header.clean[key] = found
