"""One door for sheets: XLSX, XLS, ODS and text tables become the same rows of cells.

Rows and columns carry the numbers and letters that the spreadsheet shows. What kind of file it is, its first bytes
say, not its name. Nothing is converted and no empty cell becomes a zero.
"""

from __future__ import annotations

import io
from dataclasses import dataclass, replace
from pathlib import Path

import python_calamine

from ingest.archive import scan_archive
from ingest.decoration import Decoration, decorations
from ingest.extent import Scan, column_letters
from ingest.memory import uncollected
from ingest.problem import Problem, UnreadableFile
from ingest.row import Cell, Row, Value, laid_out
from ingest.scan_xls import scan_xls
from ingest.text_sheet import read_text

__all__ = ["Cell", "Decoration", "Row", "Sheet", "Value", "Workbook", "column_letters", "decorations", "read_workbook"]

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


@uncollected()
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
    sheet = Sheet(file=file, name="", rows=laid_out(text.records, text.first_row))
    return Workbook(file=file, kind="text", sheets=(sheet,), encoding=text.encoding, delimiter=text.delimiter)


def _content(path: Path) -> bytes:
    """Return a file's bytes, or say why there are none to be had."""
    shown = path.name.encode(errors="backslashreplace").decode()
    if shown != path.name:
        raise UnreadableFile(shown, "its name is no text in UTF-8", "give the file another name")
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
                rows=laid_out(source.to_python(skip_empty_area=False), 1, scan.percentages.get(meta.name, frozenset())),
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
