"""What an XLS file says beside its values: hidden rows and columns, merged cells, strike-through, colours, comments.

The reader is given only the records that say this. It takes every number in a file for true: names of cells that
double one another, and links that reach over a whole sheet, would fill the memory.

References
----------
Microsoft, [MS-XLS] Excel Binary File Format (.xls) Structure: numbers of the records, from memory; and the manual of
xlrd 2.0, Formatting information in Excel spreadsheets.
"""

from __future__ import annotations

import os
import struct
from pathlib import Path
from types import MappingProxyType
from typing import Any

from ingest.decoration import MOST_MERGED, Decoration
from ingest.extent import column_letters
from ingest.scan_xls import records, workbook_stream

_BOF, _BOUNDSHEET = 0x809, 0x85
#: begin and end, sheets, code page, dates, fonts, styles, formats, palette, texts and what continues them
_BOOK = (_BOF, 0x0A, _BOUNDSHEET, 0x42, 0x22, 0x31, 0x231, 0xE0, 0x293, 0x1E, 0x41E, 0x92, 0xFC, 0x3C)
#: extent, rows, columns, merged cells, comments with their objects and texts
_SHEET = (0x200, 0x208, 0x7D, 0x55, 0x99, 0xE5, 0x1C, 0x5D, 0x1B6)
#: cells with a value; the text of a formula is added below
_CELLS = (0x06, 0x02, 0x03, 0x04, 0x05, 0x203, 0x204, 0x205, 0x27E, 0xBD, 0xD6, 0xFD)
_KEPT = frozenset((*_BOOK, *_SHEET, *_CELLS, 0x07, 0x207))
#: a kind of record that no reader knows, and so passes over
_UNKNOWN = struct.pack("<H", 0x3FFF)
_BOTTOM, _RIGHT = 65_536, 256
_SOLID, _AUTOMATIC = 1, 0x7FFF


def decorations_xls(path: Path) -> dict[str, Decoration]:
    """Read the decorations of an XLS file.

    Parameters
    ----------
    path : Path
        A file that :func:`ingest.table.read_workbook` has read: its cells are then known to be few enough.

    Returns
    -------
    dict of str to Decoration
        By sheet name.

    Raises
    ------
    ValueError
        The reader does not understand the file, or a block of merged cells reaches too far.
    """
    import xlrd  # most runs read no XLS

    try:
        stream = _only_kept(workbook_stream(path.read_bytes()))
        with Path(os.devnull).open("w", encoding="utf-8") as silence:
            book = xlrd.open_workbook(file_contents=stream, logfile=silence, formatting_info=True, on_demand=True, ragged_rows=True)  # fmt: skip
            found: dict[str, Decoration] = {}
            for number, name in enumerate(book.sheet_names()):
                found[name] = _sheet(book, book.sheet_by_index(number))
                book.unload_sheet(number)
    except Exception as error:  # on a damaged file the reader fails with whatever it stumbles over
        raise ValueError("a record that cannot be read") from error
    return found


def _only_kept(stream: bytes) -> bytes:
    """Make every other record one that the reader passes over; a sheet must begin where a record does."""
    kept = bytearray(stream)
    begins: set[int] = set()
    sheets: set[int] = set()
    for at, kind, body in records(stream):
        if kind == _BOF:
            begins.add(at)
        elif kind == _BOUNDSHEET:
            sheets.add(struct.unpack_from("<I", body)[0])
        elif kind not in _KEPT:
            kept[at : at + 2] = _UNKNOWN
    if not sheets <= begins:
        raise ValueError("a sheet that begins within a record")
    return bytes(kept)


def _sheet(book: Any, sheet: Any) -> Decoration:
    merged = [block for block in sheet.merged_cells if block[0] < block[1] <= _BOTTOM and block[2] < block[3] <= _RIGHT]
    if sum((bottom - top) * (right - left) for top, bottom, left, right in merged) > MOST_MERGED:
        raise ValueError("merged cells that reach too far")
    looks = [_look(book, style) for style in book.xf_list]
    struck: set[str] = set()
    fills: dict[str, str] = {}
    inks: dict[str, str] = {}
    for row in range(sheet.nrows):
        for column in range(sheet.row_len(row)):
            if not sheet.cell_type(row, column):
                continue
            lined, fill, ink = looks[sheet.cell_xf_index(row, column)]
            place = f"{column_letters(column)}{row + 1}"
            if lined:
                struck.add(place)
            if fill:
                fills[place] = fill
            if ink:
                inks[place] = ink
    return Decoration(
        hidden_rows=frozenset(row + 1 for row, said in sheet.rowinfo_map.items() if said.hidden),
        hidden_columns=frozenset(column_letters(column) for column, said in sheet.colinfo_map.items() if said.hidden),
        struck=frozenset(struck),
        merged=tuple(
            sorted(
                f"{column_letters(left)}{top + 1}:{column_letters(right - 1)}{bottom}"
                for top, bottom, left, right in merged
            )
        ),
        fills=MappingProxyType(fills),
        comments=MappingProxyType(
            {f"{column_letters(column)}{row + 1}": note.text for (row, column), note in sheet.cell_note_map.items()}
        ),
        inks=MappingProxyType(inks),
    )


def _look(book: Any, style: Any) -> tuple[bool, str, str]:
    """Whether a style strikes through, its fill and the colour of its text."""
    font, ground = book.font_list[style.font_index], style.background
    fill = _colour(book, ground.pattern_colour_index) if ground.fill_pattern == _SOLID else ""
    return bool(font.struck_out), fill, "" if font.colour_index == _AUTOMATIC else _colour(book, font.colour_index)


def _colour(book: Any, index: int) -> str:
    shades = book.colour_map.get(index)
    return "" if shades is None else "FF{:02X}{:02X}{:02X}".format(*shades)
