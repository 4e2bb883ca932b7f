"""Cells that were read before are remembered. Whatever a sheet holds, the book is the one that reads every cell anew."""

from __future__ import annotations

import csv
import random
from dataclasses import fields
from pathlib import Path
from typing import Any

import pytest

from ingest import line
from ingest.book import read_book

HEAD = ("No.", "Part", "Slot", "Fits", "Rating of", "Rating", "Unit", "Condition", "Meaning", "Evidence", "Date", "± %",
        "Price net EUR", "Labour h", "Lead days", "Stock", "Requires", "Interfaces", "Note")  # fmt: skip
#: For each column what a shop writes there, good and bad; few enough that every pair of words meets.
CELLS: dict[str, tuple[str, ...]] = {
    "No.": ("P-1", "P-2", "P-3", "P-4", "P-5", "P-6 (P-5)", "P 7", "", "Subtotal"),
    "Part": ("pump", "factory pump", "pump 330 L/h", ""),
    "Slot": ("tank pump", "charge pipe", "clutch", "intercooler", "nowhere", ""),
    "Fits": ("C1", "C1; C2", ""),
    "Rating of": ("flow", "boost", "torque", "current", "effectiveness", "", "colour"),
    "Rating": ("240", "2.2", "430", "400-450", "450+", "1,200", "tbc", "", "0.7", "12. Mai", "16,5g/s@100", "240 L/h", "30: 0.8; 60: 0.7"),
    "Unit": ("L/h", "bar gauge", "bar", "N·m", "A", "1", "", "furlong"),
    "Condition": ("pressure 5.5 bar; voltage 13.5 V", "5.5 bar, 13.5 V", "temperature 90 °C", "", "moon full", "5.5 bar; 4 bar"),
    "Meaning": ("", "nominal", "survived", "rumour"),
    "Evidence": ("own bench", "EJ + 2 failures", "maker sheet", "", "a friend"),
    "Date": ("2026-01-15", "15.1.2026", "", "3/2/2026"),
    "± %": ("4", "", "12", "80", "x"),
    "Price net EUR": ("188", "1.650,00", "", "call", "265 incl. VAT"),
    "Labour h": ("2", "2-3", "", "2 days"),
    "Lead days": ("4", "ex stock", "", "soon"),
    "Stock": ("3", "", "1 (used)", "-1"),
    "Requires": ("", "P-2; task: lobe check", "with luck", "pump controller current >= 16 A"),
    "Interfaces": ("", "flange: M", "flange"),
    "Note": ("", "price with tax", "lifts 240 L/h"),
}  # fmt: skip


def _write(path: Path, dice: random.Random) -> Path:
    with path.open("w", newline="", encoding="utf-8") as stream:
        writer = csv.writer(stream, delimiter=";")
        for start in range(3):  # three tables under headers of their own, with other units
            writer.writerow([h if start != 1 else h.replace("Labour h", "Labour min") for h in HEAD])
            for _ in range(60):
                # the first words of each column are good: most cells are, as in a book that is in use
                writer.writerow([dice.choice(CELLS[h] if dice.random() < 0.25 else CELLS[h][:2]) for h in HEAD])
            writer.writerow([])
    return path


def _said(book: Any) -> dict[str, Any]:
    return {f.name: getattr(book, f.name) for f in fields(book) if f.name not in ("headers", "sources")}


@pytest.mark.parametrize("seed", range(25))
def test_memory_changes_nothing(seed: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = _write(tmp_path / "mess.csv", random.Random(seed))
    quick = read_book([path])
    assert any(header.clean for _, header in quick.headers["mess.csv"])
    monkeypatch.setattr(line, "MOST_REMEMBERED", 0)
    slow = read_book([path])
    assert not any(header.clean for _, header in slow.headers["mess.csv"])
    assert _said(quick) == _said(slow)
    assert quick.problems
