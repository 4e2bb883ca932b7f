"""The demo shop's parts book as people leave it lying about: 22 kinds of defect at once, each found at its own cell.

The clean rows are the demo shop's own sheets; what each defect is, and the cell where it stands, is written here by
hand. The second half puts each right in the annotated copy, which must then load without a single question.
"""

from __future__ import annotations

import datetime
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import pytest
from openpyxl import Workbook, load_workbook
from openpyxl.comments import Comment
from openpyxl.styles import Font, PatternFill

from graph.model import Part
from ingest.annotate import write_annotated
from ingest.book import Book, read_book
from ingest.table import read_workbook

SEED = Path(__file__).resolve().parents[2] / "seed_parts"
SHEETS = ("parts-fuel.ods", "parts.xlsx", "parts-exhaust.csv")
HEAD = (
    "No.", "Part", "Slot", "Fits", "Rating of", "Rating", "Unit", "Condition", "Meaning", "Evidence", "Date", "±",
    "Price net", "Labour", "Lead", "Stock", "Requires", "Interfaces", "Note",
)  # fmt: skip
UNITS = {"±": "%", "Price net": "EUR", "Labour": "h", "Lead": "days"}
COLUMN = dict(zip(HEAD, "ABCDEFGHIJKLMNOPQRS", strict=True))
RED = PatternFill("solid", fgColor="FFFF5050")
Record = dict[str, Any]


def clean_rows() -> list[Record]:
    found: list[Record] = []
    for name in SHEETS:
        for sheet in read_workbook(SEED / name).sheets:
            header, *rows = sheet.rows
            assert len(header.cells) == len(HEAD)
            found += [dict(zip(HEAD, (cell.value for cell in row.cells), strict=False)) for row in rows]
    return found


@dataclass
class Twin:
    """The messy workbook, the cells that must be asked about, and what a parts-keeper answers."""

    path: Path
    rows: list[Record]
    sheet: Any
    defects: dict[int, dict[str, str]] = field(default_factory=dict)
    remedies: list[tuple[str, Any]] = field(default_factory=list)

    def row(self, number: str, of: str | None = None, nth: int = 0) -> int:
        found = [i for i, r in enumerate(self.rows, start=4)
                 if r.get("No.") == number and (of is None or r.get("Rating of") == of)]  # fmt: skip
        return found[nth]

    def cell(self, row: int, column: str) -> Any:
        return self.sheet[f"{COLUMN[column]}{row}"]

    def put(self, row: int, **values: Any) -> None:
        for column, value in values.items():
            self.cell(row, column.replace("_", " ")).value = value

    def expect(self, defect: int, row: int, column: str, word: str) -> None:
        self.defects.setdefault(defect, {})[f"{COLUMN[column]}{row}"] = word

    def remedy(self, row: int, **values: Any) -> None:
        self.remedies += [(f"{COLUMN[column.replace('_', ' ')]}{row}", value) for column, value in values.items()]

    def clear(self, row: int) -> None:
        self.remedies += [(f"{letter}{row}", None) for letter in COLUMN.values()]


def _insert(rows: list[Record], after: str, record: Record) -> None:
    last = max(i for i, r in enumerate(rows) if r.get("No.") == after)
    rows.insert(last + 1, record)


def _extra_rows() -> list[Record]:
    rows = clean_rows()
    again = next(r for r in rows if r["No."] == "PY-1110")
    _insert(rows, "PY-1110", {**again, "Price net": 205})
    _insert(rows, "PY-1111", {
        "No.": "PY-1111", "Rating of": "flow", "Rating": 395, "Unit": "L/h", "Evidence": "estimate",
        "Condition": "pressure 3 bar; voltage 12 V", "Date": datetime.datetime(2026, 3, 1), "±": 15,
    })  # fmt: skip
    _insert(rows, "PY-1126", {"No.": "PY-1112 + PY-1113", "Part": "controller and wiring", "Slot": "pump controller",
                              "Fits": "HM20-D4", "Price net": 260})  # fmt: skip
    rows.append({"No.": "Subtotal", "Price net": 14740})
    rows += [
        {},
        {"No.": "Labour rates", "Part": "EUR/h"},
        {"No.": "mechanic", "Part": 95},
        {"No.": "dyno", "Part": 140},
    ]
    return rows


@pytest.fixture
def twin(tmp_path: Path) -> Twin:
    book = Workbook()
    sheet = book.active
    sheet.title = "Parts"
    sheet["A1"] = "Parts book, copy of spring (2)"
    for column, letter in COLUMN.items():
        sheet[f"{letter}2"] = column
        sheet[f"{letter}3"] = UNITS.get(column)
    rows = _extra_rows()
    for number, record in enumerate(rows, start=4):
        for column, value in record.items():
            cell = sheet[f"{COLUMN[column]}{number}"]
            cell.value = value
            if isinstance(value, str):
                cell.data_type = "s"
    twin = Twin(path=tmp_path / "shop book.xlsx", rows=rows, sheet=sheet)
    _spoil_numbers(twin)
    _spoil_amounts(twin)
    _spoil_sheet(twin)
    book.save(twin.path)
    return twin


def _spoil_numbers(t: Twin) -> None:
    """Defects of ratings: 4 to 8, 15, 17 and 20."""
    row = t.row("PY-1120", "static flow")
    t.put(row, Rating="16,5g/s@100", Unit=None, Condition=None)
    t.expect(4, row, "Rating", "pressure")
    t.remedy(row, Rating="16,5g/s@100 bar; n-heptane")
    row = t.row("PY-1115", "displacement")
    t.put(row, Rating=None, Unit=None, Note="lifts 0.235 cm³/stroke on the rig")
    t.expect(5, row, "Rating", "the note says '0.235 cm³/stroke'")
    t.remedy(row, Rating="0.235 cm³/stroke", Note=None)
    row = t.row("PY-2113", "choke flow")
    curve = t.cell(row, "Rating").value
    t.put(row, Rating="400hp wheel?", Unit=None)
    t.expect(6, row, "Rating", "hp")
    t.remedy(row, Rating=curve, Unit="g/s")
    for number, said, answer in (("PY-2016", "27 psi", "27 psi gauge"), ("PY-2018", "3 bar", "3 bar abs")):
        row = t.row(number)
        t.put(row, Rating=said, Unit=None)
        t.expect(7, row, "Rating", "neither abs nor gauge")
        t.remedy(row, Rating=answer)
    row = t.row("PY-1111", "flow", 1)
    first = t.row("PY-1111", "flow")
    t.expect(8, row, "Rating", f"row {first}, column 'Rating' (F)")
    t.clear(row)
    row = t.row("PY-1121", "flow")
    t.put(row, Rating=datetime.datetime(2026, 5, 12))
    t.expect(15, row, "Rating", "date")
    t.remedy(row, Rating=118)
    row = t.row("PY-1119")
    t.put(row, Rating="\N{MINUS SIGN}18", Part="controller\u00a0heat plate")
    t.expect(17, row, "Rating", "-18")
    t.remedy(row, Rating=18)
    row = t.row("PY-4110", "gap")
    t.put(row, Rating="as PY-4010 but colder", Unit=None)
    t.expect(20, row, "Rating", "as PY-4010 but colder")
    t.remedy(row, Rating=0.6, Unit="mm")


def _spoil_amounts(t: Twin) -> None:
    """Defects of price, lead time, stock and fit: 2, 3, 12 to 14 and 16."""
    t.put(t.row("PY-2113", "choke flow"), Price_net="1.234,5")
    row = t.row("PY-2114", "choke flow")
    t.put(row, Price_net="2.140")
    t.expect(2, row, "Price net", "2140 or 2.14")
    t.remedy(row, Price_net=2140)
    row = t.row("PY-1110", "flow", 1)
    t.expect(3, row, "Price net", "188")
    t.clear(row)
    t.put(t.row("PY-1116", "displacement"), Lead="2-3 wk")
    t.put(t.row("PY-1117"), Lead="ex stock")
    row = t.row("PY-1118")
    t.put(row, Lead="call")
    t.expect(12, row, "Lead", "call")
    t.remedy(row, Lead=12)
    row = t.row("PY-2112")
    t.put(row, Stock="1 (used)")
    t.expect(13, row, "Stock", "1 (used)")
    t.remedy(row, Stock=1)
    gross = {"PY-1112": "258 gross", "PY-1113": 74.4, "PY-1114": 69.6}
    for number, price in gross.items():
        row = t.row(number)
        t.put(row, Price_net=price)
        t.expect(14, row, "Price net", "with tax")
        t.remedy(row, Price_net=round(float(str(price).split()[0]) / 1.2, 2))
    t.cell(t.row("PY-1113"), "Price net").comment = Comment("incl. VAT", "parts desk")
    row = t.row("PY-1114")
    t.put(row, Note="stands E85, price gross")
    t.remedy(row, Note="stands E85")
    for number, said, answer in (("PY-2119", "all 20T", "HM20-D4"), ("PY-5110", "HM6 only", "HM6")):
        row = t.row(number)
        t.put(row, Fits=said)
        t.expect(16, row, "Fits", said)
        t.remedy(row, Fits=answer)


def _spoil_sheet(t: Twin) -> None:
    """Defects of the sheet itself: 9 to 11, 18, 19, 21 and 22."""
    row = t.row("PY-2111")
    for column in ("No.", "Part", "Slot", "Fits", "Rating of", "Rating", "Unit", "Condition", "Evidence", "Date", "±"):
        t.cell(row, column).fill = RED
    t.expect(9, row, "No.", "in red")
    row = t.row("PY-2110")
    for letter in COLUMN.values():
        t.sheet[f"{letter}{row}"].font = Font(strike=True)
    t.expect(9, row, "No.", "struck through")
    row = t.row("PY-1119")
    t.sheet.row_dimensions[row].hidden = True
    t.expect(10, row, "No.", "hidden row (PY-1119)")
    row = t.row("PY-1112 + PY-1113")
    t.expect(11, row, "No.", "kit of 2 parts")
    t.clear(row)
    row = t.row("Labour rates")
    t.expect(19, row, "No.", "second table")
    for number in range(row, row + 3):
        t.clear(number)
    first, second = t.row("PY-7010"), t.row("PY-7110")
    assert second == first + 1
    t.sheet.merge_cells(f"C{first}:C{second}")
    t.expect(21, second, "Slot", f"merged in C{first}:C{second}")
    t.remedy(second, Slot="brakes")
    row = t.row("PY-2115")
    t.put(row, **{"No.": "PY-2115 (PY-2105)"})
    t.expect(22, row, "No.", "PY-2105 in brackets")
    t.remedy(row, **{"No.": "PY-2115"}, Requires="supersedes PY-2105")


def _read(path: Path) -> Book:
    return read_book([path, SEED / "platform.xlsx"])


def test_every_defect_is_found_at_its_cell(twin: Twin, conserve: Callable[[Book], None]) -> None:
    book = _read(twin.path)
    conserve(book)
    said: dict[str, list[str]] = {}
    for problem in book.problems:
        assert problem.file == twin.path.name, problem.sentence
        assert problem.sheet == "Parts"
        said.setdefault(f"{problem.column}{problem.row}", []).append(problem.sentence)
    for defect, cells in twin.defects.items():
        for cell, word in cells.items():
            assert any(word in sentence for sentence in said.get(cell, [])), (defect, cell, word, said.get(cell))
    expected = {cell for cells in twin.defects.values() for cell in cells}
    assert said.keys() == expected, "a question where nothing is wrong"
    # defects 1 and 18 are no question: the rows are named as what they are
    notes = {row.number: (row.outcome, row.note) for row in book.rows if row.sheet == "Parts"}
    assert [notes[n] for n in (1, 2, 3)] == [("not data", n) for n in ("title", "header", "units of the header")]
    assert notes[twin.row("Subtotal")] == ("not data", "a subtotal")
    assert sorted({1, 18, *twin.defects}) == list(range(1, 23))


def test_what_can_be_read_is_read(twin: Twin) -> None:
    parts = {part.id: part for part in _read(twin.path).parts}
    assert parts["PY-2113"].price == 1234.5
    assert parts["PY-1116"].lead_time == 21 * 86400.0
    assert parts["PY-1117"].lead_time == 0.0
    assert parts["PY-1110"].labour == 2 * 3600.0
    assert parts["PY-1119"].name == "controller heat plate"
    flow = parts["PY-1111"].rating("flow")
    assert flow is not None
    assert flow.value == pytest.approx(330e-3 / 3600.0)  # the maker's sheet is stronger than an estimate
    held = {"PY-1112", "PY-1113", "PY-1114", "PY-1118", "PY-2112", "PY-2114", "PY-2115", "PY-7110"}
    clean = {part.id for part in read_book([SEED]).parts}
    assert clean - parts.keys() == held
    assert parts.keys() <= clean


def test_the_corrected_copy_loads_clean(
    twin: Twin, tmp_path: Path, conserve: Callable[[Book], None], nameless: Callable[[Part], Part]
) -> None:
    copy = tmp_path / "annotated.xlsx"
    write_annotated(_read(twin.path), copy)
    workbook = load_workbook(copy)
    for cell, value in twin.remedies:
        workbook["Parts"][cell].value = value
    workbook.save(copy)
    book = read_book([copy])
    assert [p.sentence for p in book.problems] == []
    conserve(book)
    assert all(tally.held == 0 for tally in book.tallies)
    clean = {part.id: nameless(part) for part in read_book([SEED]).parts}
    mended = {part.id: nameless(part) for part in book.parts}
    assert mended.keys() == clean.keys()
    changed = {number for number in clean if _plain(clean[number]) != _plain(mended[number])}
    # 258 / 1.2 is the clean net price, three weeks are the clean 21 days
    assert changed == {"PY-1117", "PY-2016", "PY-2113", "PY-2115"}


def _plain(part: Part) -> Part:
    """A part without the spelling of its numbers."""
    return replace(part, ratings=tuple(replace(r, text="") for r in part.ratings))
