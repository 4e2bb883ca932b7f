"""A look through an XLSX file: its extent, its errors, formulas never calculated, numbers shown as percentages."""

from __future__ import annotations

import posixpath
import re
import string
import xml.etree.ElementTree as ElementTree
import zipfile
from collections.abc import Iterator

from ingest.extent import Extent, Scan, blocks, never_calculated, parted, shows_error
from ingest.problem import Problem

_PREFIX = rb"<(?:\w+:)?"
_ROW_END = re.compile(rb"</(?:\w+:)?row>")
_ROW = re.compile(_PREFIX + rb'row\b[^>]*?\sr="(\d+)"')
_CELL = re.compile(_PREFIX + rb'c\b[^>]*?\sr="([A-Z]{1,3})\d+"[^>]*[^/]>')
_ANY_CELL = re.compile(_PREFIX + rb"c\b[^>]*>")
_STYLED = re.compile(_PREFIX + rb"c\b([^>]*)>")
_PLACED = re.compile(rb'<c r="([A-Z]{1,3}\d+)"(?: [^>/]*)?>')
_LETTERS, _DIGITS = string.ascii_uppercase.encode(), string.digits.encode()
_STYLE = re.compile(rb'\ss="(\d+)"')
_FORMULA = re.compile(
    _PREFIX
    + rb'c\b[^>]*?\sr="([A-Z]+)(\d+)"[^>]*>\s*<(?:\w+:)?f\b(?:[^>]*/>|[^>]*>[^<]*</(?:\w+:)?f>)'
    + rb"\s*(?:<(?:\w+:)?v\s*/>|<(?:\w+:)?v>\s*</(?:\w+:)?v>)?\s*</(?:\w+:)?c>"
)
_ERROR = re.compile(_PREFIX + rb'c\b(?=[^>]*\st="e")[^>]*?\sr="([A-Z]+)(\d+)"[^>]*>.*?<(?:\w+:)?v>([^<]*)</', re.DOTALL)


def scan_xlsx(archive: zipfile.ZipFile, extent: Extent) -> Scan:
    """Measure the sheets of an XLSX file.

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
    scan = Scan(kind="xlsx")
    percent_styles = _percent_styles(archive)
    for sheet, part in _xlsx_parts(archive):
        extent.next_sheet()
        problems: list[Problem] = []
        percentages: set[str] = set()
        number = 0
        for block in blocks(archive, part, _ROW_END):
            plain = _plain_cells(block, percent_styles)
            if plain is not None:
                number, width = plain
                extent.grow(number, width)
                continue
            for piece in parted(block, _ROW_END):
                number = _scan_row(piece, number, extent, problems, percentages, percent_styles)
        if problems:
            scan.problems[sheet] = problems
        if percentages:
            scan.percentages[sheet] = frozenset(percentages)
    return scan


def _plain_cells(block: bytes, percent_styles: set[bytes]) -> tuple[int, int] | None:
    """Return the last row and the last column of a block that holds nothing but plain values, each with its place.

    None where it may show an error or a percentage or hold a formula: then it has to be looked at row by row.
    """
    if b"<f" in block or b":f" in block or b't="e"' in block or b":c>" in block:
        return None
    places = _PLACED.findall(block)
    if not places or len(places) != block.count(b"</c>"):
        return None
    if percent_styles and not percent_styles.isdisjoint(_STYLE.findall(block)):
        return None
    together = b" ".join(places)
    rows, columns = (set(together.translate(None, others).split()) for others in (_LETTERS, _DIGITS))
    return max(map(int, rows)), max(map(_column_number, columns))


def _scan_row(
    piece: bytes, number: int, extent: Extent, problems: list[Problem], percentages: set[str], styles: set[bytes]
) -> int:
    """Take one row into the extent, note its special cells and return its number; `number` is that of the row before."""
    if not _ANY_CELL.search(piece):
        return number
    found = _ROW.search(piece)
    number = int(found[1]) if found else number + 1
    letters = _CELL.findall(piece)
    if letters:
        extent.grow(number, _column_number(max(letters, key=lambda word: (len(word), word))))
    elif b' r="' not in piece.partition(b">")[2]:
        extent.grow(number, len(_ANY_CELL.findall(piece)))
    if b"f>" in piece or b"<f" in piece:
        problems.extend(never_calculated(int(match[2]), match[1].decode()) for match in _FORMULA.finditer(piece))
    if b't="e"' in piece:
        problems.extend(
            shows_error(int(match[2]), match[1].decode(), match[3].decode(errors="replace"))
            for match in _ERROR.finditer(piece)
        )
    if styles:
        percentages.update(_percent_cells(piece, styles))
    return number


def _xlsx_parts(archive: zipfile.ZipFile) -> Iterator[tuple[str, str]]:
    """Yield the name and the member of every worksheet of an XLSX file."""
    links = {
        link.get("Id"): link.get("Target", "")
        for link in ElementTree.fromstring(archive.read("xl/_rels/workbook.xml.rels"))
    }
    for element in ElementTree.fromstring(archive.read("xl/workbook.xml")).iter():
        if element.tag.rpartition("}")[2] != "sheet":
            continue
        link = next((value for key, value in element.attrib.items() if key.endswith("}id")), None)
        target = links.get(link, "")
        part = target.lstrip("/") if target.startswith("/") else posixpath.normpath(posixpath.join("xl", target))
        if part in archive.namelist() and "chartsheet" not in part:
            yield element.get("name", ""), part


def _percent_styles(archive: zipfile.ZipFile) -> set[bytes]:
    """Return the style numbers that show a percentage."""
    if "xl/styles.xml" not in archive.namelist():
        return set()
    root = ElementTree.fromstring(archive.read("xl/styles.xml"))
    space = root.tag.rpartition("}")[0] + "}" if "}" in root.tag else ""
    formats = {"9", "10"}
    for element in root.iter(f"{space}numFmt"):
        if "%" in re.sub(r'"[^"]*"|\\.', "", element.get("formatCode", "")):
            formats.add(element.get("numFmtId", ""))
    cells = root.find(f"{space}cellXfs")
    styles = list(cells) if cells is not None else []
    return {str(index).encode() for index, style in enumerate(styles) if style.get("numFmtId") in formats}


def _percent_cells(piece: bytes, styles: set[bytes]) -> Iterator[str]:
    """Yield the cells of one row that show a percentage."""
    for attributes in _STYLED.findall(piece):
        style = re.search(rb'\ss="(\d+)"', attributes)
        place = re.search(rb'\sr="([A-Z]+\d+)"', attributes)
        if style and place and style[1] in styles:
            yield place[1].decode()


def _column_number(letters: bytes) -> int:
    """Return the number of a column from its letters, counted from 1."""
    number = 0
    for letter in letters:
        number = number * 26 + letter - 64
    return number
