"""Parts sheets: one defect each and its exact cell; what is good loads; no row is lost."""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from graph.errors import UsageError
from graph.model import Curve, EvidenceKind, Meaning, RelationKind
from ingest.book import Book, read_book

SEED = Path(__file__).resolve().parents[2] / "seed_parts"
HEAD = (
    "No.", "Part", "Slot", "Fits", "Rating of", "Rating", "Unit", "Condition", "Meaning", "Evidence", "Date", "± %",
    "Price net EUR", "Labour h", "Lead days", "Stock", "Requires", "Interfaces", "Note",
)  # fmt: skip
LETTER = dict(zip(HEAD, "ABCDEFGHIJKLMNOPQRS", strict=True))
Row = dict[str, Any]


def _row(**cells: Any) -> Row:
    names = {
        "no": "No.", "part": "Part", "slot": "Slot", "fits": "Fits", "of": "Rating of", "rating": "Rating",
        "unit": "Unit", "at": "Condition", "meaning": "Meaning", "evidence": "Evidence", "date": "Date",
        "spread": "± %", "price": "Price net EUR", "labour": "Labour h", "lead": "Lead days", "stock": "Stock",
        "requires": "Requires", "interfaces": "Interfaces", "note": "Note",
    }  # fmt: skip
    return {names[k]: v for k, v in cells.items()}


#: Rows 2 to 11 of the sheet.
GOOD: tuple[Row, ...] = (
    _row(no="T-1", part="pump", slot="tank pump", fits="E1", of="flow", rating=240, unit="L/h",
         at="pressure 5.5 bar; voltage 13.5 V; temperature 20 °C; fluid petrol", evidence="own bench",
         date="2026-01-15", spread=4, price=188, labour=2, lead=4, stock=3,
         requires="pump controller current >= 16 A; T-2; T-3 | T-4; task: bleed the line", interfaces="flange: M"),
    _row(no="T-1", of="current", rating=15, unit="A", evidence="own bench", date="2026-01-15", spread=5),
    _row(no="T-2", part="injectors", slot="injectors", fits="E1; E2", of="static flow", rating=16.5, unit="g/s",
         at="pressure 100 bar", evidence="maker sheet", date="2026-01-15", spread=4, price=980, labour=3.5),
    _row(no="T-3", part="rods", slot="rods", fits="E1", of="torque", rating="3499 rpm: 420; 3500 rpm: 480", unit="N·m",
         evidence="EJ + 2 failures", date="2026-01-15", spread=10, price=0),
    _row(no="T-3", of="speed", rating=7200, unit="rpm", evidence="book", date="2026-01-15", spread=0),
    _row(no="T-4", part="charge pipe", slot="charge pipe", fits="E1", of="boost", rating=1.7, unit="bar gauge",
         at="temperature 110 °C", evidence="2 failures seen", date="2026-01-15", spread=8),
    _row(no="T-5", part="sensor", slot="pressure sensor", fits="E1", rating=3, unit="bar abs", evidence="maker sheet",
         date="2026-01-15", spread=1, price=58),
    _row(no="T-6", part="mounts", slot="mounts", fits="E1", price=150),
    _row(no="T-7", part="inlet pipe", slot="inlet pipe", fits="E1", of="air flow", rating=310, unit="g/s",
         evidence="shop experience", date="2026-01-15", spread=10, requires="supersedes X-1; not with T-4"),
    _row(no="T-8", part="turbo", slot="compressor", fits="E1", of="pressure ratio", rating=3.6, evidence="maker map",
         date="2026-01-15", spread=4, price=1650),
    _row(no="T-8", of="choke flow", rating="1.5: 232; 2.0: 248; 2.7: 255", unit="g/s",
         at="reference temperature 298 K; reference pressure 100 kPa", evidence="maker map", date="2026-01-15", spread=4),
)  # fmt: skip


def _table(rows: tuple[Row, ...] | list[Row]) -> dict[str, list[list[Any]]]:
    return {"Parts": [list(HEAD), *([row.get(name) for name in HEAD] for row in rows)]}


def _changed(*changes: tuple[int, str, Any]) -> list[Row]:
    rows = [dict(row) for row in GOOD]
    for number, column, value in changes:
        rows[number - 2][column] = value
    return rows


def _ratings(book: Book) -> set[tuple[str, str]]:
    return {(part.id, rating.name) for part in book.parts for rating in part.ratings}


#: Name: (changes as (row, column, value), cell of the problem, a word of it, parts lost, ratings lost besides).
DEFECTS: dict[str, tuple[list[tuple[int, str, Any]], str, str, set[str], set[tuple[str, str]]]] = {
    "unit deleted": ([(2, "Unit", None)], "G2", "unit", set(), {("T-1", "flow")}),
    "unit unknown": ([(2, "Unit", "L/fortnight")], "G2", "unit", set(), {("T-1", "flow")}),
    "unit of another quantity": ([(2, "Unit", "bar")], "G2", "volume flow", set(), {("T-1", "flow")}),
    "two units": ([(2, "Rating", "240 L/min")], "F2", "one unit", set(), {("T-1", "flow")}),
    "rating of words": ([(3, "Rating", "tbc")], "F3", "words", set(), {("T-1", "current")}),
    "rating a date": ([(3, "Rating", "12. Mai")], "F3", "date", set(), {("T-1", "current")}),
    "rating doubtful": ([(3, "Rating", "15?")], "F3", "doubtful", set(), {("T-1", "current")}),
    "rating up to": ([(3, "Rating", "up to 15")], "F3", "at most", set(), {("T-1", "current")}),
    "rating approximate": ([(3, "Rating", "~15")], "F3", "approximately", set(), {("T-1", "current")}),
    "rating with two readings": ([(6, "Rating", "7,200")], "F6", "7200 or 7.2", set(), {("T-3", "speed")}),
    "rating empty": ([(3, "Rating", None)], "F3", "current", set(), {("T-1", "current")}),
    "rating implausible": ([(2, "Rating", 24000)], "F2", "between", set(), {("T-1", "flow")}),
    "torque at the wheel": ([(5, "Rating", "3499 rpm: 420 wheel; 3500 rpm: 480")], "F5", "wheel", set(), {("T-3", "torque")}),
    "gauge not told": ([(7, "Unit", "bar")], "F7", "neither abs nor gauge", set(), {("T-4", "boost")}),
    "absolute not told": ([(8, "Unit", "bar")], "F8", "neither abs nor gauge", set(), {("T-5", "full scale")}),
    "gauge for absolute": ([(8, "Unit", "bar gauge")], "G8", "absolute", set(), {("T-5", "full scale")}),
    "curve falls back": ([(5, "Rating", "3500 rpm: 480; 3499 rpm: 420")], "F5", "rising", set(), {("T-3", "torque")}),
    "curve of one point": ([(5, "Rating", "3500 rpm: 480")], "F5", "two or more", set(), {("T-3", "torque")}),
    "curve point without colon": ([(5, "Rating", "3499 rpm: 420; 3500 rpm 480")], "F5", "colon", set(), {("T-3", "torque")}),
    "curve speed without unit": ([(5, "Rating", "3499: 420; 3500: 480")], "F5", "unit", set(), {("T-3", "torque")}),
    "rating unknown to the kind": ([(3, "Rating of", "power")], "E3", "flow, current", set(), {("T-1", "current")}),
    "rating not named": ([(2, "Rating of", None), (2, "Slot", "turbine"), (3, "Rating of", "efficiency"), (3, "Rating", 0.6), (3, "Unit", "1"), (2, "Requires", None)], "E2", "say what is rated", set(), {("T-1", "flow"), ("T-1", "current")}),
    "condition without unit": ([(2, "Condition", "pressure 5.5; voltage 13.5 V")], "H2", "unit", set(), {("T-1", "flow")}),
    "condition unknown": ([(2, "Condition", "humidity 40 %")], "H2", "pressure, voltage", set(), {("T-1", "flow")}),
    "condition twice": ([(2, "Condition", "voltage 13.5 V; voltage 12 V")], "H2", "again", set(), {("T-1", "flow")}),
    "condition a range": ([(2, "Condition", "voltage 12-14 V")], "H2", "plain number", set(), {("T-1", "flow")}),
    "condition missing": ([(4, "Condition", None)], "H4", "pressure", set(), {("T-2", "static flow")}),
    "condition behind @ bare": ([(4, "Rating", "16,5g/s@100"), (4, "Unit", None), (4, "Condition", None)], "F4", "100", set(), {("T-2", "static flow")}),
    "fluid unknown": ([(2, "Condition", "fluid water")], "H2", "petrol", set(), {("T-1", "flow")}),
    "meaning unknown": ([(3, "Meaning", "sort of")], "I3", "guaranteed minimum", set(), {("T-1", "current")}),
    "evidence missing": ([(3, "Evidence", None)], "J3", "estimate", set(), {("T-1", "current")}),
    "evidence unknown": ([(3, "Evidence", "a forum")], "J3", "own bench", set(), {("T-1", "current")}),
    "date impossible": ([(3, "Date", "2026-02-30")], "K3", "date", set(), {("T-1", "current")}),
    "date with two readings": ([(3, "Date", "03/02/2026")], "K3", "date", set(), {("T-1", "current")}),
    "spread of words": ([(3, "± %", "wide")], "L3", "standard deviation", set(), {("T-1", "current")}),
    "spread too wide": ([(3, "± %", 400)], "L3", "60 %", set(), {("T-1", "current")}),
    "price on call": ([(8, "Price net EUR", "call")], "M8", "net price", {"T-5"}, set()),
    "price gross": ([(8, "Price net EUR", "69 gross")], "M8", "net price", {"T-5"}, set()),
    "price negative": ([(8, "Price net EUR", -5)], "M8", "net price", {"T-5"}, set()),
    "labour in days": ([(8, "Labour h", "½ day")], "N8", "working day", {"T-5"}, set()),
    "lead time on call": ([(8, "Lead days", "call")], "O8", "a lead time", {"T-5"}, set()),
    "stock used": ([(8, "Stock", "1 (used)")], "P8", "new pieces", {"T-5"}, set()),
    "stock negative": ([(8, "Stock", -1)], "P8", "zero", {"T-5"}, set()),
    "requirement in prose": ([(8, "Requires", "use with 25A box")], "Q8", "no clause", {"T-5"}, set()),
    "requirement of a bare number": ([(8, "Requires", "pump controller current >= 16")], "Q8", "unit", {"T-5"}, set()),
    "requirement of no rating": ([(8, "Requires", "pump controller colour >= 16 A")], "Q8", "colour", {"T-5"}, set()),
    "requirement of no slot": ([(8, "Requires", "magic box current >= 16 A")], "Q8", "slot", {"T-5"}, set()),
    "task without work": ([(8, "Requires", "task:")], "Q8", "done", {"T-5"}, set()),
    "interface without type": ([(8, "Interfaces", "flange")], "R8", "port", {"T-5"}, set()),
    "interface twice": ([(8, "Interfaces", "flange: M; flange: N")], "R8", "again", {"T-5"}, set()),
    "slot unknown": ([(8, "Slot", "glove box")], "C8", "turbine", {"T-5"}, set()),
    "slot missing": ([(8, "Slot", None)], "C8", "nothing", {"T-5"}, set()),
    "fits nothing": ([(8, "Fits", None)], "D8", "codes", {"T-5"}, set()),
    "name missing": ([(8, "Part", None)], "B8", "calls", {"T-5"}, set()),
    "number missing": ([(8, "No.", None)], "A8", "part number", {"T-5"}, set()),
    "number with the old one": ([(8, "No.", "T-5 (T-0)")], "A8", "brackets", {"T-5"}, set()),
    "number of a kit": ([(8, "No.", "T-5+T-9")], "A8", "one part number", {"T-5"}, set()),
    "first row broken": ([(2, "Slot", "glove box")], "C2", "turbine", {"T-1"}, set()),
    "price repeated otherwise": ([(3, "Price net EUR", 199)], "M3", "'188'", set(), {("T-1", "current")}),
    "rating twice": ([(3, "Rating of", "flow"), (3, "Rating", 395), (3, "Unit", "L/h")], "F3", "again", set(), {("T-1", "current")}),
    "required rating nowhere": ([(8, "Rating", None), (8, "Unit", None), (8, "± %", None)], "F8", "no full scale", set(), {("T-5", "full scale")}),
}  # fmt: skip


@pytest.fixture
def clean(write: Callable[..., Path]) -> Book:
    return read_book([write("clean.csv", _table(GOOD))])


def test_the_base_sheet_is_clean(clean: Book, conserve: Callable[[Book], None]) -> None:
    assert clean.problems == []
    assert [p.id for p in clean.parts] == [f"T-{n}" for n in range(1, 9)]
    conserve(clean)


@pytest.mark.parametrize("ending", ["csv", "xlsx"])
@pytest.mark.parametrize("name", DEFECTS)
def test_one_defect_is_named_with_its_cell_and_the_rest_loads(
    name: str, ending: str, clean: Book, write: Callable[..., Path], conserve: Callable[[Book], None], nameless: Any
) -> None:
    changes, cell, word, parts, ratings = DEFECTS[name]
    book = read_book([write(f"shop.{ending}", _table(_changed(*changes)))])
    conserve(book)
    (problem,) = book.problems
    assert f"{problem.column}{problem.row}" == cell
    assert problem.file == f"shop.{ending}"
    assert word in f"{problem.found} {problem.expected} {problem.remedy}"
    assert problem.remedy
    touched = {GOOD[row - 2]["No."] for row, _, _ in changes}
    untouched = [nameless(p) for p in clean.parts if p.id not in touched]
    assert [nameless(p) for p in book.parts if p.id not in touched] == untouched
    assert {p.id for p in clean.parts} - {p.id for p in book.parts} == parts
    lost = {(p, r) for p, r in _ratings(clean) - _ratings(book) if p not in parts}
    assert lost == ratings
    held = {row.number for row in book.rows if row.outcome == "held"}
    assert problem.row in held or name == "required rating nowhere"


def test_every_defect_of_a_file_is_found_at_once(write: Callable[..., Path], conserve: Callable[[Book], None]) -> None:
    rows = _changed(
        (2, "Slot", "tank pump"),
        (2, "Price net EUR", "call"),
        (2, "Unit", None),
        (2, "Evidence", "hearsay"),
        (3, "± %", "wide"),
    )
    book = read_book([write("shop.csv", _table(rows))])
    conserve(book)
    assert [f"{p.column}{p.row}" for p in book.problems] == ["M2", "G2", "J2", "L3"]


def test_three_formats_of_one_sheet_load_equal(write: Callable[..., Path], nameless: Any) -> None:
    books = [read_book([write(f"shop.{ending}", _table(GOOD))]) for ending in ("csv", "xlsx", "ods")]
    first, *others = ([nameless(p) for p in book.parts] for book in books)
    assert len(first) == 8
    assert all(other == first for other in others)
    sources = [book.parts[0].ratings[0].evidence.source for book in books]
    assert sources == [
        "shop.csv, row 2, column 'Rating' (F)",
        "shop.xlsx, sheet 'Parts', row 2, column 'Rating' (F)",
        "shop.ods, sheet 'Parts', row 2, column 'Rating' (F)",
    ]


def test_values_are_si(clean: Book) -> None:
    """By hand from the definitions of the SI Brochure: 1 L/h = 1e-3/3600 m3/s, 1 bar = 1e5 Pa, 0 °C = 273.15 K."""
    parts = {p.id: p for p in clean.parts}
    flow = parts["T-1"].rating("flow")
    assert flow is not None
    assert flow.value == pytest.approx(240e-3 / 3600, rel=1e-12)
    assert [c.value for c in flow.conditions] == [pytest.approx(5.5e5), 13.5, pytest.approx(293.15), "petrol"]
    assert not flow.assumed
    assert flow.spread == pytest.approx(0.04)
    torque = parts["T-3"].rating("torque")
    assert torque is not None
    assert torque.value == Curve(x=(pytest.approx(3499 / 60), pytest.approx(3500 / 60)), y=(420.0, 480.0))
    assert torque.evidence.kind is EvidenceKind.SHOP_EXPERIENCE
    assert parts["T-1"].labour == pytest.approx(2 * 3600)
    assert parts["T-1"].lead_time == pytest.approx(4 * 86400)
    assert parts["T-4"].price is None
    assert parts["T-3"].price == 0.0


def test_a_silent_condition_is_assumed_and_marked(clean: Book) -> None:
    fluid = next(p for p in clean.parts if p.id == "T-2").ratings[0].conditions[1]
    assert (fluid.name, fluid.value, fluid.assumed) == ("fluid", "n-heptane", True)
    drop = next(p for p in clean.parts if p.id == "T-7").ratings[0].conditions[0]
    assert isinstance(drop.value, float)
    assert drop.assumed


def test_requirements_become_relations_and_tasks(clean: Book) -> None:
    pump = clean.parts[0]
    reach, part, either = pump.relations
    assert (reach.kind, reach.slot, reach.rating, reach.at_least) == (
        RelationKind.REQUIRES, "pump_controller", "current", 16.0,
    )  # fmt: skip
    assert (part.part, either.part) == ("T-2", "T-3 | T-4")
    assert pump.tasks == ("bleed the line",)
    pipe = next(p for p in clean.parts if p.id == "T-7")
    assert [(r.kind, r.part) for r in pipe.relations] == [
        (RelationKind.SUPERSEDES, "X-1"),
        (RelationKind.EXCLUDES, "T-4"),
    ]
    assert (pump.interfaces[0].port, pump.interfaces[0].type) == ("flange", "M")


@pytest.mark.parametrize(
    ("condition", "voltage"),
    [("@ 5.5 bar, 13,2 V", 13.2), ("13.2 V; 5,5 bar", 13.2), ("petrol; voltage = 13.2 V", 13.2)],
)
def test_conditions_are_told_by_their_quantity(condition: str, voltage: float, write: Callable[..., Path]) -> None:
    book = read_book([write("shop.csv", _table(_changed((2, "Condition", condition))))])
    assert book.problems == []
    flow = book.parts[0].rating("flow")
    assert flow is not None
    assert flow.condition("voltage") == voltage
    assert flow.condition("pressure") == pytest.approx(5.5e5)


def test_a_bound_is_a_guaranteed_minimum_and_a_range_widens_the_spread(write: Callable[..., Path]) -> None:
    book = read_book([write("shop.csv", _table(_changed((2, "Rating", "≥ 240"), (3, "Rating", "14-16"))))])
    assert book.problems == []
    flow, current = book.parts[0].ratings
    assert flow.meaning is Meaning.GUARANTEED
    # an even distribution of width w has the standard deviation w / sqrt(12): 2 / sqrt(12) / 15 = 3.8 %, the sheet's 5 % is wider
    assert (current.value, current.spread) == (15.0, 0.05)
    wide = read_book([write("wide.csv", _table(_changed((3, "Rating", "10-20"))))]).parts[0].ratings[1]
    assert wide.spread == pytest.approx(10 / math.sqrt(12) / 15)


def test_a_silent_spread_is_assumed_and_said(write: Callable[..., Path]) -> None:
    current = read_book([write("shop.csv", _table(_changed((3, "± %", None))))]).parts[0].ratings[1]
    assert current.spread == 0.04
    assert "assumed" in current.evidence.detail


@pytest.mark.parametrize("written", ["2026-01-05", "5.1.2026", "05.01.2026", date(2026, 1, 5)])
def test_dates(written: Any, write: Callable[..., Path]) -> None:
    book = read_book([write("shop.xlsx", _table(_changed((3, "Date", written))))])
    assert book.problems == []
    assert book.parts[0].ratings[1].evidence.date == "2026-01-05"


def test_titles_units_subtotals_and_blank_rows_are_named_as_no_data(
    write: Callable[..., Path], conserve: Callable[[Book], None]
) -> None:
    table = _table(GOOD)["Parts"]
    rows = [
        ["Parts book, spring"],
        [],
        table[0],
        [None] * 12 + ["EUR", "h", "days"],
        *table[1:],
        [],
        ["Subtotal", *[None] * 11, 3026],
    ]
    book = read_book([write("shop.xlsx", {"Parts": rows})])
    conserve(book)
    assert book.problems == []
    assert [(r.number, r.note) for r in book.rows if r.outcome == "not data"] == [
        (1, "title"), (2, "blank"), (3, "header"), (4, "units of the header"), (16, "blank"), (17, "a subtotal"),
    ]  # fmt: skip


def test_a_second_table_that_nobody_knows_is_held_not_lost(
    write: Callable[..., Path], conserve: Callable[[Book], None]
) -> None:
    rows = [*_table(GOOD)["Parts"], [], ["Labour rates", "EUR"], ["mechanic", 96]]
    book = read_book([write("shop.xlsx", {"Parts": rows})])
    conserve(book)
    assert {p.row for p in book.problems} == {14}
    assert len(book.parts) == 8


def test_an_unknown_column_is_asked_about_and_kept(
    write: Callable[..., Path], conserve: Callable[[Book], None]
) -> None:
    rows = [[*row, extra] for row, extra in zip(_table(GOOD)["Parts"], ["Shelf", *["B3"] * 11], strict=True)]
    book = read_book([write("shop.csv", {"Parts": rows})])
    conserve(book)
    (question,) = book.problems
    assert (question.column, question.row) == ("T", 1)
    assert "'Shelf'" in question.found
    assert len(book.parts) == 8
    assert book.rows[1].cells["Shelf"] == "B3"


def test_a_column_twice_is_asked_about(write: Callable[..., Path], conserve: Callable[[Book], None]) -> None:
    rows = [[*row, extra] for row, extra in zip(_table(GOOD)["Parts"], ["Slot", *["x"] * 11], strict=True)]
    book = read_book([write("shop.csv", {"Parts": rows})])
    conserve(book)
    (question,) = book.problems
    assert question.column == "T"
    assert "again" in question.found


def test_german_headers_words_and_decimal_commas(write: Callable[..., Path], conserve: Callable[[Book], None]) -> None:
    rows = [
        ["Teile-Nr.", "Bezeichnung", "Einbauort", "Passend für", "Durchfluss (L/h)", "Bedingung", "Beleg", "Streuung %",
         "Preis netto EUR", "Arbeitszeit h", "Lieferzeit Wochen", "Benötigt"],
        ["T-1", "Pumpe", "Vorförderpumpe", "E1", "240,5", "Druck 5,5 bar; Spannung 13,2 V", "Prüfbank", "4,5",
         "1.650,50", "1,5", "2", "Arbeit: entlüften"],
    ]  # fmt: skip
    book = read_book([write("teile.csv", {"Teile": rows})])
    conserve(book)
    assert book.problems == []
    (part,) = book.parts
    (flow,) = part.ratings
    assert (part.kind, flow.name) == ("tank_pump", "flow")
    assert flow.value == pytest.approx(240.5e-3 / 3600)
    assert flow.condition("voltage") == 13.2
    assert flow.evidence.kind is EvidenceKind.OWN_BENCH
    assert (part.price, part.labour, part.lead_time) == (1650.5, 5400.0, 14 * 86400.0)
    assert part.tasks == ("entlüften",)


def test_a_sheet_without_a_header_is_held(write: Callable[..., Path], conserve: Callable[[Book], None]) -> None:
    book = read_book([write("notes.csv", {"": [["buy", "pump"], ["sell", "turbo"]]})])
    conserve(book)
    (problem,) = book.problems
    assert "header" in problem.found
    assert [r.outcome for r in book.rows] == ["held", "held"]


def test_a_part_in_two_sheets_is_held_once(write: Callable[..., Path], conserve: Callable[[Book], None]) -> None:
    table = _table(GOOD)["Parts"]
    book = read_book([write("shop.xlsx", {"One": table, "Two": [table[0], table[1], table[2]]})])
    conserve(book)
    (problem,) = book.problems
    assert (problem.sheet, problem.row, problem.column) == ("Two", 2, "A")
    assert book.tallies[1].held == 2
    assert len(book.parts) == 8


def test_a_row_written_twice_is_held(write: Callable[..., Path], conserve: Callable[[Book], None]) -> None:
    book = read_book([write("shop.csv", _table([*GOOD[:8], GOOD[7], *GOOD[8:]]))])
    conserve(book)
    (problem,) = book.problems
    assert problem.row == 10
    assert len(book.parts) == 8


def test_an_unreadable_file_is_a_problem_and_the_others_load(write: Callable[..., Path], tmp_path: Path) -> None:
    broken = tmp_path / "broken.xlsx"
    broken.write_bytes(b"%PDF-1.7 not a sheet")
    book = read_book([broken, write("shop.csv", _table(GOOD))])
    assert [p.file for p in book.problems] == ["broken.xlsx"]
    assert len(book.parts) == 8


def test_paths_that_cannot_be_read(write: Callable[..., Path], tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="does not exist"):
        read_book([tmp_path / "nowhere.csv"])
    (tmp_path / "empty").mkdir()
    with pytest.raises(UsageError, match="holds no sheet"):
        read_book([tmp_path / "empty"])
    one = write("shop.csv", _table(GOOD))
    two = tmp_path / "empty" / "shop.csv"
    two.write_bytes(one.read_bytes())
    with pytest.raises(UsageError, match="one name"):
        read_book([one, two])
    assert len(read_book([one, tmp_path]).parts) == 8


def test_the_demo_sheets_load_without_a_problem(conserve: Callable[[Book], None]) -> None:
    book = read_book([SEED])
    conserve(book)
    assert [p.sentence for p in book.problems] == []
    assert (len(book.parts), [p.id for p in book.platforms], [c.id for c in book.cars]) == (
        87, ["marrit-20t"], ["car-a", "car-b", "car-c"],
    )  # fmt: skip
    assert all(t.held == 0 for t in book.tallies)
    factory = {s.factory_part for s in book.platforms[0].slots}
    assert {p.id for p in book.parts if p.factory} == factory - {None}


GARBAGE = (
    "?", ";", ":", "|", "@", "@ 5", "1e999", "-1", "NaN", "inf", "12:30", "=1", "task:", "not with", ">= 3", "a >= b",
    "1: 2; 3: 4", "1\u00a0000", "(", ")", "total", "½", "\u2212 5 bar", "5 bar (", "L/h", "² ³", "١٢", "x" * 400,
)  # fmt: skip


@pytest.mark.parametrize("column", HEAD)
def test_whatever_stands_in_a_cell_no_row_is_lost_and_what_is_held_is_explained(
    column: str, write: Callable[..., Path], conserve: Callable[[Book], None]
) -> None:
    for text in GARBAGE:
        book = read_book([write("shop.csv", _table(_changed((2, column, text))))])
        conserve(book)
        assert {p.id for p in book.parts} >= {f"T-{n}" for n in range(2, 9)}
        if any(row.outcome == "held" for row in book.rows):
            assert book.problems


def test_the_messy_twin_is_reported_cell_by_cell(write: Callable[..., Path], conserve: Callable[[Book], None]) -> None:
    """The defects that parts sheets of workshops show most, on one sheet, each with its cell."""
    table = _table(
        [
            _row(no="M-1", part="pump", slot="tank pump", fits="E1", of="flow", rating="240,5 L/h", evidence="own bench", spread=4, price="1.234,50 €"),
            _row(no="M-1", part="pump", slot="tank pump", fits="E1", of="flow", rating="395 L/h", at="pressure 3 bar; voltage 12 V", evidence="maker sheet", spread=8),
            _row(no="M-2", part="injectors", slot="injectors", fits="E1", rating="16,5g/s@100", evidence="maker sheet"),
            _row(no="M-3", part="HP pump", slot="HP pump", fits="E1", note="0.235 cm³ per stroke"),
            _row(no="M-4", part="throttle", slot="throttle", fits="E1", rating="27 psi", evidence="3 failures seen"),
            _row(no="M-5", part="sensor", slot="pressure sensor", fits="E1", rating="3 bar", evidence="maker sheet"),
            _row(no="M-6", part="controller", slot="pump controller", fits="E1", rating="25\u00a0A", evidence="maker sheet", lead="2-3 wk", stock="1 (used)"),
            _row(no="M-7", part="plate", slot="controller heat plate", fits="E1", rating="\u221218 K", evidence="own test", lead="ex stock"),
            _row(no="M-1 + M-6", part="kit", slot="tank pump", fits="E1"),
            _row(no="M-8", part="plugs", slot="plugs", fits="E1", rating="as M-9 but colder", evidence="own dyno"),
            _row(no="M-9 (M-0)", part="plugs", slot="plugs", fits="E1", rating="0,75 mm", evidence="own dyno"),
            _row(no="Subtotal", price=3026),
        ]
    )  # fmt: skip
    book = read_book([write("messy.xlsx", table)])
    conserve(book)
    assert [f"{p.column}{p.row}" for p in book.problems] == [
        "F3", "F4", "F5", "F6", "F7", "P8", "F9", "A10", "F11", "A12",
    ]  # fmt: skip
    assert [p.id for p in book.parts] == ["M-1", "M-2", "M-3", "M-4", "M-5", "M-7", "M-8"]
    assert book.parts[0].price == 1234.5
