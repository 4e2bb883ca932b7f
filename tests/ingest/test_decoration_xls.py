"""An XLS workbook says the same beside its values as an XLSX one, and is asked the same questions.

The files are written by xlwt, records that it cannot write by hand; which bit hides, strikes or colours is that of
[MS-XLS], records RowInfo, ColInfo, Font, XF, MergeCells, Note, Obj and TxO.
"""

from __future__ import annotations

import struct
import time
import tracemalloc
from pathlib import Path

import pytest
import xlwt

from ingest.book import read_book
from ingest.problem import UnreadableFile
from ingest.table import decorations

HEAD = ("No.", "Part", "Slot", "Fits", "Rating of", "Rating", "Unit", "Evidence")
ROWS = (
    ("T-1", "box", "air box", "E1", "air flow", "300", "g/s", "own bench"),
    ("T-2", "pipe", "charge pipe", "E1", "boost", "1.7", "bar gauge", "own log"),
    ("T-3", "clutch", "clutch", "E1", "torque", "430", "N·m", "own log"),
)
LOOKS = {
    "struck": "font: struck_out on",
    "ink": "font: colour red",
    "fill": "pattern: pattern solid, fore_colour red",
}


def record(kind: int, body: bytes) -> bytes:
    return struct.pack("<HH", kind, len(body)) + body


def comment(row: int, column: int, text: str) -> bytes:
    """A comment: its object, the object's text, and the cell that it belongs to."""
    box = struct.pack("<HHHHH12x", 0x15, 18, 0x19, 1, 0x4011) + struct.pack("<HH", 0, 0)
    return b"".join(
        (
            record(0x5D, box),
            record(0x1B6, struct.pack("<HH6xHH4x", 0x212, 0, len(text), 16)),
            record(0x3C, b"\0" + text.encode("latin-1")),
            record(0x3C, struct.pack("<HHIHHI", 0, 0, 0, len(text), 0, 0)),
            record(0x1C, struct.pack("<HHHHHB", row, column, 0, 1, 4, 0) + b"desk\0"),
        )
    )


def write(path: Path, spoil: str = "", more: bytes = b"", monkeypatch: pytest.MonkeyPatch | None = None) -> Path:
    book = xlwt.Workbook()
    sheet = book.add_sheet("Parts")
    plain, look = xlwt.Style.default_style, xlwt.easyxf(LOOKS.get(spoil, ""))
    for number, row in enumerate((HEAD, *ROWS)):
        for column, text in enumerate(row):
            if spoil == "merged" and (number, column) in ((1, 2), (2, 2)):
                continue
            sheet.write(number, column, text, look if spoil in LOOKS and number == 2 else plain)
    if spoil == "merged":
        sheet.write_merge(1, 2, 2, 2, "air box")
    if spoil == "row":
        sheet.row(2).hidden = True
    if spoil == "column":
        sheet.col(5).hidden = True
    if more:
        assert monkeypatch is not None
        written = xlwt.Worksheet.get_biff_data
        end = record(0x0A, b"")
        monkeypatch.setattr(xlwt.Worksheet, "get_biff_data", lambda s: written(s).removesuffix(end) + more + end)
    book.save(str(path))
    return path


def test_a_plain_file_says_nothing(tmp_path: Path) -> None:
    book = read_book([write(tmp_path / "plain.xls")])
    assert [p.sentence for p in book.problems] == []
    assert len(book.parts) == 3


@pytest.mark.parametrize(
    ("spoil", "row", "column", "said"),
    [
        ("row", 3, "A", "a hidden row (T-2)"),
        ("column", 1, "F", "a hidden column headed 'Rating'"),
        ("struck", 3, "A", "a row struck through (T-2)"),
        ("ink", 3, "A", "a row in red (T-2)"),
        ("fill", 3, "A", "a row in red (T-2)"),
    ],
)
def test_what_is_beside_the_values_is_a_question(spoil: str, row: int, column: str, said: str, tmp_path: Path) -> None:
    book = read_book([write(tmp_path / "shop.xls", spoil)])
    assert [(p.row, p.column, p.found) for p in book.problems] == [(row, column, said)]
    assert len(book.parts) == 3  # the values are read all the same


def test_a_comment_is_a_question(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = write(tmp_path / "shop.xls", more=comment(2, 5, "ask again"), monkeypatch=monkeypatch)
    book = read_book([path])
    assert [(p.row, p.column, p.found) for p in book.problems] == [(3, "F", "the comment 'ask again'")]


def test_a_merged_slot_is_named_with_its_block(tmp_path: Path) -> None:
    path = write(tmp_path / "shop.xls", "merged")
    assert decorations(path)["Parts"].merged == ("C2:C3",)
    book = read_book([path])
    assert any("the cell is merged in C2:C3" in p.found and (p.row, p.column) == (3, "C") for p in book.problems)


@pytest.mark.parametrize(
    "hostile",
    [
        record(0x1B8, struct.pack("<HHHH", 0, 65535, 0, 255) + bytes(24) + struct.pack("<I", 0)),  # a link over all
        record(0xE5, struct.pack("<HHHHH", 1, 0, 65535, 0, 255)),  # one merged block over all
        record(0x5D, b"\x15"),  # an object without its end
        record(0x1B6, b"\0"),  # a text without its length
        record(0xFD, struct.pack("<HHHI", 5, 0, 0, 2**31)),  # a text that the file has not
        record(0x1C, struct.pack("<H", 1)),  # a comment without its cell
    ],
)
def test_a_hostile_record_is_answered_soon_and_in_one_sentence(
    hostile: bytes, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = write(tmp_path / "shop.xls", more=hostile, monkeypatch=monkeypatch)
    tracemalloc.start()
    began = time.process_time()
    try:
        found = [p.sentence for p in read_book([path]).problems]
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert len(found) <= 1
    assert all("shop.xls" in sentence for sentence in found)
    assert peak < 64 << 20
    assert time.process_time() - began < 20.0


@pytest.mark.parametrize("step", [7, 11, 13])
def test_damage_anywhere_ends_in_a_reading_or_one_sentence(step: int, tmp_path: Path) -> None:
    whole = write(tmp_path / "whole.xls", "struck").read_bytes()
    path = tmp_path / "damaged.xls"
    refusals = set()
    for at in range(step, len(whole), len(whole) // 60 + step):
        path.write_bytes(whole[:at] + bytes(b ^ 0xFF for b in whole[at : at + step]) + whole[at + step :])
        try:
            decorations(path)
        except UnreadableFile as error:
            refusals.add(error.found)
    assert refusals == {"its colours and comments cannot be read"}
