"""The sheets come back: one XLSX copy with a list of all defects, comments on the cells and drop-downs for repair.

A corrected copy can be read again as it is: the program's own list sheets are recognised and left out.
"""

from __future__ import annotations

import hashlib
import re
from collections import defaultdict
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from openpyxl import Workbook
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE
from openpyxl.comments import Comment
from openpyxl.styles import Alignment, Font, PatternFill
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.hyperlink import Hyperlink

from graph.errors import UsageError
from graph.kinds import discover
from ingest.book import Book
from ingest.header import recognise
from ingest.problem import Problem
from ingest.question import DEFECT_COLOUR, WAITING_COLOUR
from ingest.sheet import HELD, OWN_LIST
from ingest.table import Row, Sheet, Value, read_workbook
from ingest.vocabulary import Vocabulary, read_vocabulary

LIST, WORDS = "Problems", "Words"
DEFECT = PatternFill("solid", fgColor=DEFECT_COLOUR)
WAITING = PatternFill("solid", fgColor=WAITING_COLOUR)
HEAD = Font(bold=True)
COLUMNS = ("File", "Sheet", "Row", "Cell", "Found", "Expected", "What to do")
WIDTHS = (22, 18, 7, 9, 44, 60, 60)
MARKS = ("=", "+", "-", "@", "\t", "\r")
LONGEST_COMMENT = 2000


def write_annotated(book: Book, path: Path | str) -> None:
    """Write one workbook with a copy of every sheet that was read and a list of all defects.

    Parameters
    ----------
    book : Book
        As read; its files are read once more.
    path : path
        Where to write, ending in ``.xlsx``. Never one of the files that were read.

    Raises
    ------
    UsageError
        The path is an input, has another ending or lies in no folder; or an input has changed since it was read.
    """
    path = Path(path)
    _refuse(book, path)
    vocabulary = read_vocabulary()
    copy = Workbook()
    first = copy.active
    first.title = LIST
    at: dict[tuple[str, str], str] = {}
    sheets: list[tuple[Sheet, Any]] = []
    for source in book.sources:
        content = Path(source.path)
        if hashlib.sha256(content.read_bytes()).hexdigest() != source.sha256:
            raise UsageError(f"{source.path} has changed since it was read; load it again")
        for sheet in read_workbook(content).sheets:
            title = _title(sheet.name or content.stem, [*at.values(), LIST, WORDS])
            at[sheet.file, sheet.name] = title
            sheets.append((sheet, copy.create_sheet(title)))
    lists = _write_words(copy.create_sheet(WORDS), vocabulary)
    problems: dict[tuple[str, str], list[Problem]] = defaultdict(list)
    for problem in book.problems:
        problems[problem.file, problem.sheet].append(problem)
    notes = {(r.file, r.sheet, r.number): r.note for r in book.rows if r.outcome == HELD}
    for sheet, target in sheets:
        _write_copy(target, sheet)
        _mark(
            target,
            problems[sheet.file, sheet.name],
            {n: t for (f, s, n), t in notes.items() if (f, s) == (sheet.file, sheet.name)},
        )
        _offer(target, sheet, lists, vocabulary)
    _write_list(first, book.problems, at)
    copy.save(path)


def _refuse(book: Book, path: Path) -> None:
    if path.suffix.lower() != ".xlsx":
        raise UsageError(f"{path}: the annotated copy is a workbook; name it with the ending .xlsx")
    if not path.parent.is_dir():
        raise UsageError(f"{path.parent} is no folder; name one that exists")
    for source in book.sources:
        given = Path(source.path)
        if path.resolve() == given.resolve() or (path.exists() and given.exists() and path.samefile(given)):
            raise UsageError(f"{path} is one of the sheets that were read; it is never written over, name another file")


def _title(name: str, taken: Iterable[str]) -> str:
    """A sheet name that a workbook allows and that is not taken."""
    plain = re.sub(r"[\[\]:*?/\\]", " ", name).strip(" '")[:31] or "Sheet"
    used = {t.casefold() for t in taken}
    title, count = plain, 2
    while title.casefold() in used:
        title, count = f"{plain[:27]} {count}", count + 1
    return title


def _put(target: Any, row: int, column: int, value: Value) -> Any:
    """Write one value; a text that a spreadsheet would take for a formula stays a text."""
    cell = target.cell(row=row, column=column)
    if isinstance(value, str):
        text = ILLEGAL_CHARACTERS_RE.sub("", value)
        cell.value = text
        if text.startswith(MARKS):
            cell.data_type = "s"
            cell.quotePrefix = True
    else:
        cell.value = value
    return cell


def _write_copy(target: Any, sheet: Sheet) -> None:
    widths: dict[str, int] = defaultdict(int)
    for row in sheet.rows:
        for index, cell in enumerate(row.cells, start=1):
            if cell.text:
                _put(target, row.number, index, cell.value)
                widths[cell.column] = max(widths[cell.column], min(len(cell.text), 42))
    for column, width in widths.items():
        target.column_dimensions[column].width = width + 3


def _mark(target: Any, problems: Iterable[Problem], held: Mapping[int, str]) -> None:
    """Fill and comment the defective cells, and fill the rows that are held."""
    said: dict[str, list[str]] = defaultdict(list)
    for number, note in held.items():
        for cell in target[number]:
            cell.fill = WAITING
        said[f"A{number}"].append(f"This row is not loaded: {note}." if note else "This row is not loaded.")
    defective = set()
    for problem in problems:
        cell = f"{problem.column or 'A'}{problem.row or 1}"
        defective.add(cell)
        said[cell].append(f"Found {problem.found}; expected {problem.expected}. {problem.remedy}.")
    for name, texts in said.items():
        comment = Comment(ILLEGAL_CHARACTERS_RE.sub("", "\n".join(texts))[:LONGEST_COMMENT], "Pinchpoint")
        comment.width, comment.height = 420, 60 + 36 * len(texts)
        target[name].comment = comment
        if name in defective:
            target[name].fill = DEFECT
            if target[name].is_date:  # a number typed into a cell of dates would show as a date again
                target[name].value = str(target[name].value).removesuffix(" 00:00:00")
                target[name].number_format = "General"


def _write_list(target: Any, problems: Iterable[Problem], at: Mapping[tuple[str, str], str]) -> None:
    listed = list(problems)
    _put(target, 1, 1, OWN_LIST).font = HEAD
    _put(target, 2, 1, f"{len(listed)} defects. Correct them in the sheets behind this one and load this file again.")
    for index, (name, width) in enumerate(zip(COLUMNS, WIDTHS, strict=True), start=1):
        _put(target, 3, index, name).font = HEAD
        target.column_dimensions[get_column_letter(index)].width = width
    for row, problem in enumerate(listed, start=4):
        place = f"{problem.column or 'A'}{problem.row}" if problem.row else ""
        values = (problem.file, problem.sheet, problem.row, place, problem.found, problem.expected, problem.remedy)
        for index, value in enumerate(values, start=1):
            _put(target, row, index, value).alignment = Alignment(wrap_text=True, vertical="top")
        title = at.get((problem.file, problem.sheet))
        if title is not None:
            link = target.cell(row=row, column=4)
            link.value = place or "sheet"
            quoted = title.replace("'", "''")
            link.hyperlink = Hyperlink(ref=link.coordinate, location=f"'{quoted}'!{place or 'A1'}")
            link.style = "Hyperlink"
    target.freeze_panes = "A4"


def _write_words(target: Any, words: Vocabulary) -> dict[str, str]:
    """Write the closed lists; return for each field the range that holds its words."""
    columns = {
        "slot": [kind.label for kind in discover().values()],
        "evidence": words.known("evidence"),
        "meaning": words.known("meaning"),
        "belief": words.known("belief"),
    }
    _put(target, 1, 1, OWN_LIST).font = HEAD
    ranges: dict[str, str] = {}
    for index, (name, entries) in enumerate(columns.items(), start=1):
        _put(target, 2, index, name).font = HEAD
        for row, entry in enumerate(entries, start=3):
            _put(target, row, index, entry)
        letter = get_column_letter(index)
        target.column_dimensions[letter].width = 24
        ranges[name] = f"{WORDS}!${letter}$3:${letter}${2 + len(entries)}"
    return ranges


def _offer(target: Any, sheet: Sheet, lists: Mapping[str, str], words: Vocabulary) -> None:
    """Drop-downs under every header that has a closed list; other words stay allowed, they are asked about once more."""
    headers = [h for row in sheet.rows if (h := recognise(row, words)) is not None]
    ends = [h.row - 1 for h in headers[1:]] + [_last(sheet.rows)]
    for header, end in zip(headers, ends, strict=False):
        for field, source in lists.items():
            column = header.columns.get(field)
            if column is not None and end > header.row:
                choice = DataValidation(type="list", formula1=f"={source}", allow_blank=True, showErrorMessage=False)
                choice.add(f"{column}{header.row + 1}:{column}{end}")
                target.add_data_validation(choice)


def _last(rows: tuple[Row, ...]) -> int:
    return rows[-1].number if rows else 0
