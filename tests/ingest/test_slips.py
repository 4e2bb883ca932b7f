"""Slips of the pen in the demo shop's parts book: a seeded hail of wrong units, factors of ten and wrong columns.

Each trial spoils one row of the clean book in one way; a slip counts as caught where the row that holds it is asked
about. A unit that changes the value by less than a factor of two is left out: 430 N·m and 430 lb·ft are both clutches,
and nobody could tell. The clean book is the other half of the bargain: it must raise no question at all.
"""

from __future__ import annotations

import csv
import random
import re
from collections import Counter
from pathlib import Path
from typing import Any

import pytest

from graph.limit import RatingSpec
from graph.quantity import Quantity
from graph.service import find_kind
from ingest.book import read_book
from ingest.problem import UnreadableValue
from ingest.table import read_workbook
from ingest.unit_list import UNITS
from ingest.units import parse_quantity
from ingest.vocabulary import plain_word

SEED = Path(__file__).resolve().parents[2] / "seed_parts"
SHEETS = ("parts-fuel.ods", "parts.xlsx", "parts-exhaust.csv")
TRIALS = 500
Record = dict[str, str]
#: Columns into which the number of a rating may slip, with what they hold trading places.
COLUMNS = (
    "Rating of",
    "Unit",
    "Condition",
    "Evidence",
    "Date",
    "± %",
    "No.",
    "Part",
    "Slot",
    "Fits",
    "Meaning",
    "Note",
)


def _parts() -> list[list[Record]]:
    """Rows of the clean book, part by part, as text."""
    parts: dict[str, list[Record]] = {}
    for name in SHEETS:
        for sheet in read_workbook(SEED / name).sheets:
            head = [cell.text for cell in sheet.rows[0].cells]
            for row in sheet.rows[1:]:
                record = dict.fromkeys(head, "")
                record.update(zip(head, (cell.text for cell in row.cells), strict=False))
                parts.setdefault(record["No."], []).append(record)
    return list(parts.values())


def _spec(part: list[Record], row: Record) -> RatingSpec:
    kind = find_kind(plain_word(part[0]["Slot"]))
    named = [r for r in kind.ratings if r.name == row["Rating of"]]
    return (named or [r for r in kind.ratings if r.required] or list(kind.ratings))[0]


def _other_units(row: Record, quantity: Quantity) -> list[str]:
    """Units of the quantity that change the value at least by a factor of two; for a temperature any other unit."""
    unit, _, reference = row["Unit"].partition(" ")
    probe = "1"
    here = parse_quantity(f"{probe} {row['Unit']}", quantity).value
    found = []
    for other in UNITS[quantity]:
        label = f"{other.label} {reference}".strip()
        try:
            there = parse_quantity(f"{probe} {label}", quantity).value
        except UnreadableValue:
            continue
        if other.label != unit and (quantity is Quantity.TEMPERATURE or not 0.5 < there / here < 2.0):
            found.append(label)
    return found


def _tenfold(text: str, dice: random.Random) -> str:
    """One number of the text times ten or divided by ten: of a curve one of its values."""
    numbers = list(re.finditer(r"(?<![\w.,])-?\d+(?:[.,]\d+)?(?:e[+-]?\d+)?(?=$|;)", text))
    match = dice.choice(numbers)
    value = float(match[0].replace(",", ".")) * dice.choice((0.1, 10.0))
    return f"{text[: match.start()]}{value:.9g}{text[match.end() :]}"


def _spoiled(part: list[Record], at: int, slip: str, dice: random.Random) -> list[Record] | None:
    """The part's rows with one slip in one row; None where this slip cannot be made there."""
    rows = [dict(row) for row in part]
    row = rows[at]
    if slip == "unit":
        units = _other_units(row, _spec(part, row).quantity) if row["Unit"] not in ("", "1") else []
        if not units:
            return None
        row["Unit"] = dice.choice(units)
    elif slip == "ten":
        row["Rating"] = _tenfold(row["Rating"], dice)
        if row["Rating"] == part[at]["Rating"] or float(_first(part[at]["Rating"])) == 0.0:
            return None
    else:
        column = dice.choice(COLUMNS)
        if column in ("No.", "Part", "Slot", "Fits", "Note") and at:
            return None
        row["Rating"], row[column] = row[column], row["Rating"]
    return rows


def _first(text: str) -> str:
    return re.split(r"[;:]", text)[0].replace(",", ".").split()[0]


def _write(path: Path, rows: list[Record]) -> Path:
    with path.open("w", newline="", encoding="utf-8") as stream:
        writer = csv.DictWriter(stream, list(rows[0]), delimiter=";")
        writer.writeheader()
        writer.writerows(rows)
    return path


class Kept:
    """A view that reads the demo shop once."""

    def __init__(self, shop: Any) -> None:
        self._parts, self._platforms = shop.parts(), shop.platforms()

    def parts(self) -> Any:
        return self._parts

    def platforms(self) -> Any:
        return self._platforms


@pytest.fixture
def known(shop: Any) -> Any:
    return Kept(shop)


def test_slips_are_caught(known: Any, tmp_path: Path) -> None:
    dice = random.Random(20260401)
    rated = [(part, at) for part in _parts() for at, row in enumerate(part) if row["Rating"]]
    tried: Counter[str] = Counter()
    missed: list[str] = []
    path = tmp_path / "slip.csv"
    while sum(tried.values()) < TRIALS:
        part, at = dice.choice(rated)
        slip = ("unit", "ten", "column")[sum(tried.values()) % 3]
        rows = _spoiled(part, at, slip, dice)
        if rows is None:
            continue
        tried[slip] += 1
        book = read_book([_write(path, rows)], known=known)
        if not any(problem.row == at + 2 for problem in book.problems):
            before, after = part[at], rows[at]
            changes = [f"{c}: {before[c]!r} -> {after[c]!r}" for c in before if before[c] != after[c]]
            missed.append(f"{slip}: {before['No.']} {before['Rating of']}: {', '.join(changes)}")
    share = 1.0 - len(missed) / TRIALS
    assert share >= 0.95, f"{share:.1%} of {dict(tried)} caught; missed:\n" + "\n".join(missed)


@pytest.mark.parametrize("number", range(3))
def test_the_clean_book_raises_no_question(known: Any, tmp_path: Path, number: int) -> None:
    assert read_book([SEED]).problems == []
    for part in _parts()[number::3]:
        book = read_book([_write(tmp_path / "clean.csv", part)], known=known)
        assert [problem.sentence for problem in book.problems] == []
        assert len(book.parts) == 1
