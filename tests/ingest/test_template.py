"""Blank sheets: empty they load as nothing, filled with their own example they load as one part of the kind."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook

from graph.errors import UnknownName, UsageError
from graph.kinds import discover
from ingest.book import read_book
from ingest.template import HEAD, SAMPLE, SHEET, WORDS, units_of, write_template
from ingest.units import read_unit

KINDS = sorted(discover())


@pytest.mark.parametrize("name", KINDS)
def test_a_blank_sheet_asks_nothing_and_its_example_loads(name: str, tmp_path: Path) -> None:
    kind = discover()[name]
    path = write_template(kind.label, tmp_path / f"{name}.xlsx")
    blank = read_book([path])
    assert [p.sentence for p in blank.problems] == []
    assert blank.parts == []
    book = load_workbook(path)
    for row in book[SAMPLE].iter_rows(min_row=5, values_only=True):
        book[SHEET].append(row)
    filled = tmp_path / f"{name} filled.xlsx"
    book.save(filled)
    loaded = read_book([filled])
    assert [p.sentence for p in loaded.problems] == []
    (part,) = loaded.parts
    assert part.kind == name
    assert {r.name for r in part.ratings} == {spec.name for spec in kind.ratings}


def test_drop_downs_stand_under_their_headers(tmp_path: Path) -> None:
    book = load_workbook(write_template("tank pump", tmp_path / "pump.xlsx"))
    offered: dict[str, list[Any]] = {}
    for choice in book[SHEET].data_validations.dataValidation:
        column = str(choice.sqref)[0]
        source = choice.formula1.removeprefix(f"={WORDS}!").replace("$", "")
        head = book[SHEET][f"{column}1"].value
        offered[head] = [cell.value for (cell,) in book[WORDS][source]]
    assert offered["Rating of"] == ["flow", "current"]
    assert offered["Slot"] == ["tank pump"]
    assert {"L/h", "A"} <= set(offered["Unit"])
    assert "own bench" in offered["Evidence"]
    assert "survived" in offered["Meaning"]
    assert [cell.value for cell in book[SHEET][1]] == list(HEAD)


def test_every_unit_that_is_offered_can_be_read() -> None:
    for kind in discover().values():
        for spec in kind.ratings:
            for unit in units_of(spec):
                read_unit(unit, spec.quantity)


def test_a_sheet_is_never_written_over(tmp_path: Path) -> None:
    path = write_template("rods", tmp_path / "rods.xlsx")
    with pytest.raises(UsageError, match="exists"):
        write_template("rods", path)
    with pytest.raises(UsageError, match="ending"):
        write_template("rods", tmp_path / "rods.ods")
    with pytest.raises(UsageError, match="no folder"):
        write_template("rods", tmp_path / "none" / "rods.xlsx")
    with pytest.raises(UnknownName, match="hose"):
        write_template("hose", tmp_path / "hose.xlsx")
