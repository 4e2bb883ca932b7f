"""The annotated copy: a list of all defects, comments on the cells, no formula from a sheet, never over an input."""

from __future__ import annotations

import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook

from graph.errors import UsageError
from ingest.annotate import DEFECT, write_annotated
from ingest.book import read_book

HEAD = ["No.", "Part", "Slot", "Fits", "Rating", "Unit", "Evidence", "Note"]
ROWS: list[list[Any]] = [
    HEAD,
    ["T-1", "charge pipe", "charge pipe", "E1", 1.7, "bar gauge", "own bench", '=HYPERLINK("http://x.invalid")'],
    ["T-2", "rods", "rods", "E1", 480, None, "hearsay", "+1 spare"],
    ["T-3", "glove", "glove box", "E1", 3, "A", "book", "-"],
    ["T-4", "mounts", "mounts", "E1", None, None, None, "@home"],
]


@pytest.fixture
def copy(write: Callable[..., Path], tmp_path: Path) -> Path:
    book = read_book([write("shop.xlsx", {"Parts": ROWS}), write("more.csv", {"": ROWS[:1] + ROWS[2:3]})])
    path = tmp_path / "back.xlsx"
    write_annotated(book, path)
    return path


def test_the_first_sheet_lists_every_defect_with_a_link(copy: Path) -> None:
    book = load_workbook(copy)
    assert book.sheetnames[0] == "Problems"
    listed = book["Problems"]
    rows = [[c.value for c in row[:4]] for row in listed.iter_rows(min_row=4)]
    assert rows == [
        ["shop.xlsx", "Parts", 3, "F3"],
        ["shop.xlsx", "Parts", 3, "G3"],
        ["shop.xlsx", "Parts", 4, "C4"],
        ["more.csv", None, 2, "A2"],
    ]
    assert listed["D4"].hyperlink.location == "'Parts'!F3"
    assert listed["D7"].hyperlink.location == "'more'!A2"


def test_defective_cells_are_filled_and_commented_and_held_rows_marked(copy: Path) -> None:
    sheet = load_workbook(copy)["Parts"]
    assert "without a unit" in sheet["F3"].comment.text
    assert "hearsay" in sheet["G3"].comment.text
    assert "not loaded" in sheet["A3"].comment.text
    assert sheet["F3"].fill.fgColor.rgb == DEFECT.fgColor.rgb
    assert sheet["B3"].fill.fill_type == "solid"
    assert sheet["E2"].comment is None
    assert sheet["E2"].fill.fill_type is None


def test_values_come_back_as_they_were_and_no_text_becomes_a_formula(copy: Path) -> None:
    sheet = load_workbook(copy)["Parts"]
    assert [[c.value for c in row] for row in sheet.iter_rows()] == ROWS
    for row, text in ((2, ROWS[1][7]), (3, "+1 spare"), (4, "-"), (5, "@home")):
        cell = sheet.cell(row=row, column=8)
        assert (cell.value, cell.data_type, cell.quotePrefix) == (text, "s", True)
    with zipfile.ZipFile(copy) as archive:
        assert not any(b"<f>" in archive.read(name) for name in archive.namelist() if "worksheets/sheet" in name)


def test_drop_downs_offer_the_closed_lists(copy: Path) -> None:
    sheet = load_workbook(copy)["Parts"]
    offered = {str(v.sqref): v.formula1 for v in sheet.data_validations.dataValidation}
    assert set(offered) == {"C2:C5", "G2:G5"}
    assert all(source.startswith("=Words!$") for source in offered.values())


def test_a_corrected_copy_loads(copy: Path, conserve: Callable[..., None]) -> None:
    book = load_workbook(copy)
    book["Parts"]["F3"] = "N·m"
    book["Parts"]["G3"] = "estimate"
    book["Parts"]["C4"] = "pump wiring"
    del book["more"]
    path = copy.with_name("corrected.xlsx")
    book.save(path)
    read = read_book([path])
    conserve(read)
    assert read.problems == []
    assert [p.id for p in read.parts] == ["T-1", "T-2", "T-3", "T-4"]


def test_an_input_is_never_written_over(write: Callable[..., Path], tmp_path: Path) -> None:
    source = write("shop.xlsx", {"Parts": ROWS})
    before = source.read_bytes()
    book = read_book([source])
    (tmp_path / "alias.xlsx").symlink_to(source)
    for target in (source, tmp_path / "." / "shop.xlsx", tmp_path / "alias.xlsx"):
        with pytest.raises(UsageError, match="never written over"):
            write_annotated(book, target)
    assert source.read_bytes() == before


def test_targets_and_inputs_that_cannot_be(write: Callable[..., Path], tmp_path: Path) -> None:
    source = write("shop.xlsx", {"Parts": ROWS})
    book = read_book([source])
    with pytest.raises(UsageError, match=r"\.xlsx"):
        write_annotated(book, tmp_path / "back.csv")
    with pytest.raises(UsageError, match="no folder"):
        write_annotated(book, tmp_path / "nowhere" / "back.xlsx")
    write("shop.xlsx", {"Parts": ROWS[:2]})
    with pytest.raises(UsageError, match="has changed"):
        write_annotated(book, tmp_path / "back.xlsx")


def test_sheet_names_that_clash_or_are_not_allowed(write: Callable[..., Path], tmp_path: Path) -> None:
    other = tmp_path / "problems.csv"
    other.write_bytes(write("shop.csv", {"": ROWS}).read_bytes())
    long = tmp_path / ("a[b]c" * 9 + ".csv")
    long.write_bytes(other.read_bytes())
    write_annotated(read_book([tmp_path / "shop.csv", other, long]), tmp_path / "back.xlsx")
    assert load_workbook(tmp_path / "back.xlsx").sheetnames == [
        "Problems", "shop", "problems 2", ("a b c" * 9)[:31], "Words",
    ]  # fmt: skip
