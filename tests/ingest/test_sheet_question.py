"""What a workbook says beside its values becomes a question at its cell; the values are read all the same."""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import Any

import pytest
from openpyxl import Workbook
from openpyxl.comments import Comment
from openpyxl.styles import Font, PatternFill

from ingest.annotate import write_annotated
from ingest.book import Book, read_book
from ingest.decoration import is_decorated

HEAD = ("No.", "Part", "Slot", "Fits", "Rating of", "Rating", "Unit", "Evidence", "Date", "Price net EUR", "Note")
ROWS = (
    ("T-1", "box", "air box", "E1", "air flow", 300, "g/s", "own bench", datetime.date(2026, 1, 15), 265, None),
    ("T-2", "sensor", "pressure sensor", "E1", None, 3, "bar abs", "maker sheet", datetime.date(2026, 1, 15), 58, None),
    ("T-3", "clutch", "clutch", "E1", "torque", 430, "N·m", "own log", datetime.date(2026, 1, 15), 860, None),
)


def _book(*more: tuple[Any, ...]) -> Workbook:
    book = Workbook()
    book.active.title = "Parts"
    for row in (HEAD, *ROWS, *more):
        book.active.append(row)
    return book


def _read(book: Workbook, tmp_path: Path) -> Book:
    path = tmp_path / "shop.xlsx"
    book.save(path)
    return read_book([path])


def _said(book: Book) -> dict[str, str]:
    return {f"{p.column or ''}{p.row}": p.found for p in book.problems}


def test_a_plain_workbook_is_not_looked_at_twice(tmp_path: Path) -> None:
    book = _book()
    book.active["A2"].fill = PatternFill("solid", fgColor="FFDDE6EE")
    assert _said(_read(book, tmp_path)) == {}
    assert not is_decorated(tmp_path / "shop.xlsx")


@pytest.mark.parametrize(
    ("cell", "word"),
    [("J1", "a hidden column headed 'Price net EUR'"), ("A3", "hidden rows 3 to 4 (T-2)"), ("F4", "ask Vundle again")],
)
def test_what_is_hidden_or_beside_is_asked_about(tmp_path: Path, cell: str, word: str) -> None:
    book = _book()
    if cell == "J1":
        book.active.column_dimensions["J"].hidden = True
    elif cell == "A3":
        book.active.row_dimensions[3].hidden = book.active.row_dimensions[4].hidden = True
    else:
        book.active["F4"].comment = Comment("ask Vundle again", "parts desk")
    read = _read(book, tmp_path)
    assert list(_said(read)) == [cell]
    assert word in _said(read)[cell]
    assert len(read.parts) == 3


def test_a_hidden_sheet_is_asked_about(tmp_path: Path) -> None:
    book = _book()
    book.create_sheet("Front")
    book.active = 1
    book["Parts"].sheet_state = "hidden"
    assert _said(_read(book, tmp_path)) == {"2": "a hidden sheet with 3 data rows"}


@pytest.mark.parametrize("colour", ["FFFF0000", "FFFFC7CE", "FFC00000"])
def test_red_cells_and_red_text_are_asked_about(tmp_path: Path, colour: str) -> None:
    book = _book()
    book.active["F2"].fill = PatternFill("solid", fgColor=colour)
    book.active["B3"].font = Font(color=colour)
    assert _said(_read(book, tmp_path)) == {"F2": "cells in red: F", "B3": "cells in red: B"}


def test_the_marks_of_an_annotated_copy_are_no_questions(tmp_path: Path) -> None:
    book = _book(("T-4", "pipe", "charge pipe", "E1", "boost", "1.7 bar", None, "own log", None, "call", None))
    first = _read(book, tmp_path)
    assert list(_said(first)) == ["J5", "F5"] or list(_said(first)) == ["F5", "J5"]
    write_annotated(first, tmp_path / "copy.xlsx")
    again = read_book([tmp_path / "copy.xlsx"])
    assert _said(again) == _said(first)


@pytest.mark.parametrize(
    ("evidence", "date", "value", "rule"),
    [
        ("own bench", "2025-01-01", 450.0, "row 5 with the stronger evidence is used"),
        ("estimate", "2026-06-01", 430.0, "row 4 with the stronger evidence is used"),
        ("own log", "2026-06-01", 450.0, "row 5 with the newer evidence is used"),
        ("own log", "2026-01-15", 430.0, "neither evidence is stronger or newer, so row 4 is used"),
    ],
)
def test_of_two_sources_the_stronger_counts_then_the_newer(
    tmp_path: Path, evidence: str, date: str, value: float, rule: str
) -> None:
    book = _read(_book(("T-3", None, None, None, "torque", 450, "N·m", evidence, date, None, None)), tmp_path)
    (clutch,) = [part for part in book.parts if part.id == "T-3"]
    assert [rating.value for rating in clutch.ratings] == [value]
    (question,) = book.problems
    assert (question.row, question.column) == (5, "F")
    assert "row 4, column 'Rating' (F)" in question.expected
    assert rule in question.remedy
