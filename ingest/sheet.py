"""A table of a sheet as records of text: where it starts, what is data, and what became of every row."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from types import MappingProxyType

from graph.store.record import SheetRow
from ingest.header import Header, recognise
from ingest.problem import Problem
from ingest.table import Cell, Row, Sheet

LOADED, HELD, NOT_DATA = "loaded", "held", "not data"


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One data row under a header.

    Parameters
    ----------
    file, sheet : str
        Where it stands.
    number : int
        Row number as the spreadsheet shows it.
    header : Header
        Of its table.
    cells : mapping of str to Cell
        Field to cell; empty cells are left out.
    """

    file: str
    sheet: str
    number: int
    header: Header
    cells: Mapping[str, Cell]

    def text(self, name: str) -> str:
        """Text of a field, empty where the cell is."""
        cell = self.cells.get(name)
        return "" if cell is None else str(cell.text).strip()

    def source(self, name: str) -> str:
        """Place of a field in words, such as ``parts.xlsx, sheet 'Fuel', row 12, column 'Rating' (F)``."""
        column = self.header.columns.get(name, "")
        shown = self.header.names.get(column, name)
        return f"{self.file}, sheet '{self.sheet}', row {self.number}, column '{shown}' ({column})"

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


@dataclass(slots=True, kw_only=True)
class Reading:
    """What reading one sheet has given so far.

    Parameters
    ----------
    file, sheet : str
        Which sheet.
    problems : list of Problem
        Every defect.
    rows : list of SheetRow
        Every row as read and what became of it.
    """

    file: str
    sheet: str
    problems: list[Problem] = field(default_factory=list)
    rows: list[SheetRow] = field(default_factory=list)

    def keep(self, line: Line, outcome: str, note: str = "") -> None:
        """Record what became of a data row."""
        raw = {line.header.names.get(c, c): str(cell.text) for c, cell in _by_column(line).items()}
        self.rows.append(_row(self, line.number, raw, outcome, note))

    def aside(self, row: Row, note: str) -> None:
        """Record a row that is no data, and why."""
        raw = {cell.column: str(cell.text) for cell in row.cells if str(cell.text).strip()}
        self.rows.append(_row(self, row.number, raw, NOT_DATA, note))


def _row(reading: Reading, number: int, raw: dict[str, str], outcome: str, note: str) -> SheetRow:
    return SheetRow(
        file=reading.file, sheet=reading.sheet, number=number, cells=MappingProxyType(raw), outcome=outcome, note=note
    )


def _by_column(line: Line) -> dict[str, Cell]:
    return {cell.column: cell for cell in line.cells.values()}


def lines(sheet: Sheet, reading: Reading) -> Iterator[Line]:
    """The data rows of a sheet, each under the header that stands above it.

    Titles, headers and blank rows are recorded as no data; a column without a known header is asked about once.

    Parameters
    ----------
    sheet : Sheet
        As read.
    reading : Reading
        Takes what is no data and what is asked.

    Yields
    ------
    Line
        With its cells by field.
    """
    header: Header | None = None
    for row in sheet.rows:
        filled = [cell for cell in row.cells if str(cell.text).strip()]
        if not filled:
            reading.aside(row, "blank")
            continue
        found = recognise(row)
        if found is not None:
            header = found
            reading.aside(row, "header")
            for column in found.unknown:
                reading.problems.append(
                    Problem(
                        file=sheet.file,
                        sheet=sheet.name,
                        row=row.number,
                        column=column,
                        found=f"a column headed {found.names[column]!r}",
                        expected="a known header",
                        remedy="rename the header or add the spelling to the shop's list; the column is not read",
                    )
                )
            continue
        if header is None:
            reading.aside(row, "title")
            continue
        by_column = {cell.column: cell for cell in filled}
        cells = {name: by_column[c] for name, c in header.columns.items() if c in by_column}
        yield Line(file=sheet.file, sheet=sheet.name, number=row.number, header=header, cells=MappingProxyType(cells))


def date_text(value: object, text: str) -> str | None:
    """ISO date of a cell, None where it is none.

    Parameters
    ----------
    value : object
        As read.
    text : str
        As shown.

    Returns
    -------
    str or None
        ``2026-03-02``
    """
    if isinstance(value, datetime):
        return value.date().isoformat()
    if isinstance(value, date):
        return value.isoformat()
    for pattern in ("%Y-%m-%d", "%d.%m.%Y", "%d/%m/%Y"):
        try:
            return datetime.strptime(text.strip(), pattern).date().isoformat()
        except ValueError:
            continue
    return None
