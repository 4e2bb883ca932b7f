"""One door for sheets: XLSX, XLS, ODS and text tables become the same rows of cells.

Rows and columns carry the numbers and letters that the spreadsheet shows. What kind of file it is, its first bytes
say, not its name. Nothing is converted and no empty cell becomes a zero.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from pathlib import Path

import python_calamine

from ingest.archive import scan_archive
from ingest.decoration import Decoration, decorations
from ingest.extent import Scan, column_letters
from ingest.problem import Problem, UnreadableFile
from ingest.scan_xls import scan_xls
from ingest.text_sheet import read_text

__all__ = ["Cell", "Decoration", "Row", "Sheet", "Value", "Workbook", "column_letters", "decorations", "read_workbook"]

Value = str | float | int | bool | date | time | timedelta | None

LARGEST_FILE = 100 * 1024 * 1024
LARGEST_WIDTH = 20_000
MOST_CELLS = 2_000_000

_FOREIGN = (
    (b"%PDF", "a PDF"),
    (b"\x89PNG", "a picture"),
    (b"\xff\xd8\xff", "a picture"),
    (b"GIF8", "a picture"),
    (b"\x1f\x8b", "a compressed archive"),
    (b"7z\xbc\xaf", "a compressed archive"),
    (b"Rar!", "a compressed archive"),
    (b"{\\rtf", "a text document"),
    (b"SQLite format 3", "a database"),
)


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


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One row, from column A to the last filled cell.

    Parameters
    ----------
    number : int
        The row's number as the spreadsheet shows it [1], counted from 1.
    values : tuple of str, float, int, bool, date, time, timedelta or None
        Stored values; what a blank cell holds does not count.
    texts : tuple of str
        The same as a person reads them; empty for a blank cell, and no text at all for a blank row.
    """

    number: int
    values: tuple[Value, ...]
    texts: tuple[str, ...]

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


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """One sheet of a file.

    Parameters
    ----------
    file : str
        The file's name without its folder.
    name : str
        The sheet's name; empty for a text table.
    rows : tuple of Row
        From row 1 to the last filled row, blank rows included.
    hidden : bool
        True where the spreadsheet hides the sheet.
    problems : tuple of Problem
        Cells that show an error or a formula without a stored result; they read as empty.
    """

    file: str
    name: str
    rows: tuple[Row, ...]
    hidden: bool = False
    problems: tuple[Problem, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Workbook:
    """One file.

    Parameters
    ----------
    file : str
        The file's name without its folder.
    kind : {'xlsx', 'xls', 'ods', 'text'}
        What the file is, whatever its name says.
    sheets : tuple of Sheet
        In the file's order.
    not_tables : tuple of str
        Names of sheets that hold no cells, such as chart sheets.
    encoding : str
        How a text table was decoded; empty for the others. ``cp1252`` is the last resort: let a person see a preview.
    delimiter : str
        What parts the columns of a text table; empty for the others.
    """

    file: str
    kind: str
    sheets: tuple[Sheet, ...]
    not_tables: tuple[str, ...] = ()
    encoding: str = ""
    delimiter: str = ""


def read_workbook(path: Path | str, *, delimiter: str | None = None) -> Workbook:
    r"""Read every sheet of a file.

    Parameters
    ----------
    path : Path or str
        The file.
    delimiter : {',', ';', '|', '\t'} or None
        What parts the columns of a text table; None lets the text decide and refuses where it leaves doubt.

    Returns
    -------
    Workbook
        The sheets with their rows.

    Raises
    ------
    UnreadableFile
        Missing, empty, too large, not a table, damaged, protected by a password.
    """
    path = Path(path)
    content = _content(path)
    file = path.name
    for magic, what in _FOREIGN:
        if content.startswith(magic):
            raise UnreadableFile(file, f"this is {what}, not a table", "export the table as XLSX, ODS or CSV")
    if content.startswith(b"PK"):
        scan = scan_archive(content, file, MOST_CELLS, LARGEST_WIDTH)
        return _spreadsheet(content, file, scan)
    if content.startswith(b"\xd0\xcf\x11\xe0"):
        return _spreadsheet(content, file, scan_xls(content, file, MOST_CELLS, LARGEST_WIDTH))
    text = read_text(content, file, delimiter=delimiter, most_cells=MOST_CELLS, largest_width=LARGEST_WIDTH)
    sheet = Sheet(file=file, name="", rows=_rows(text.records, text.first_row))
    return Workbook(file=file, kind="text", sheets=(sheet,), encoding=text.encoding, delimiter=text.delimiter)


def _content(path: Path) -> bytes:
    """Return a file's bytes, or say why there are none to be had."""
    try:
        if not path.is_file():
            found = "this is a folder" if path.is_dir() else "there is no such file"
            raise UnreadableFile(path.name, found, "check the path")
        size = path.stat().st_size
        if size > LARGEST_FILE:
            raise UnreadableFile(
                path.name, f"{size / 2**20:.0f} MB is more than the {LARGEST_FILE // 2**20} MB read", "split the file"
            )
        content = path.read_bytes()
    except OSError as error:
        reason = (error.strerror or "unknown reason").lower()
        raise UnreadableFile(path.name, f"cannot be opened ({reason})", "check the rights of the file") from error
    if not content.strip():
        raise UnreadableFile(path.name, "the file is empty", "export the table again")
    return content


def _spreadsheet(content: bytes, file: str, scan: Scan) -> Workbook:
    """Return the sheets of a spreadsheet whose size is known to be harmless."""
    damaged = UnreadableFile(file, "the spreadsheet is damaged", "open it in the spreadsheet program and save it again")
    try:
        book = python_calamine.CalamineWorkbook.from_filelike(io.BytesIO(content))
        sheets: list[Sheet] = []
        others: list[str] = []
        cells = 0
        for meta in book.sheets_metadata:
            if meta.typ is not python_calamine.SheetTypeEnum.WorkSheet:
                others.append(meta.name)
                continue
            source = book.get_sheet_by_name(meta.name)
            cells += (source.total_height + 1) * (source.total_width + 1)
            if cells > MOST_CELLS:
                raise UnreadableFile(
                    file, f"more than {MOST_CELLS} cells", "delete far-off stray cells or split the file"
                )
            sheet = Sheet(
                file=file,
                name=meta.name,
                rows=_rows(source.to_python(skip_empty_area=False), 1, scan.percentages.get(meta.name, frozenset())),
                hidden=meta.visible is not python_calamine.SheetVisibleEnum.Visible,
                problems=tuple(
                    replace(problem, file=file, sheet=meta.name) for problem in scan.problems.get(meta.name, ())
                ),
            )
            sheets.append(sheet)
    except python_calamine.PasswordError as error:
        raise UnreadableFile(file, "the file is protected by a password", "save it without one") from error
    except (python_calamine.CalamineError, OSError, ValueError) as error:
        raise damaged from error
    except BaseException as error:
        # a panic inside the reader does not derive from Exception
        if type(error).__name__ == "PanicException":
            raise damaged from error
        raise
    return Workbook(file=file, kind=scan.kind, sheets=tuple(sheets), not_tables=tuple(others))


def _rows(records: Sequence[Sequence[Value]], first: int, percentages: frozenset[str] = frozenset()) -> tuple[Row, ...]:
    """Return records as rows; blank cells at the end of a row and blank rows at the end are left out."""
    rows = [_row(record, number, percentages) for number, record in enumerate(records, start=first)]
    while rows and not rows[-1].texts:
        rows.pop()
    return tuple(rows)


def _row(record: Sequence[Value], number: int, percentages: frozenset[str]) -> Row:
    """Return a record up to its last filled cell."""
    texts = [value.strip() if type(value) is str else _text_of(value) for value in record]
    while texts and not texts[-1]:
        texts.pop()
    values = record[: len(texts)]
    if percentages:
        shown = list(values)
        for index, value in enumerate(values):
            if isinstance(value, float) and f"{_letters_of(index)}{number}" in percentages:
                shown[index] = texts[index] = f"{value * 100:.15g} %"
        values = shown
    return Row(number=number, values=tuple(values), texts=tuple(texts))


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
