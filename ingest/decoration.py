"""What a workshop says with colour, strike-through, hiding, merging and comments; read only when asked for."""

from __future__ import annotations

import zipfile
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType
from typing import Any

from ingest.problem import UnreadableFile


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
    """

    hidden_rows: frozenset[int] = frozenset()
    hidden_columns: frozenset[str] = frozenset()
    struck: frozenset[str] = frozenset()
    merged: tuple[str, ...] = ()
    fills: Mapping[str, str] = field(default_factory=_nothing)
    comments: Mapping[str, str] = field(default_factory=_nothing)


def decorations(path: Path | str) -> dict[str, Decoration]:
    """Read the decorations of an XLSX file.

    Parameters
    ----------
    path : Path or str
        A file that :func:`ingest.table.read_workbook` has read: its size is then known to be harmless.

    Returns
    -------
    dict of str to Decoration
        By sheet name; empty for XLS, ODS and text tables, whose decorations are not read.

    Raises
    ------
    UnreadableFile
        When the file says it is XLSX and cannot be read as one.
    """
    path = Path(path)
    try:
        with path.open("rb") as stream:
            if stream.read(2) != b"PK":
                return {}
        with zipfile.ZipFile(path) as archive:
            if "xl/workbook.xml" not in archive.namelist():
                return {}
        from openpyxl import load_workbook  # slow to import, and most runs need no decorations

        with path.open("rb") as stream:
            book = load_workbook(stream)
    except (OSError, zipfile.BadZipFile, KeyError, ValueError, TypeError, AttributeError) as error:
        raise UnreadableFile(
            path.name, "its colours and comments cannot be read", "save the file again as XLSX"
        ) from error
    return {sheet.title: _decoration(sheet) for sheet in book.worksheets}


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
    for row in sheet.iter_rows():
        for cell in row:
            if cell.comment is not None:
                comments[cell.coordinate] = cell.comment.text
            if not cell.has_style:
                continue
            if cell.font.strike:
                struck.add(cell.coordinate)
            if cell.fill.fill_type == "solid":
                fills[cell.coordinate] = _colour(cell.fill.fgColor)
    return Decoration(
        hidden_rows=frozenset(number for number, row in sheet.row_dimensions.items() if row.hidden),
        hidden_columns=frozenset(hidden_columns),
        struck=frozenset(struck),
        merged=tuple(sorted(str(block) for block in sheet.merged_cells.ranges)),
        fills=MappingProxyType(fills),
        comments=MappingProxyType(comments),
    )


def _colour(colour: Any) -> str:
    """Return a colour as its digits, or the place it has in the theme or the palette."""
    from openpyxl.styles.colors import COLOR_INDEX

    if colour.type == "rgb":
        return str(colour.rgb)
    if colour.type == "indexed" and colour.indexed < len(COLOR_INDEX):
        return str(COLOR_INDEX[colour.indexed])
    return f"{colour.type} {colour.value}"
