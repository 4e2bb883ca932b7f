"""What a workshop says with colour, strike-through, hiding, merging and comments; read only when asked for."""

from __future__ import annotations

import colorsys
import re
import xml.etree.ElementTree as ElementTree
import zipfile
import zlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType
from typing import Any

from ingest.extent import column_index
from ingest.problem import UnreadableFile

_BESIDE = re.compile(rb'\shidden="(?:1|true)"|<(?:\w+:)?mergeCell\s')
_MERGED = re.compile(rb'<(?:\w+:)?mergeCell\s[^>]*?ref="\$?([A-Z]{1,7})\$?(\d{1,9}):\$?([A-Z]{1,7})\$?(\d{1,9})"')
_LAST_COLUMN = re.compile(rb'<(?:\w+:)?col\s[^>]*?max="(\d{1,19})"')
#: Most cells under merged blocks, and the last column that may be formatted [1].
MOST_MERGED = 200_000
MOST_COLUMNS = 16_384
#: what the standard library and openpyxl raise on damaged archives and XML
_DAMAGE = (zipfile.BadZipFile, zlib.error, ElementTree.ParseError, LookupError, ValueError, EOFError, OverflowError)
_STYLED = re.compile(rb'<(?:\w+:)?c\b[^>]*?\ss="(\d+)"')


def _nothing() -> Mapping[str, str]:
    """Return an empty mapping that cannot be changed."""
    return MappingProxyType({})


@dataclass(frozen=True, slots=True, kw_only=True)
class Decoration:
    """What one sheet says beside its values.

    Parameters
    ----------
    hidden_rows : frozenset of int
        Numbers of hidden rows as the spreadsheet counts them [1].
    hidden_columns : frozenset of str
        Letters of hidden columns.
    struck : frozenset of str
        Cells whose text is struck through, such as ``B12``.
    merged : tuple of str
        Merged ranges, such as ``A3:A7``; the value stands in the first cell.
    fills : mapping of str to str
        Cell to its fill colour: eight hexadecimal digits (alpha, red, green, blue) or the number of a theme colour.
    comments : mapping of str to str
        Cell to the text of its comment.
    inks : mapping of str to str
        Cell to the colour of its text, where that is stated.
    """

    hidden_rows: frozenset[int] = frozenset()
    hidden_columns: frozenset[str] = frozenset()
    struck: frozenset[str] = frozenset()
    merged: tuple[str, ...] = ()
    fills: Mapping[str, str] = field(default_factory=_nothing)
    comments: Mapping[str, str] = field(default_factory=_nothing)
    inks: Mapping[str, str] = field(default_factory=_nothing)

    def block(self, cell: str) -> str:
        """Return the merged range in whose covered part a cell lies, empty where it lies in none.

        Parameters
        ----------
        cell : str
            Such as ``C13``.

        Returns
        -------
        str
            Such as ``C12:C15``; the first cell of a range is not covered.
        """
        column, row = _place(cell)
        for merged in self.merged:
            first, _, last = merged.partition(":")
            (left, top), (right, bottom) = _place(first), _place(last or first)
            if left <= column <= right and top <= row <= bottom and (column, row) != (left, top):
                return merged
        return ""


def is_red(colour: str) -> bool:
    """Return whether people call a colour red or pink.

    Parameters
    ----------
    colour : str
        Eight hexadecimal digits (alpha, red, green, blue); a theme colour is never red.

    Returns
    -------
    bool
        True for a red hue that is not grey or nearly black.

    Examples
    --------
    >>> is_red("FFFF0000"), is_red("FFFFC7CE"), is_red("FFFFC000"), is_red("FFEEEEEE")
    (True, True, False, False)
    """
    if re.fullmatch(r"[0-9A-Fa-f]{8}", colour) is None:
        return False
    hue, saturation, value = colorsys.rgb_to_hsv(*(int(colour[i : i + 2], 16) / 255.0 for i in (2, 4, 6)))
    return (hue <= 1.0 / 24.0 or hue >= 23.0 / 24.0) and saturation >= 0.15 and value >= 0.4


def is_decorated(path: Path | str) -> bool:
    """Return whether an XLSX file says anything beside its values, without laying it out; the others always may.

    Parameters
    ----------
    path : Path or str
        A file that :func:`ingest.table.read_workbook` has read as a spreadsheet.

    Returns
    -------
    bool
        True where a row or column is hidden, cells are merged, or a cell is commented, struck through or red.
    """
    try:
        with zipfile.ZipFile(path) as archive:
            return _says_more(archive)
    except _DAMAGE:
        return True  # reading the decorations will say what is wrong


def _says_more(archive: zipfile.ZipFile) -> bool:
    names = archive.namelist()
    if "content.xml" in names:  # ODS: one member holds everything, so it is read at once
        return True
    if any(re.search(r"comments?[^/]*\.xml$", name, re.I) for name in names):
        return True
    telling = set(_telling(archive)) if "xl/styles.xml" in names else set()
    for name in names:
        if re.match(r"xl/worksheets/[^/]+\.xml", name):
            content = archive.read(name)
            if (b"hidden=" in content or b"mergeCell" in content) and _BESIDE.search(content):
                return True
            if telling and not telling.isdisjoint(_STYLED.findall(content)):
                return True
    return False


def _telling(archive: zipfile.ZipFile) -> Iterator[bytes]:
    """Yield the numbers of the styles that strike through or are red."""
    from openpyxl.styles.colors import COLOR_INDEX

    def red(elements: list[ElementTree.Element]) -> bool:
        for element in elements:
            index = element.get("indexed", "")
            indexed = COLOR_INDEX[int(index)] if index.isdigit() and int(index) < len(COLOR_INDEX) else ""
            if is_red(element.get("rgb", indexed)):
                return True
        return False

    root = ElementTree.fromstring(archive.read("xl/styles.xml"))
    space = root.tag.rpartition("}")[0] + "}" if "}" in root.tag else ""
    fonts = [
        font.find(f"{space}strike") is not None or red(font.findall(f"{space}color"))
        for font in root.findall(f"{space}fonts/{space}font")
    ]
    fills = [red(fill.findall(f".//{space}fgColor")) for fill in root.findall(f"{space}fills/{space}fill")]
    for number, style in enumerate(root.findall(f"{space}cellXfs/{space}xf")):
        font, fill = int(style.get("fontId", "0")), int(style.get("fillId", "0"))
        if (font < len(fonts) and fonts[font]) or (fill < len(fills) and fills[fill]):
            yield str(number).encode()


def _place(cell: str) -> tuple[int, int]:
    """Return the column and the row of a cell, counted from 1."""
    letters = cell.rstrip("0123456789")
    column = 0
    for letter in letters:
        column = column * 26 + ord(letter) - 64
    return column, int(cell[len(letters) :] or "0")


def decorations(path: Path | str) -> dict[str, Decoration]:
    """Read the decorations of an XLSX, XLS or ODS file.

    Parameters
    ----------
    path : Path or str
        A file that :func:`ingest.table.read_workbook` has read: its size is then known to be harmless.

    Returns
    -------
    dict of str to Decoration
        By sheet name; empty for text tables, which have none.

    Raises
    ------
    UnreadableFile
        When the file says what it is and cannot be read as that.
    """
    path = Path(path)
    try:
        with path.open("rb") as stream:
            begin = stream.read(4)
        if begin == b"\xd0\xcf\x11\xe0":
            from ingest.decoration_xls import decorations_xls

            return decorations_xls(path)
        if not begin.startswith(b"PK"):
            return {}
        with zipfile.ZipFile(path) as archive:
            if "content.xml" in archive.namelist():
                from ingest.decoration_ods import decorations_ods

                return decorations_ods(archive)
            if "xl/workbook.xml" not in archive.namelist():
                return {}
            _refuse_far_blocks(archive)
        from openpyxl import load_workbook  # slow to import, and most runs need no decorations

        with path.open("rb") as stream:
            book = load_workbook(stream)
        return {sheet.title: _decoration(sheet) for sheet in book.worksheets}
    except (*_DAMAGE, OSError, TypeError, AttributeError) as error:
        raise UnreadableFile(path.name, "its colours and comments cannot be read", "save the file again") from error


def _refuse_far_blocks(archive: zipfile.ZipFile) -> None:
    """Refuse merged cells and columns that reach too far: each cell of a block is laid out one by one."""
    cells = 0
    for name in archive.namelist():
        if re.match(r"xl/worksheets/[^/]+\.xml", name):
            content = archive.read(name)
            for first, top, last, bottom in _MERGED.findall(content):
                width = column_index(last.decode()) - column_index(first.decode()) + 1
                cells += max(width, 1) * max(int(bottom) - int(top) + 1, 1)
            if cells > MOST_MERGED or any(int(last) > MOST_COLUMNS for last in _LAST_COLUMN.findall(content)):
                raise ValueError("merged cells or columns that reach too far")


def _decoration(sheet: Any) -> Decoration:
    """Return the decorations of one sheet."""
    from openpyxl.utils import get_column_letter

    hidden_columns: set[str] = set()
    for dimension in sheet.column_dimensions.values():
        if dimension.hidden:
            last = dimension.max or dimension.min
            hidden_columns.update(get_column_letter(index) for index in range(dimension.min, last + 1))
    struck: set[str] = set()
    fills: dict[str, str] = {}
    comments: dict[str, str] = {}
    inks: dict[str, str] = {}
    for cell in sheet._cells.values():  # only what stands in the file; walking the rows would fill every gap
        if cell.comment is not None:
            comments[cell.coordinate] = cell.comment.text
        if not cell.has_style:
            continue
        if cell.font.strike:
            struck.add(cell.coordinate)
        if cell.fill.fill_type == "solid":
            fills[cell.coordinate] = _colour(cell.fill.fgColor)
        if cell.font.color is not None:
            inks[cell.coordinate] = _colour(cell.font.color)
    return Decoration(
        hidden_rows=frozenset(number for number, row in sheet.row_dimensions.items() if row.hidden),
        hidden_columns=frozenset(hidden_columns),
        struck=frozenset(struck),
        merged=tuple(sorted(str(block) for block in sheet.merged_cells.ranges)),
        fills=MappingProxyType(fills),
        comments=MappingProxyType(comments),
        inks=MappingProxyType(inks),
    )


def _colour(colour: Any) -> str:
    """Return a colour as its digits, or the place it has in the theme or the palette."""
    from openpyxl.styles.colors import COLOR_INDEX

    if colour.type == "rgb":
        return str(colour.rgb)
    if colour.type == "indexed" and colour.indexed < len(COLOR_INDEX):
        return str(COLOR_INDEX[colour.indexed])
    return f"{colour.type} {colour.value}"
