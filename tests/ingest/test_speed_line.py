"""The sheet of a compressor map: points become ratings of the part, and each defect is named by its row and column.

The map is invented: ratio 1 + a N^2 level with the flow but for a straight fall, so that expected values follow by hand.
"""

from __future__ import annotations

import pytest
from openpyxl import load_workbook

from graph.model import Curve
from ingest.book import read_book
from ingest.template import write_template

HEAD = ("No.", "Wheel speed (1/min)", "Flow (g/s)", "Pressure ratio", "Efficiency (%)", "Reference temperature",
        "Reference pressure", "Surge line", "Evidence")  # fmt: skip
STATE = ("298 K", "100 kPa", "hard", "maker map")
PARTS = (
    ("No.", "Part", "Slot", "Fits", "Rating of", "Rating", "Unit", "Evidence"),
    ("PY-9001", "sample turbocharger", "compressor", "HM20-D4", None, None, None, None),
    ("PY-9002", "sample pipe", "charge pipe", "HM20-D4", "boost", 2.0, "bar gauge", "pressure test"),
)
POINTS = (
    (90000, 40, 1.5, 66), (90000, 80, 1.45, 72), (90000, 110, 1.2, 60),
    (120000, 70, 2.0, 68), (120000, 130, 1.9, 75), (120000, 170, 1.5, 62),
    (150000, 100, 2.8, 67), (150000, 180, 2.6, 73), (150000, 230, 1.9, 60),
)  # fmt: skip


def rows(points=POINTS, state=STATE, number="PY-9001"):
    first, *rest = points
    return [HEAD, (number, *first, *state), *((number, *p, None, None, None, None) for p in rest)]


def loaded(write, ending, points=POINTS, state=STATE, number="PY-9001"):
    return read_book(
        [write(f"parts{ending}", {"Parts": PARTS}), write(f"map{ending}", {"Map": rows(points, state, number)})]
    )


def part_of(book):
    return next(p for p in book.parts if p.id == "PY-9001")


def test_the_blank_sheet_of_a_compressor_takes_a_map(tmp_path):
    path = write_template("compressor", tmp_path / "compressor.xlsx")
    book = load_workbook(path)
    assert [c.value for c in book["Map"][1]][:9] == list(HEAD)
    book["Parts"].append([*PARTS[1][:2], None, *PARTS[1][2:4]])
    for row in rows()[1:]:
        book["Map"].append(row)
    book.save(filled := tmp_path / "filled.xlsx")
    loaded = read_book([filled])
    assert [p.sentence for p in loaded.problems] == []
    assert part_of(loaded).rating("speed line flow").value.y == pytest.approx([m / 1e3 for _, m, *_ in POINTS])


@pytest.mark.parametrize("ending", [".csv", ".xlsx", ".ods"])
def test_points_become_ratings_of_the_part(write, ending):
    book = loaded(write, ending)
    assert [p.sentence for p in book.problems] == []
    part = part_of(book)
    speed, flow = part.rating("speed line speed").value, part.rating("speed line flow")
    assert isinstance(speed, Curve)
    assert speed.y == pytest.approx([n / 60.0 for n, *_ in POINTS])
    assert flow.value.y == pytest.approx([m / 1e3 for _, m, *_ in POINTS])
    assert part.rating("speed line pressure ratio").value.y == pytest.approx([r for _, _, r, _ in POINTS])
    assert part.rating("speed line efficiency").value.y == pytest.approx([e / 100.0 for *_, e in POINTS])
    assert flow.condition("reference temperature") == pytest.approx(298.0)
    assert flow.condition("reference pressure") == pytest.approx(1.0e5)
    assert flow.condition("surge") == "hard"
    assert flow.evidence.source.startswith(f"map{ending}")
    assert "row 2" in flow.evidence.source


def test_the_envelope_follows_from_the_lines(write):
    part = part_of(loaded(write, ".csv"))
    # The last line ends at 230 g/s and ratio 1.9; half way up to its middle point, ratio 2.25, it passes 205 g/s.
    choke = part.rating("choke flow").value
    assert choke.y[0] == pytest.approx(0.230)
    assert max(choke.y) == pytest.approx(0.230)
    assert part.rating("pressure ratio").value == pytest.approx(2.8)
    # The surge line runs from 40 g/s at 1.5 over 70 g/s at 2.0: 55 g/s at 1.75.
    surge = part.rating("surge flow").value
    assert surge.y[0] == pytest.approx(0.040)
    assert all(a <= b for a, b in zip(surge.y, surge.y[1:], strict=False))


def test_a_ratio_of_three_decimals_has_one_reading(write):
    points = [(n, m, f"{r:.3f}".replace(".", ","), e) for n, m, r, e in POINTS]
    part = part_of(loaded(write, ".csv", points))
    assert part.rating("speed line pressure ratio").value.y == pytest.approx([r for _, _, r, _ in POINTS])


def test_an_envelope_that_the_part_states_stands(write):
    parts = (
        *PARTS[:1],
        ("PY-9001", "sample turbocharger", "compressor", "HM20-D4", "pressure ratio", 2.6, None, "maker sheet"),
        *PARTS[2:],
    )
    book = read_book([write("parts.csv", {"Parts": parts}), write("map.csv", {"Map": rows()})])
    assert part_of(book).rating("pressure ratio").value == pytest.approx(2.6)


def crossing():
    """The line of 120 000 1/min crosses that of 150 000: its last point stands at 170 g/s and ratio 2.9."""
    return [(n, m, 2.9 if (n, m) == (120000, 170) else r, e) for n, m, r, e in POINTS]


@pytest.mark.parametrize(
    ("points", "state", "number", "words"),
    [
        (crossing(), STATE, "PY-9001", ("cross", "120000", "150000")),
        (POINTS, ("", "100 kPa", "hard", "maker map"), "PY-9001", ("reference temperature",)),
        (POINTS, ("298 K", "", "hard", "maker map"), "PY-9001", ("reference pressure",)),
        (POINTS, ("298 K", "100 kPa", "somewhere", "maker map"), "PY-9001", ("soft",)),
        (POINTS, ("298 K", "100 kPa", "hard", "rumour"), "PY-9001", ("how the map is known",)),
        (POINTS[:6], STATE, "PY-9001", ("3 or more",)),
        (POINTS, STATE, "PY-9002", ("charge pipe",)),
        (POINTS, STATE, "PY-9009", ("no part of these sheets",)),
        ([(n, m, 9.4 if m == 100 else r, e) for n, m, r, e in POINTS], STATE, "PY-9001", ("pressure ratio",)),
    ],
)
def test_a_map_that_cannot_be_one_is_refused_with_a_sentence(write, points, state, number, words):
    book = loaded(write, ".csv", points, state, number)
    told = [p for p in book.problems if p.file == "map.csv"]
    assert told
    assert all(any(word in p.sentence for p in told) for word in words)
    assert all(not r.name.startswith("speed line") for p in book.parts for r in p.ratings)
    tally = next(t for t in book.tallies if t.file == "map.csv")
    assert tally.rows == tally.loaded + tally.held + tally.not_data
    assert tally.loaded == 0


def test_a_point_with_a_defect_holds_the_map(write):
    points = [(n, "?" if m == 130 else m, r, e) for n, m, r, e in POINTS]
    book = loaded(write, ".csv", points)
    assert [(p.row, p.column) for p in book.problems if p.file == "map.csv"] == [(6, "C")]
    assert part_of(book).rating("speed line flow") is None
