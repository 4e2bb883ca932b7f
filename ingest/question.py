"""What a sheet says with colour, strike-through, hiding and comments, put as questions: it is never read as data."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterator, Sequence

from ingest.decoration import Decoration, is_red
from ingest.line import Line
from ingest.problem import Problem
from ingest.table import Sheet

#: Colours with which the program itself marks an annotated copy: a defect, a row that is held.
DEFECT_COLOUR, WAITING_COLOUR = "F6B8A6", "FBEFD5"
#: How a comment begins that the program itself has written.
OWN_COMMENT = re.compile(r"\s*(?:Pinchpoint:\s*)?(?:Found .+; expected |This row is not loaded)", re.S)
GROSS = re.compile(
    r"\b(?:gross|brutto|incl(?:\.|uding|usive)?\s*(?:of\s+)?(?:vat|tax)|with\s+(?:vat|tax)"
    r"|inkl\.?\s*(?:mwst|ust|steuer)|mit\s+(?:mwst|ust))\b",
    re.I,
)

_Make = Callable[[int, str | None, str, str, str], Problem]


def human_comment(decoration: Decoration, cell: str) -> str:
    """Text of the comment that a person has put on a cell, in one line; empty where there is none.

    Parameters
    ----------
    decoration : Decoration
        Of the sheet.
    cell : str
        Such as ``B12``.

    Returns
    -------
    str
        Without the comments of an annotated copy.
    """
    text = decoration.comments.get(cell, "")
    return "" if OWN_COMMENT.match(text) else " ".join(text.split())


def ask(sheet: Sheet, decoration: Decoration, lines: Sequence[Line], answered: Collection[str]) -> Iterator[Problem]:
    """Put a sheet's decorations as questions; the values under them are read all the same.

    Parameters
    ----------
    sheet : Sheet
        As read.
    decoration : Decoration
        What it says beside its values.
    lines : sequence of Line
        Its data rows.
    answered : collection of str
        Cells whose comment has been used already.

    Yields
    ------
    Problem
        One for a hidden sheet, each hidden column, each run of hidden rows, each red or struck-through row and each
        comment.
    """

    def problem(row: int, column: str | None, found: str, expected: str, remedy: str) -> Problem:
        return Problem(
            file=sheet.file, sheet=sheet.name, row=row, column=column, found=found, expected=expected, remedy=remedy
        )

    if decoration == Decoration() and not sheet.hidden:
        return
    if sheet.hidden and lines:
        yield problem(
            lines[0].number,
            None,
            f"a hidden sheet with {len(lines)} data rows",
            "sheets that people can see",
            "delete the sheet if it no longer holds; its rows are read",
        )
    headers = {line.header.row: line.header for line in lines}
    for row, header in headers.items():
        for column, name in header.names.items():
            if column in decoration.hidden_columns:
                yield problem(
                    row,
                    column,
                    f"a hidden column headed {name!r}",
                    "columns that people can see",
                    "show the column, or delete it if it no longer holds; it is read like the others",
                )
    hidden = [line for line in lines if line.number in decoration.hidden_rows]
    for first, last in _runs(hidden):
        rows = f"hidden rows {first.number} to {last.number}" if first is not last else "a hidden row"
        yield problem(
            first.number,
            first.header.columns.get("number"),
            f"{rows} ({_named(first)})",
            "rows that people can see",
            "show the row, or delete it if it no longer holds; it is read like the others",
        )
    for line in lines:
        yield from _of_row(line, decoration, problem, answered)


def _of_row(line: Line, decoration: Decoration, problem: _Make, answered: Collection[str]) -> Iterator[Problem]:
    places = {column: f"{column}{line.number}" for column in line.columns}
    struck = [c for c, cell in places.items() if cell in decoration.struck]
    red = [c for c, cell in places.items() if _marked(decoration, cell)]
    for columns, what in ((struck, "struck through"), (red, "in red")):
        if columns:
            whole = len(columns) * 2 > len(places)
            found = f"a row {what} ({_named(line)})" if whole else "cells " + what + ": " + ", ".join(columns)
            yield problem(
                line.number,
                columns[0],
                found,
                "what the colour or the line means, in words",
                "delete the row if the part is discontinued, or say it in the note; it is read like the others",
            )
    for column, cell in places.items():
        comment = human_comment(decoration, cell)
        if comment and cell not in answered:
            yield problem(
                line.number,
                column,
                f"the comment {comment[:200]!r}",
                "what matters in cells; comments are not read",
                "move it to the condition or the note, and delete the comment",
            )


def _marked(decoration: Decoration, cell: str) -> bool:
    """Return whether a person has made a cell red."""
    fill = decoration.fills.get(cell, "")
    own = fill[2:].upper() in (DEFECT_COLOUR, WAITING_COLOUR)
    return (is_red(fill) and not own) or is_red(decoration.inks.get(cell, ""))


def _named(line: Line) -> str:
    """Return how people call a row."""
    return line.word("number") or next(iter(line.raw.values()), "blank")


def _runs(lines: Sequence[Line]) -> Iterator[tuple[Line, Line]]:
    """Yield the first and the last of rows that follow each other."""
    start = 0
    for index, line in enumerate(lines):
        if index + 1 == len(lines) or lines[index + 1].number != line.number + 1:
            yield lines[start], line
            start = index + 1
