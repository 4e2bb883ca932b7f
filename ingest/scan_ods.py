"""A look through an ODS file: its extent, its errors, formulas never calculated, numbers shown as percentages."""

from __future__ import annotations

import html
import re
import zipfile

from ingest.extent import Extent, Scan, column_letters, never_calculated, pieces, shows_error

_ROW_END = re.compile(rb"</table:table-row>|<table:table-row(?=[\s/>])[^>]*/>|</table:table>")
_ROW = re.compile(rb"<table:table-row(?=[\s/>])([^>]*)>")
_CELL = re.compile(rb"<table:(?:covered-)?table-cell(?=[\s/>])([^>]*)>")
_TABLE = re.compile(rb'<table:table\s[^>]*?table:name="([^"]*)"')
_ROWS_REPEATED = re.compile(rb'number-rows-repeated="(\d+)"')
_COLUMNS_REPEATED = re.compile(rb'number-columns-repeated="(\d+)"')
_CELL_TEXT = re.compile(rb"<text:p[^>]*>([^<]*)<")
_MOST_REPEATS = 20_000_000


def scan_ods(archive: zipfile.ZipFile, extent: Extent) -> Scan:
    """Measure the sheets of an ODS file.

    Parameters
    ----------
    archive : ZipFile
        The open archive.
    extent : Extent
        Counts the cells.

    Returns
    -------
    Scan
        The cells to know about.
    """
    scan = Scan(kind="ods")
    sheet, row, tables = "", 0, 0
    for piece in pieces(archive, "content.xml", _ROW_END):
        if table := _TABLE.search(piece):
            sheet, row, tables = html.unescape(table[1].decode()), 0, tables + 1
            extent.next_sheet()
        start = _ROW.search(piece)
        if start is None:
            continue
        repeats = _repeats(_ROWS_REPEATED, start[1])
        _scan_row(piece[start.end() :], sheet, row, repeats, extent, scan)
        row += repeats
    if not tables:
        raise KeyError("table:table")
    return scan


def _scan_row(piece: bytes, sheet: str, row: int, repeats: int, extent: Extent, scan: Scan) -> None:
    """Take one row, which may stand for many, into the extent and note its special cells."""
    column = 0
    cells = list(_CELL.finditer(piece))
    for cell, following in zip(cells, [*cells[1:], None], strict=False):
        attributes = cell[1]
        last = column + _repeats(_COLUMNS_REPEATED, attributes)
        if b"value-type=" in attributes or b":formula=" in attributes or not attributes.endswith(b"/"):
            extent.grow(row + repeats, last)
            inside = piece[cell.end() : following.start() if following else len(piece)]
            text = _CELL_TEXT.search(inside)
            letters = column_letters(column)
            if b'calcext:value-type="error"' in attributes:
                shown = html.unescape(text[1].decode(errors="replace")) if text else "of a formula"
                scan.problems.setdefault(sheet, []).append(shows_error(row + 1, letters, shown))
            elif b":formula=" in attributes and b"value-type=" not in attributes:
                scan.problems.setdefault(sheet, []).append(never_calculated(row + 1, letters))
            elif b'value-type="percentage"' in attributes:
                places = (
                    f"{column_letters(across)}{down + 1}"
                    for down in range(row, row + repeats)
                    for across in range(column, last)
                )
                scan.percentages[sheet] = scan.percentages.get(sheet, frozenset()).union(places)
        column = last


def _repeats(pattern: re.Pattern[bytes], attributes: bytes) -> int:
    """Return how many rows or cells one element stands for."""
    found = pattern.search(attributes)
    number = int(found[1]) if found else 1
    if number > _MOST_REPEATS:
        raise KeyError(number)
    return number
