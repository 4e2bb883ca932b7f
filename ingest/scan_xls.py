"""A look through an XLS file before it is read: how far its cells reach, and which of them show an error.

Its reader gives those as empty. It also takes every count and every chain of sectors for true: one wrong number makes
it ask for hundreds of gigabytes, which ends the whole program. What this look does not understand is not read.

References
----------
Microsoft, [MS-CFB] Compound File Binary File Format, and [MS-XLS] Excel Binary File Format (.xls) Structure, records
BoundSheet8, BoolErr and Formula; layout from memory of both.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator

from ingest.extent import Extent, Scan, column_letters, shows_error
from ingest.problem import UnreadableFile

_ERRORS = {0: "#NULL!", 7: "#DIV/0!", 15: "#VALUE!", 23: "#REF!", 29: "#NAME?", 36: "#NUM!", 42: "#N/A"}
_BOUNDSHEET, _BOF, _BOOLERR, _FORMULA, _FILEPASS = 0x85, 0x809, 0x205, 0x06, 0x2F
_DIMENSIONS, _STRINGS, _MANY = 0x200, 0xFC, 0xBD
#: records of one cell
_CELLS = frozenset({_BOOLERR, _FORMULA, 0x01, 0x02, 0x03, 0x04, 0x05, 0x201, 0x203, 0x204, 0x27E, 0xD6, 0xFD})
_WORKSHEET = 0x10
_LAST_SECTOR = 0xFFFFFFFA
_MOST_SECTORS = 1 << 20


def scan_xls(content: bytes, file: str, most_cells: int, largest_width: int) -> Scan:
    """Look through an XLS file before it is read.

    Parameters
    ----------
    content : bytes
        The whole file.
    file : str
        Its name, for the messages.
    most_cells : int
        Most cells between the first and the last filled one, all sheets together [1].
    largest_width : int
        Most columns of a sheet [1].

    Returns
    -------
    Scan
        The cells that show an error; without one where the file is protected: that is for its reader to say.

    Raises
    ------
    UnreadableFile
        Damaged, or too large to be read safely.
    """
    scan = Scan(kind="xls")
    try:
        stream = workbook_stream(content)
        _measure(stream, Extent(file, most_cells, largest_width))
        for sheet, row, column, code in _errors(stream):
            shown = _ERRORS.get(code, f"number {code}")
            scan.problems.setdefault(sheet, []).append(shows_error(row + 1, column_letters(column), shown))
    except (struct.error, IndexError, ValueError) as error:
        remedy = "open it in the spreadsheet program and save it again"
        raise UnreadableFile(file, "the spreadsheet is damaged", remedy) from error
    return scan


def workbook_stream(content: bytes) -> bytes:
    """Return the stream that holds the sheets.

    Parameters
    ----------
    content : bytes
        The whole file.

    Returns
    -------
    bytes
        Records, one behind the other.

    Raises
    ------
    ValueError, IndexError, struct.error
        The file is damaged.
    """
    size = 1 << struct.unpack_from("<H", content, 30)[0]
    small = 1 << struct.unpack_from("<H", content, 32)[0]
    if size not in (512, 4096) or small != 64:
        raise ValueError("sectors of an unknown size")
    first_folder, cutoff, first_small = (struct.unpack_from("<I", content, at)[0] for at in (48, 56, 60))

    def sector(number: int) -> bytes:
        return content[(number + 1) * size : (number + 2) * size]

    places = list(struct.unpack_from("<109I", content, 76))
    more = struct.unpack_from("<I", content, 68)[0]
    while more < _LAST_SECTOR:
        if len(places) > _MOST_SECTORS:
            raise ValueError("a list of sectors without an end")
        *further, more = struct.unpack(f"<{size // 4}I", sector(more))
        places += further
    table: list[int] = []
    for place in places:
        if place < _LAST_SECTOR:
            table += struct.unpack(f"<{size // 4}I", sector(place))

    def stream(start: int) -> bytes:
        return b"".join(sector(number) for number in _chain(table, start))

    folder = stream(first_folder)
    entries: dict[str, tuple[int, int]] = {}
    for at in range(0, len(folder), 128):
        length = struct.unpack_from("<H", folder, at + 64)[0]
        name = folder[at : at + max(0, length - 2)].decode("utf-16-le")
        begin, extent = struct.unpack_from("<II", folder, at + 116)
        entries.setdefault(name, (begin, extent))
        if extent >= cutoff or name == "Root Entry":
            for _ in _chain(table, begin):
                pass
    start, length = entries["Workbook"] if "Workbook" in entries else entries.get("Book", (0, 0))
    if length >= cutoff:
        return stream(start)[:length]
    inside = stream(entries["Root Entry"][0]) if "Root Entry" in entries else b""
    links = struct.unpack(f"<{len(stream(first_small)) // 4}I", stream(first_small))
    return b"".join(inside[n * small : (n + 1) * small] for n in _chain(links, start))[:length]


def _chain(table: list[int] | tuple[int, ...], start: int) -> Iterator[int]:
    """Yield the sectors of a stream."""
    seen = 0
    while start < _LAST_SECTOR:
        yield start
        start, seen = table[start], seen + 1
        if seen > len(table):
            raise ValueError("a chain of sectors without an end")


def records(stream: bytes) -> Iterator[tuple[int, int, bytes]]:
    """Yield the records, to the first that says that the rest is encrypted.

    Parameters
    ----------
    stream : bytes
        As :func:`workbook_stream` gives it.

    Yields
    ------
    tuple of int, int and bytes
        Place [byte], kind and body.
    """
    at = 0
    while at + 4 <= len(stream):
        kind, length = struct.unpack_from("<HH", stream, at)
        if kind == _FILEPASS:
            return
        yield at, kind, stream[at + 4 : at + 4 + length]
        at += 4 + length


def _measure(stream: bytes, extent: Extent) -> None:
    """Refuse cells that reach too far, and counts that the file cannot hold."""
    for _, kind, body in records(stream):
        if kind == _BOF and body[2:3] == bytes((_WORKSHEET,)):
            extent.next_sheet()
        elif kind == _BOUNDSHEET and struct.unpack_from("<I", body)[0] >= len(stream):
            raise ValueError("a sheet beyond its end")
        elif kind == _STRINGS and struct.unpack_from("<I", body, 4)[0] > len(stream):
            raise ValueError("more texts than the file can hold")
        elif kind == _DIMENSIONS:
            wide = "<IIHH" if len(body) >= 14 else "<HHHH"
            top, bottom, left, right = struct.unpack_from(wide, body)
            extent.grow(bottom, right)
            if bottom < top or right < left:
                raise ValueError("a sheet of less than no cells")
        elif kind == _MANY:
            extent.grow(struct.unpack_from("<H", body)[0] + 1, struct.unpack_from("<H", body, len(body) - 2)[0] + 1)
        elif kind in _CELLS and len(body) >= 4:
            row, column = struct.unpack_from("<HH", body)
            extent.grow(row + 1, column + 1)


def _errors(stream: bytes) -> Iterator[tuple[str, int, int, int]]:
    """Yield sheet, row, column (both from 0) and code of every cell that shows an error."""
    names: dict[int, str] = {}
    sheet = ""
    for at, kind, body in records(stream):
        if kind == _BOUNDSHEET:
            wide = body[7] & 1
            text = body[8 : 8 + body[6] * (2 if wide else 1)]
            names[struct.unpack_from("<I", body)[0]] = text.decode("utf-16-le" if wide else "latin-1")
        elif kind == _BOF:
            sheet = names.get(at, sheet)
        elif kind == _BOOLERR and body[7] == 1:
            yield (sheet, *struct.unpack_from("<HH", body), body[6])
        elif kind == _FORMULA and body[12:14] == b"\xff\xff" and body[6] == 2:
            yield (sheet, *struct.unpack_from("<HH", body), body[8])
