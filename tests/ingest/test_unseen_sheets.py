"""Sheets as other shops write them: what a person is told about each, in their own columns."""

from __future__ import annotations

from pathlib import Path

import pytest
from openpyxl import Workbook

from ingest.book import Book, read_book


def _read(folder: Path, *rows: list[object]) -> Book:
    book = Workbook()
    for row in rows:
        book.active.append(row)
    book.save(folder / "shop.xlsx")
    return read_book([folder / "shop.xlsx"])


def _at(book: Book, column: str, row: int) -> str:
    (problem,) = [p for p in book.problems if (p.column, p.row) == (column, row)]
    return problem.sentence


GERMAN = ["Teil-Nr.", "Bezeichnung", "Einbauort", "passt zu", "Kennwert", "Wert", "Einh.", "Randbedingungen", "Quelle"]


def test_characteristic_and_value_in_german_are_name_and_number(tmp_path: Path) -> None:
    row = ["K-01", "Pumpe", "tank pump", "HM20-D4", "Durchfluss", "255", "L/h", "5,5 bar; 13,5 V", "Datenblatt"]
    book = _read(tmp_path, GERMAN, row)
    assert not book.problems
    (part,) = book.parts
    assert part.ratings[0].name == "flow"
    assert part.ratings[0].value == pytest.approx(255e-3 / 3600.0)  # litres an hour to cubic metres a second


@pytest.mark.parametrize(("lacks", "words"), [("Teil-Nr.", "the part number"), ("Einbauort", "the place of the part")])
def test_a_header_that_lacks_one_column_is_named(lacks: str, words: str, tmp_path: Path) -> None:
    header = [name if name != lacks else "Lfd" for name in GERMAN]
    book = _read(tmp_path, ["Teileliste"], [], header, ["1"] * 9)
    (problem,) = book.problems
    assert (problem.row, words in problem.found) == (3, True)
    assert book.tallies[0].held == 3  # nobody can say that these rows are no data


def test_a_sheet_without_any_known_word_still_asks_for_a_header(tmp_path: Path) -> None:
    (problem,) = _read(tmp_path, ["apples", "pears"], [1, 2]).problems
    assert (problem.row, problem.found) == (1, "no header row")


HEAD = ["No.", "Part", "Slot", "Fits", "Rating", "Source", "Price", "Stock", "Lead", "Labour h"]


def test_units_row_with_money_and_pieces_is_read(tmp_path: Path) -> None:
    units = [None, None, None, None, "L/h", None, "EUR net", "pcs", None, None]
    book = _read(tmp_path, HEAD, units, ["A1", "pump", "tank pump", "HM20-D4", 330, "maker sheet", 274, 1, None, None])
    assert book.parts[0].ratings[0].value == pytest.approx(330e-3 / 3600.0)
    assert book.parts[0].price == 274.0  # the unit under 'Price' says that it is net and in euro
    assert not book.problems


@pytest.mark.parametrize("unit", ["EUR", "EUR brutto", "EUR gross"])
def test_a_price_whose_unit_does_not_say_net_is_not_taken_for_one(unit: str, tmp_path: Path) -> None:
    units = [None, None, None, None, "L/h", None, unit, None, None, None]
    book = _read(tmp_path, HEAD, units, ["A1", "pump", "tank pump", "HM20-D4", 330, "maker sheet", 274, 1, None, None])
    assert all(part.price is None for part in book.parts)
    assert "a column headed 'Price'" in _at(book, "G", 1)


@pytest.mark.parametrize(("unit", "number"), [("bar gauge", 1.7), ("kPa gauge", 170)])
def test_units_row_says_what_a_pressure_is_counted_from(unit: str, number: float, tmp_path: Path) -> None:
    row = ["A2", "pipe", "charge pipe", "HM20-D4", number, "own log", None, 1, None, None]
    book = _read(tmp_path, HEAD, [None, None, None, None, unit, None, "EUR net", "pcs", None, None], row)
    (rating,) = book.parts[0].ratings
    assert (rating.name, rating.value) == ("boost", pytest.approx(1.7e5))
    assert not book.problems


def test_german_places_of_the_fuel_chain_are_known(tmp_path: Path) -> None:
    rows = [
        ["K-01", "Pumpe", "Tankpumpe", "HM20-D4", "Durchfluss", "255", "L/h", "5,5 bar; 13,5 V", "Datenblatt"],
        ["K-02", "Düse", "Einspritzdüsen", "HM20-D4", "static flow", "16,5", "g/s", "100 bar", "Datenblatt"],
    ]
    header = [{"passt zu": "Passt auf", "Kennwert": "Größe"}.get(name, name) for name in GERMAN]
    book = _read(tmp_path, header, *rows)
    assert [part.kind for part in book.parts] == ["tank_pump", "injectors"]
    assert not book.problems


def test_an_unknown_place_is_answered_with_the_nearest_ones(tmp_path: Path) -> None:
    row = ["K-01", "Pumpe", "tank pmp", "HM20-D4", "Durchfluss", "255", "L/h", "5,5 bar; 13,5 V", "Datenblatt"]
    said = _at(_read(tmp_path, GERMAN, row), "C", 2)
    assert "found 'tank pmp'" in said
    assert "the nearest: tank pump" in said
    assert "intercooler" not in said


def test_a_price_that_does_not_say_net_is_told_how_to_say_it(tmp_path: Path) -> None:
    row = ["A1", "pump", "tank pump", "HM20-D4", "330 L/h", "maker sheet", 274, 1, "call", "some"]
    book = _read(tmp_path, HEAD, row)
    assert "'Price net EUR'" in _at(book, "G", 1)
    assert "a lead time such as 3 days" in _at(book, "I", 2)
    assert "a time of labour such as 2.5 h" in _at(book, "J", 2)


@pytest.mark.parametrize(("lacks", "asked"), [("passt zu", "'Fits'"), ("Bezeichnung", "'Part'")])
def test_a_column_that_every_part_needs_is_asked_for_once(lacks: str, asked: str, tmp_path: Path) -> None:
    header = [name if name != lacks else "xyz" for name in GERMAN]
    rows = [
        [f"K-{n}", "Pumpe", "tank pump", "HM20-D4", "Durchfluss", "255", "L/h", "5,5 bar; 13,5 V", "Datenblatt"]
        for n in range(5)
    ]
    book = _read(tmp_path, header, *rows)
    assert not book.parts
    assert book.tallies[0].held == 5
    asking = [p for p in book.problems if "no column headed" in p.found]
    assert [(p.row, asked in p.found) for p in asking] == [(1, True)]
    assert len(book.problems) == 2  # and the column that is not read


@pytest.mark.parametrize("unit", ["l/h bei 5,5 bar", "L/h @ 5.5 bar", "L/h at 5.5 bar"])
@pytest.mark.parametrize("number", ["230", 230])
def test_a_condition_behind_the_unit_is_that_of_the_rating(number: object, unit: str, tmp_path: Path) -> None:
    """One text in two cells says what it says in one: 230 l/h at 5.5 bar."""
    header = [name for name in GERMAN if name != "Randbedingungen"]
    row = ["K-01", "Pumpe", "tank pump", "HM20-D4", "Durchfluss", number, unit, "Datenblatt"]
    joined = ["K-01", "Pumpe", "tank pump", "HM20-D4", "Durchfluss", f"230 {unit}", None, "Datenblatt"]
    (part,) = _read(tmp_path, header, row).parts
    (same,) = _read(tmp_path, header, joined).parts
    assert part.ratings[0].value == same.ratings[0].value == pytest.approx(230e-3 / 3600.0)
    stated = {c.name: c.value for c in part.ratings[0].conditions if not c.assumed}
    assert stated == {"pressure": pytest.approx(5.5e5)}
    assert part.ratings[0].conditions == same.ratings[0].conditions
