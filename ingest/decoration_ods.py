"""What an ODS file says beside its values: hidden rows and columns, merged cells, strike-through, colours, comments.

References
----------
OASIS, Open Document Format for Office Applications (OpenDocument) Version 1.3, part 3, 2021: table, style, office and
fo attributes; from memory.
"""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from types import MappingProxyType

from ingest.decoration import Decoration
from ingest.extent import column_letters

_TABLE = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"
_STYLE = "{urn:oasis:names:tc:opendocument:xmlns:style:1.0}"
_OFFICE = "{urn:oasis:names:tc:opendocument:xmlns:office:1.0}"
_TEXT = "{urn:oasis:names:tc:opendocument:xmlns:text:1.0}"
_FO = "{urn:oasis:names:tc:opendocument:xmlns:xsl-fo-compatible:1.0}"
_HIDDEN = ("collapse", "filter")
#: Repeats of one row or cell that are looked at: what is behind is the empty rest of the sheet.
MOST_REPEATS = 2000


@dataclass(frozen=True, slots=True)
class _Look:
    struck: bool = False
    fill: str = ""
    ink: str = ""


@dataclass(slots=True)
class _Found:
    hidden_rows: set[int] = field(default_factory=set)
    hidden_columns: set[str] = field(default_factory=set)
    struck: set[str] = field(default_factory=set)
    merged: list[str] = field(default_factory=list)
    fills: dict[str, str] = field(default_factory=dict)
    inks: dict[str, str] = field(default_factory=dict)
    comments: dict[str, str] = field(default_factory=dict)


def decorations_ods(archive: zipfile.ZipFile) -> dict[str, Decoration]:
    """Read the decorations of an ODS file.

    Parameters
    ----------
    archive : ZipFile
        The open archive, whose size is known to be harmless.

    Returns
    -------
    dict of str to Decoration
        By sheet name.
    """
    looks: dict[str, _Look] = {}
    for member in ("styles.xml", "content.xml"):
        if member in archive.namelist():
            root = ElementTree.fromstring(archive.read(member))
            for _ in range(2):  # a style may stand before its parent
                _read_styles(root, looks)
    return {table.get(f"{_TABLE}name", ""): _sheet(table, looks) for table in root.iter(f"{_TABLE}table")}


def _read_styles(root: ElementTree.Element, looks: dict[str, _Look]) -> None:
    """Note what the cell styles of a member look like; a style has what its parent has, and more."""
    for style in root.iter(f"{_STYLE}style"):
        if style.get(f"{_STYLE}family") != "table-cell":
            continue
        parent = looks.get(style.get(f"{_STYLE}parent-style-name", ""), _Look())
        text, cell = style.find(f"{_STYLE}text-properties"), style.find(f"{_STYLE}table-cell-properties")
        line = None if text is None else text.get(f"{_STYLE}text-line-through-style")
        looks[style.get(f"{_STYLE}name", "")] = _Look(
            parent.struck if line is None else line != "none",
            _colour(cell, "background-color") or parent.fill,
            _colour(text, "color") or parent.ink,
        )


def _colour(element: ElementTree.Element | None, name: str) -> str:
    said = "" if element is None else element.get(f"{_FO}{name}", "")
    return f"FF{said[1:].upper()}" if said.startswith("#") else ""


def _sheet(table: ElementTree.Element, looks: dict[str, _Look]) -> Decoration:
    found = _Found()
    defaults: list[str] = []
    for column in table.iter(f"{_TABLE}table-column"):
        for _ in range(_repeats(column, "columns")):
            if column.get(f"{_TABLE}visibility") in _HIDDEN:
                found.hidden_columns.add(column_letters(len(defaults)))
            defaults.append(column.get(f"{_TABLE}default-cell-style-name", ""))
    number = 0
    for row in table.iter(f"{_TABLE}table-row"):
        repeats = _repeats(row, "rows")
        for here in range(number + 1, number + repeats + 1):
            if row.get(f"{_TABLE}visibility") in _HIDDEN:
                found.hidden_rows.add(here)
            _cells(row, here, defaults, looks, found)
        number += int(row.get(f"{_TABLE}number-rows-repeated", "1"))
    return Decoration(
        hidden_rows=frozenset(found.hidden_rows),
        hidden_columns=frozenset(found.hidden_columns),
        struck=frozenset(found.struck),
        merged=tuple(sorted(found.merged)),
        fills=MappingProxyType(found.fills),
        comments=MappingProxyType(found.comments),
        inks=MappingProxyType(found.inks),
    )


def _cells(row: ElementTree.Element, number: int, defaults: list[str], looks: dict[str, _Look], found: _Found) -> None:
    for at, cell in _placed(row):
        place = f"{column_letters(at)}{number}"
        across, down = (int(cell.get(f"{_TABLE}number-{what}-spanned", "1")) for what in ("columns", "rows"))
        if across > 1 or down > 1:
            found.merged.append(f"{place}:{column_letters(at + across - 1)}{number + down - 1}")
        note = cell.find(f"{_OFFICE}annotation")
        if note is not None:
            found.comments[place] = "\n".join("".join(p.itertext()) for p in note.iter(f"{_TEXT}p"))
        if cell.find(f"{_TEXT}p") is None:
            continue
        style = cell.get(f"{_TABLE}style-name") or row.get(f"{_TABLE}default-cell-style-name")
        look = looks.get(style or (defaults[at] if at < len(defaults) else ""), _Look())
        if look.struck:
            found.struck.add(place)
        if look.fill:
            found.fills[place] = look.fill
        if look.ink:
            found.inks[place] = look.ink


def _placed(row: ElementTree.Element) -> Iterator[tuple[int, ElementTree.Element]]:
    at = 0
    for cell in row:
        if cell.tag not in (f"{_TABLE}table-cell", f"{_TABLE}covered-table-cell"):
            continue
        for step in range(_repeats(cell, "columns") if len(cell) else 0):
            yield at + step, cell
        at += int(cell.get(f"{_TABLE}number-columns-repeated", "1"))


def _repeats(element: ElementTree.Element, what: str) -> int:
    return min(int(element.get(f"{_TABLE}number-{what}-repeated", "1")), MOST_REPEATS)
