"""Sheets of faults, signs and inspections: what they give, and where each defect is."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from graph.errors import UsageError
from ingest.problem import UnreadableFile
from ingest.symptom import COUNTS, FAULTS, INSPECTIONS, SIGNS, find_sign, read_knowledge

SEED = Path(__file__).resolve().parents[2] / "seed_parts" / "knowledge"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    shutil.copytree(SEED, tmp_path / "knowledge")
    return tmp_path / "knowledge"


def change(path: Path, old: str, new: str) -> None:
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


def test_demo_knowledge_is_whole() -> None:
    book = read_knowledge(SEED)
    assert book.problems == []
    known = book.knowledge
    assert len(known.faults) == 41
    assert len([s for s in known.signs if s.leak == 0.05]) == 24
    signs, faults = {s.id for s in known.signs}, {f.id for f in known.faults}
    assert all(set(i.signs) <= signs for i in known.inspections)
    assert all(set(f.chances) <= signs for f in known.faults)
    assert len(faults) == 41
    assert all(x.evidence == "expert judgement" for x in (*known.faults, *known.signs, *known.inspections))
    settled = {s for i in known.inspections for s in i.signs}
    reached = {f.id for f in known.faults if settled & set(f.chances)}
    assert len(reached) >= 36  # nearly every fault can be looked for


@pytest.mark.parametrize(
    ("file", "old", "new", "expected", "row"),
    [
        (
            FAULTS,
            "tank-pump-worn,tank pump worn,tank pump,1,5",
            "tank-pump-worn,tank pump worn,tank pump,1,x",
            "'x'",
            3,
        ),
        (
            FAULTS,
            "tank-pump-worn,tank pump worn,tank pump,1,5",
            "tank-pump-worn,tank pump worn,tank pump,1,95",
            "95",
            3,
        ),
        (FAULTS, "tank-pump-worn,", "tank-pump-small,", "a key of its own", 3),
        (FAULTS, ",low-side-falls,", ",low-side-fails,", "'low-side-fails'", 1),
        (SIGNS, "low-side-falls,", "rail-low-at-torque-peak,", "a key of its own", 4),
        (INSPECTIONS, "fuel-pickup-dry 80", "fuel-pickup-dry", "faults with their chances", 3),
        (INSPECTIONS, "fuel-pickup-dry 80", "fuel-pickup-wet 80", "'fuel-pickup-wet'", 3),
        (INSPECTIONS, "smell it,3,", "smell it,soon,", "'soon'", 2),
    ],
)
def test_each_defect_is_placed(folder: Path, file: str, old: str, new: str, expected: str, row: int) -> None:
    change(folder / file, old, new)
    problems = read_knowledge(folder).problems
    assert any(p.file == file and p.row == row and expected in p.sentence for p in problems), [
        p.sentence for p in problems
    ]


def test_counts_of_the_shop_move_the_priors(folder: Path) -> None:
    before = {f.id: f.prior for f in read_knowledge(folder).knowledge.faults}
    (folder / COUNTS).write_text(
        "fault,sign,hits,cars\nplugs-worn,,60,200\nplugs-worn,noise,9,10\nnothing,,1,2\nplugs-worn,,7,5\n",
        encoding="utf-8",
    )
    book = read_knowledge(folder)
    after = {f.id: f for f in book.knowledge.faults}
    assert before["plugs-worn"] < after["plugs-worn"].prior < 0.30  # between the judged 12 and the counted 30 %
    assert after["plugs-worn"].chances["noise"] > 0.2
    assert "own count 60 of 200" in after["plugs-worn"].evidence
    assert after["coil-weak"].prior == before["coil-weak"]
    assert [p.row for p in book.problems] == [4, 5]


def test_missing_sheet_and_missing_column_are_refused(folder: Path) -> None:
    change(folder / SIGNS, "without a fault %", "leak")
    with pytest.raises(UnreadableFile, match=r"no column .without a fault %."):
        read_knowledge(folder)
    (folder / SIGNS).unlink()
    with pytest.raises(UnreadableFile, match="no such file"):
        read_knowledge(folder)


def test_word_that_is_no_sign_is_refused_with_the_nearest() -> None:
    known = read_knowledge(SEED).knowledge
    with pytest.raises(UsageError, match=r"nearest: .*misfire-high-boost"):
        find_sign("misfirre", known)
    with pytest.raises(UsageError, match="several signs fit"):
        find_sign("rail pressure", known)
