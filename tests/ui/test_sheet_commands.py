"""Blank sheets, loads, differences and restoring from the command line: a shop changes one price and takes it back."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import click
import pytest
from click.testing import CliRunner
from openpyxl import Workbook

from graph.model import Condition, Evidence, EvidenceKind, Part, Rating
from graph.store.statement import changes
from ui.cli import main
from ui.rating_text import rating_text

HEAD = ("No.", "Part", "Slot", "Fits", "Rating of", "Rating", "Unit", "Evidence", "Date", "± %", "Price net EUR")
ROW = ("PY-9001", "test controller", "pump controller", "HM20-D4", "current", 18, "A", "maker sheet", "2026-04-01", 8)


@pytest.fixture
def program(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> click.Group:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    return main


def run(program: click.Group, tmp_path: Path, *arguments: str, code: int = 0) -> str:
    result = CliRunner().invoke(program, ["--db", f"sqlite:///{tmp_path}/shop.sqlite", *arguments])
    assert result.exit_code == code, result.output
    return result.stdout


def asked(program: click.Group, tmp_path: Path, *arguments: str) -> Any:
    return json.loads(run(program, tmp_path, "--json", *arguments))


def load(program: click.Group, tmp_path: Path, price: float) -> None:
    book = Workbook()
    book.active.append(HEAD)
    book.active.append((*ROW, price))
    book.save(tmp_path / "parts.xlsx")
    run(program, tmp_path, "load", str(tmp_path / "parts.xlsx"))


def test_a_price_changes_and_comes_back(program: click.Group, tmp_path: Path) -> None:
    assert "Nothing was loaded yet" in run(program, tmp_path, "loads")
    load(program, tmp_path, 188)
    load(program, tmp_path, 205)
    listed = asked(program, tmp_path, "loads")["loads"]
    assert [row["file"] for row in listed] == ["parts.xlsx", "parts.xlsx"]
    first, second = (str(row["load"]) for row in listed)
    (change,) = asked(program, tmp_path, "difference", first, second)["parts"]
    assert change["fields"] == [{"field": "price", "before": "188 EUR", "after": "205 EUR"}]
    text = run(program, tmp_path, "difference", first, second)
    assert "price: 188 EUR -> 205 EUR" in text
    assert "No part differs" in run(program, tmp_path, "difference", first, first)
    restored = asked(program, tmp_path, "restore", "PY-9001", "1")["load"]
    assert asked(program, tmp_path, "difference", first, str(restored))["parts"] == []
    history = asked(program, tmp_path, "revisions", "PY-9001")["revisions"]
    assert [row["revision"] for row in history] == [1, 2, 3]
    assert "load" in run(program, tmp_path, "revisions", "PY-9001")


def test_a_change_is_told_in_the_units_of_the_shop() -> None:
    def coils(text: str, gap: float) -> Part:
        bench = Evidence(kind=EvidenceKind.OWN_BENCH, source="own.csv")
        at = (Condition(name="gap", value=gap),)
        rating = Rating(name="energy", value=0.08, text=text, conditions=at, evidence=bench)
        return Part(id="S-1", kind="coils", name="coils", fits=("K1",), ratings=(rating,))

    # 0.6 mm are 0.0006 m, 80 mJ are 0.08 J; where a sheet's column of units says 1 there is none
    (change,) = changes(coils("", 0.6e-3), coils("0.85 1", 0.7e-3), rating_text)
    assert change.before is not None
    assert change.after is not None
    assert change.before.startswith("80 mJ, gap 0.6 mm, ")
    assert change.after.startswith("0.85, gap 0.7 mm, ")


def test_what_is_not_there_is_one_line(program: click.Group, tmp_path: Path) -> None:
    load(program, tmp_path, 188)
    for arguments in (("difference", "1", "99"), ("restore", "PY-9001", "7"), ("revisions", "PY-0")):
        result = CliRunner().invoke(program, ["--db", f"sqlite:///{tmp_path}/shop.sqlite", *arguments])
        assert result.exit_code != 0
        assert result.stderr.startswith("pinchpoint: ")
        assert len(result.stderr.splitlines()) == 1


def test_a_blank_sheet_is_written_once(program: click.Group, tmp_path: Path) -> None:
    out = tmp_path / "pumps.xlsx"
    assert "pinchpoint load" in run(program, tmp_path, "template", "tank pump", "--out", str(out))
    assert out.exists()
    result = CliRunner().invoke(program, ["template", "tank pump", "--out", str(out)])
    assert result.exit_code == 2
    assert "exists" in result.stderr
