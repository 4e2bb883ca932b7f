"""A sheet whose first row names its columns: cells by column name, numbers within bounds, every defect noted."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from graph.quantity import Quantity
from ingest.problem import Problem, UnreadableFile, UnreadableValue
from ingest.table import Row, read_workbook
from ingest.units import parse_quantity


@dataclass(slots=True, kw_only=True)
class NamedTable:
    """One sheet with named columns.

    Parameters
    ----------
    file : str
        Its name.
    columns : dict of str to (int, str)
        Index and letters of each named column.
    rows : tuple of Row
        Below the names.
    problems : list of Problem
        Takes the defects.
    """

    file: str
    columns: dict[str, tuple[int, str]]
    rows: tuple[Row, ...]
    problems: list[Problem]

    def text(self, row: Row, column: str) -> str:
        """A cell's text; empty where the row ends before it."""
        place = self.columns.get(column)
        return row.cells[place[0]].text if place is not None and place[0] < len(row.cells) else ""

    def defect(self, row: Row, column: str, found: str, expected: str, remedy: str) -> None:
        """Note a defect of one cell."""
        letters = self.columns[column][1] if column in self.columns else None
        self.problems.append(
            Problem(file=self.file, row=row.number, column=letters, found=found, expected=expected, remedy=remedy)
        )

    def number(self, row: Row, column: str, low: float, high: float, default: float | None = None) -> float | None:
        """A plain number within bounds; None after a defect."""
        said = self.text(row, column)
        if not said and default is not None:
            return default
        try:
            value = parse_quantity(said, Quantity.RATIO, declared_unit="1").value
        except UnreadableValue as error:
            self.defect(row, column, error.found, f"a number from {low:g} to {high:g}", error.remedy)
            return None
        if not low <= value <= high:
            self.defect(row, column, said, f"a number from {low:g} to {high:g}", "correct the number")
            return None
        return value


def open_named(path: Path, needed: Iterable[str], problems: list[Problem]) -> NamedTable:
    """Open a sheet whose first filled row names its columns.

    Parameters
    ----------
    path : Path
        The sheet.
    needed : iterable of str
        Columns that must be there.
    problems : list of Problem
        Takes the defects.

    Returns
    -------
    NamedTable
        Its rows.

    Raises
    ------
    UnreadableFile
        Empty, or a column is missing.
    """
    sheet = read_workbook(path).sheets[0]
    filled = [row for row in sheet.rows if any(cell.text for cell in row.cells)]
    if not filled:
        raise UnreadableFile(path.name, "the sheet is empty", "fill it in or remove it")
    columns = {cell.text: (i, cell.column) for i, cell in enumerate(filled[0].cells) if cell.text}
    missing = [name for name in needed if name not in columns]
    if missing:
        raise UnreadableFile(path.name, f"no column {', '.join(map(repr, missing))}", "add it to the first row")
    return NamedTable(file=path.name, columns=columns, rows=tuple(filled[1:]), problems=problems)
