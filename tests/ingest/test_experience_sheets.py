"""Sheets of hours and findings: the demo's load without a defect, and each defect is named at its place."""

from __future__ import annotations

from pathlib import Path

import pytest

from ingest.experience import FINDINGS, FINDINGS_COLUMNS, HOURS, HOURS_COLUMNS, read_experience
from ingest.problem import UnreadableFile

SEED = Path(__file__).resolve().parents[2] / "seed_parts" / "labour"


def sheet(folder: Path, name: str, columns: tuple[str, ...], *rows: str) -> None:
    (folder / name).write_text("\n".join([";".join((*columns, "Source")), *rows]) + "\n", encoding="utf-8")


def test_sheets_of_the_demo_shop_load_without_a_defect() -> None:
    book = read_experience(SEED)
    assert book.problems == []
    bolts = next(s for s in book.experience.surprises if s.key == "exhaust-bolts")
    # As the sheet says: 0,8; 2; 5 hours, 25 of 100, with a turbocharger, a manifold or a catalyst.
    assert (bolts.labour.low, bolts.labour.usual, bolts.labour.high) == pytest.approx((2880.0, 7200.0, 18000.0))
    assert bolts.probability == pytest.approx(0.25)
    assert bolts.jobs == {"compressor", "exhaust_manifold", "catalyst"}


def test_folder_without_sheets_knows_nothing(tmp_path: Path) -> None:
    book = read_experience(tmp_path)
    assert (book.experience.times, book.experience.surprises, book.problems) == ((), (), [])


@pytest.mark.parametrize(
    ("row", "column"),
    [
        ("flux;1;2;3;x", "A"),
        (";1;2;3;x", "A"),
        ("valves;two;2;3;x", "B"),
        ("valves;3;2;1;x", "B"),
        ("valves;1;2;900;x", "D"),
        ("valves;0;2;3;x", "B"),
        ("valves;1;2", "D"),
    ],
)
def test_defect_in_the_hours_is_named_and_the_other_row_loads(tmp_path: Path, row: str, column: str) -> None:
    sheet(tmp_path, HOURS, HOURS_COLUMNS, row, "PY-2120;4;4,5;6;x")
    book = read_experience(tmp_path)
    assert [(p.row, p.column) for p in book.problems] == [(2, column)]
    assert [t.job for t in book.experience.times] == ["PY-2120"]
    assert book.experience.times[0].labour.usual == pytest.approx(4.5 * 3600.0)


@pytest.mark.parametrize(
    ("row", "column"),
    [
        ("a;text;valves;;0;1;2;3;1;2;3;x", "E"),
        ("a;text;valves;;120;1;2;3;1;2;3;x", "E"),
        ("a;;valves;;20;1;2;3;1;2;3;x", "B"),
        ("a;text;;;20;1;2;3;1;2;3;x", "C"),
        ("a;text;valves;flux;20;1;2;3;1;2;3;x", "D"),
        ("a;text;valves;;20;1;2;3;-1;2;3;x", "I"),
    ],
)
def test_defect_in_the_findings_is_named(tmp_path: Path, row: str, column: str) -> None:
    sheet(tmp_path, FINDINGS, FINDINGS_COLUMNS, row)
    assert [(p.row, p.column) for p in read_experience(tmp_path).problems] == [(2, column)]


def test_finding_may_add_work_alone_or_parts_alone(tmp_path: Path) -> None:
    rows = ("a;text;valves;;20;1;2;3;0;0;0;x", "b;text;valves;;20;0;0;0;10;20;30;x")
    sheet(tmp_path, FINDINGS, FINDINGS_COLUMNS, *rows)
    book = read_experience(tmp_path)
    assert book.problems == []
    assert [s.parts.usual for s in book.experience.surprises] == [0.0, 20.0]


def test_missing_column_is_named(tmp_path: Path) -> None:
    sheet(tmp_path, HOURS, HOURS_COLUMNS[:3], "valves;1;2")
    with pytest.raises(UnreadableFile, match="High h"):
        read_experience(tmp_path)
