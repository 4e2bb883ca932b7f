"""A look through an XLS file for the cells that show an error; its reader gives them as empty.

References
----------
Microsoft, [MS-CFB] Compound File Binary File Format, and [MS-XLS] Excel Binary File Format (.xls) Structure, records
BoundSheet8, BoolErr and Formula; layout from memory of both.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator

from ingest.extent import Scan, column_letters, shows_error

_ERRORS = {0: "#NULL!", 7: "#DIV/0!", 15: "#VALUE!", 23: "#REF!", 29: "#NAME?", 36: "#NUM!", 42: "#N/A"}
_BOUNDSHEET, _BOF, _BOOLERR, _FORMULA, _FILEPASS = 0x85, 0x809, 0x205, 0x06, 0x2F
_LAST_SECTOR = 0xFFFFFFFA
_MOST_SECTORS = 1 << 20


def scan_xls(content: bytes) -> Scan:
    """Find the cells of an XLS file that show an error.

    Parameters
    ----------
    content : bytes
        The whole file.

    Returns
    -------
    Scan
        Without a problem where the file is damaged or protected: that is for its reader to say.
    """
    scan = Scan(kind="xls")
    try:
        for sheet, row, column, code in _errors(_workbook(content)):
            shown = _ERRORS.get(code, f"number {code}")
            scan.problems.setdefault(sheet, []).append(shows_error(row + 1, column_letters(column), shown))
    except (struct.error, IndexError, ValueError, UnicodeDecodeError):
        return Scan(kind="xls")
    return scan


def _workbook(content: bytes) -> bytes:
    """Return the stream that holds the sheets."""
    size = 1 << struct.unpack_from("<H", content, 30)[0]
    small = 1 << struct.unpack_from("<H", content, 32)[0]
    if size not in (512, 4096) or small != 64:
        raise ValueError("sectors of an unknown size")
    first_folder, cutoff, first_small = (struct.unpack_from("<I", content, at)[0] for at in (48, 56, 60))

    def sector(number: int) -> bytes:
        return content[(number + 1) * size : (number + 2) * size]

    places = list(struct.unpack_from("<109I", content, 76))
    more = struct.unpack_from("<I", content, 68)[0]
    while more < _LAST_SECTOR and len(places) < _MOST_SECTORS:
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
        entries.setdefault(name, struct.unpack_from("<II", folder, at + 116))
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


def _errors(stream: bytes) -> Iterator[tuple[str, int, int, int]]:
    """Yield sheet, row, column (both from 0) and code of every cell that shows an error."""
    names: dict[int, str] = {}
    sheet, at = "", 0
    while at + 4 <= len(stream):
        kind, length = struct.unpack_from("<HH", stream, at)
        body = stream[at + 4 : at + 4 + length]
        if kind == _FILEPASS:
            return
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
        at += 4 + length
