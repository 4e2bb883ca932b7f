"""Several ratings side by side in a row: read where number and unit tell what is rated, asked about where they don't.

Expected values are unit conversions by hand: 1 L/h = 1e-3 m3 / 3600 s, 1 bar = 1e5 Pa.
"""

from collections import Counter
from pathlib import Path

import pytest
from openpyxl import Workbook, load_workbook

from ingest.book import read_book
from ingest.mapping import mapping_of
from ingest.parts_sheet import write_workbook

PUMP = ("Q-1", "plain pump", "tank pump", "HM20-D4")


def read(path: Path, *rows: tuple[object, ...]):
    book = Workbook()
    for row in rows:
        book.active.append(row)
    book.save(path / "parts.xlsx")
    return read_book([path / "parts.xlsx"])


def stated(book, number="Q-1"):
    part = next(p for p in book.parts if p.id == number)
    return {r.name: r.value for r in part.ratings}


def outcomes(book):
    return Counter(row.outcome for row in book.rows)


HEAD = ("No.", "Part", "Slot", "Fits")


@pytest.mark.parametrize(
    ("head", "cells"),
    [
        (("Rating 1", "Condition 1", "Rating 2", "Evidence"), ("240 L/h", "5.5 bar, 13.5 V", "18 A", "own bench")),
        (("Rating 1 (L/h)", "Condition 1", "Rating 2 (A)", "Evidence"), (240, "5.5 bar, 13.5 V", 18, "own bench")),
        (("Rating #2", "Rating #1", "Condition #1", "Evidence"), ("18 A", "240 L/h", "5.5 bar, 13.5 V", "own bench")),
        (("Rating", "Condition", "Rating 2", "Evidence"), ("240 L/h", "5.5 bar, 13.5 V", "18 A", "own bench")),
        (
            ("Rating", "Unit", "Condition", "Rating 2", "Unit 2", "Evidence"),
            (240, "L/h", "5.5 bar, 13.5 V", 18, "A", "own bench"),
        ),
        (
            ("Rating of 1", "Rating 1", "Unit 1", "Condition 1", "Rating of 2", "Rating 2", "Unit 2", "Evidence"),
            ("flow", 240, "L/h", "5.5 bar, 13.5 V", "current", 18, "A", "own bench"),
        ),
        (
            ("Rating 1", "Condition 1", "Rating 2", "Rating 3", "Evidence 1", "Evidence 2"),
            ("240 L/h", "5.5 bar, 13.5 V", "18 A", None, "own bench", "own bench"),
        ),
    ],
)
def test_two_ratings_of_one_row_are_read(tmp_path, head, cells):
    book = read(tmp_path, (*HEAD, *head), (*PUMP, *cells))
    assert not book.problems
    assert stated(book) == {"flow": pytest.approx(240e-3 / 3600), "current": pytest.approx(18.0)}
    assert outcomes(book) == {"loaded": 1, "not data": 1}
    place = 4 + next(n for n, cell in enumerate(cells) if cell in ("240 L/h", 240))
    source = next(r.evidence.source for r in book.parts[0].ratings if r.name == "flow")
    assert source == f"parts.xlsx, sheet 'Sheet', row 2, column '{(*HEAD, *head)[place]}' ({'ABCDEFGHIJKL'[place]})"


def test_german_headers_and_units_in_the_row_below(tmp_path):
    head = ("Nr.", "Bezeichnung", "Einbauort", "Passt zu", "Kennwert 1", "Bedingung 1", "Kennwert 2", "Beleg")
    units = (None, None, None, None, "l/h", None, "A", None)
    book = read(tmp_path, head, units, (*PUMP, 240, "5,5 bar, 13,5 V", 18, "eigener Prüfstand"))
    assert not book.problems
    assert stated(book) == {"flow": pytest.approx(240e-3 / 3600), "current": pytest.approx(18.0)}


def test_what_no_unit_tells_is_asked_and_the_rest_is_read(tmp_path):
    head = (*HEAD, "Rating 1", "Condition 1", "Rating 2", "Evidence")
    book = read(tmp_path, head, (*PUMP, "240 L/h", "5.5 bar, 13.5 V", 18, "own bench"))
    (problem,) = book.problems
    assert (problem.row, problem.column) == (2, "G")
    assert "one of: " in problem.expected
    assert "current" in problem.expected
    assert stated(book) == {"flow": pytest.approx(240e-3 / 3600)}
    assert outcomes(book) == {"held": 1, "not data": 1}


def test_one_rating_twice_in_a_row_is_asked(tmp_path):
    head = (*HEAD, "Rating 1", "Condition 1", "Rating 2", "Condition 2", "Evidence")
    book = read(tmp_path, head, (*PUMP, "240 L/h", "5.5 bar", "250 L/h", "5.5 bar", "own bench"))
    (problem,) = book.problems
    assert (problem.row, problem.column) == (2, "G")
    assert "the flow again" in problem.found
    assert outcomes(book)["held"] == 1


def test_a_unit_that_stands_once_beside_several_ratings_is_guessed_for_none(tmp_path):
    head = (*HEAD, "Rating 1", "Rating 2", "Unit", "Evidence")
    book = read(tmp_path, head, (*PUMP, 240, 18, "L/h", "own bench"))
    asked = {p.column for p in book.problems if "a column headed" in p.found}
    assert asked == {"E", "F"}
    assert not any(part.ratings for part in book.parts)


def test_a_unit_of_the_first_rating_is_not_lent_to_the_second(tmp_path):
    head = (*HEAD, "Rating", "Unit", "Condition", "Rating 2", "Evidence")
    book = read(tmp_path, head, (*PUMP, 240, "L/h", "5.5 bar, 13.5 V", 250, "own bench"))
    (problem,) = book.problems
    assert problem.column == "H"
    assert stated(book) == {"flow": pytest.approx(240e-3 / 3600)}


def test_a_defect_of_the_row_is_said_once(tmp_path):
    head = (*HEAD, "Rating 1", "Condition 1", "Rating 2", "Evidence")
    book = read(tmp_path, head, (None, *PUMP[1:], "240 L/h", "5.5 bar", "18 A", "own bench"))
    (problem,) = book.problems
    assert problem.column == "A"
    assert outcomes(book) == {"held": 1, "not data": 1}


def test_the_mapping_shows_which_rating_a_column_belongs_to(tmp_path):
    head = (*HEAD, "Rating 1", "Condition 1", "Rating 2", "Evidence", "Colour")
    book = read(tmp_path, head, (*PUMP, "240 L/h", "5.5 bar", "18 A", "own bench", "red"))
    said = {t.head: t.meaning for t in mapping_of(book.headers["parts.xlsx"])}
    assert [said[n] for n in head[4:]] == [
        "parts: rating 1",
        "parts: condition 1",
        "parts: rating 2",
        "parts: evidence",
        "not read",
    ]
    assert sum("'Colour'" in p.found for p in book.problems) == 1


def test_ratings_side_by_side_come_back_below_one_another(tmp_path):
    head = (*HEAD, "Rating 1", "Condition 1", "Rating 2", "Evidence")
    book = read(tmp_path, head, (*PUMP, "240 L/h", "5.5 bar, 13.5 V", "18 A", "own bench"))
    write_workbook(book.parts, tmp_path / "again.xlsx")
    again = read_book([tmp_path / "again.xlsx"])
    assert not again.problems
    assert stated(again) == stated(book)
    assert load_workbook(tmp_path / "again.xlsx").active.max_row >= 3
