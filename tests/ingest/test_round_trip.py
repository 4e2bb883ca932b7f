"""Random books: from a workbook into the store, out into a workbook and into a second store, and nothing has changed.

The expected parts are what was drawn: the first store is compared with the drawn numbers in their drawn units, the
second with the first.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from openpyxl import Workbook

from graph.kinds import discover
from graph.limit import RatingSpec
from graph.model import Curve, Part
from graph.quantity import Quantity
from graph.store import open_database
from ingest.book import read_book, store_book
from ingest.parts_sheet import write_workbook
from ingest.sheet import LOADED
from ingest.template import HEAD, scaled, unit_of, units_of
from ingest.units import parse_quantity, read_value

KINDS = sorted(discover())
Row = dict[str, Any]
#: No "?", "(" or digit at the start: a name is a name, not a number with a note.
WORD = st.text("abcdefgxyzÄßéµ=+-&<>'\"ΩЖ漢 0123456789.,/", min_size=1, max_size=20).map(lambda t: " ".join(t.split()))
NAME = st.builds(lambda a, b: f"{a} {b}".strip(), st.sampled_from(["pump", "=SUM(A1)", "-rohr", "+kit", "@home"]), WORD)


def _number(spec: RatingSpec, unit: str, share: float) -> float:
    """A value inside the believable range, in the unit, with four digits."""
    low, high = spec.plausible
    value = low + (high - low) * (0.05 + 0.9 * share)
    if spec.quantity is Quantity.COUNT:
        return round(value)
    return float(f"{scaled(value, spec.quantity, unit):.4g}")


@st.composite
def rating_cells(draw: st.DrawFn, spec: RatingSpec) -> Row:
    unit = draw(st.sampled_from(units_of(spec)))
    shares = st.floats(0.0, 1.0, allow_nan=False)
    if spec.over is None:
        value: Any = _number(spec, unit, draw(shares))
    else:
        across = unit_of(spec.over)
        behind = "" if across == "1" else f" {across}"
        xs = draw(st.lists(st.integers(1, 90), min_size=2, max_size=4, unique=True).map(sorted))
        value = "; ".join(f"{x}{behind}: {_number(spec, unit, draw(shares)):.3g}" for x in xs)
    conditions = []
    for wanted in spec.conditions:
        if wanted.required or draw(st.booleans()):
            if wanted.quantity is None:
                said = draw(st.sampled_from(wanted.words))
            else:
                start = float(wanted.default) if wanted.default is not None else 3.0e5
                said = f"{scaled(start * draw(st.floats(1.0, 1.1)), wanted.quantity, unit_of(wanted.quantity)):.3g} "
                said += unit_of(wanted.quantity)
            conditions.append(f"{wanted.name} {said}")
    return {
        "Rating of": spec.name,
        "Rating": value,
        "Unit": unit,
        "Condition": "; ".join(conditions) or None,
        "Meaning": draw(st.sampled_from([None, "nominal", "survived", "guaranteed minimum"])),
        "Evidence": draw(st.sampled_from(["own bench", "EJ + 2 failures", "maker sheet", "own dyno (3 cars)"])),
        "Date": draw(st.dates(date(1950, 1, 1), date(2099, 12, 31)).map(lambda d: d.isoformat()) | st.none()),
        "± %": draw(st.sampled_from([None, 0, 2.5, 4, 12])),
    }


@st.composite
def books(draw: st.DrawFn) -> list[list[Row]]:
    parts = []
    for index in range(draw(st.integers(1, 5))):
        kind = discover()[draw(st.sampled_from(KINDS))]
        stated = [s for s in kind.ratings if (s.required and s.default is None) or draw(st.booleans())]
        rows: list[Row] = [draw(rating_cells(spec)) for spec in stated] or [{}]
        number = f"T-{index}{draw(st.sampled_from(['', 'A', '.2', '/7', '_x', 'é']))}"
        rows[0] |= {
            "Part": draw(NAME),
            "Maker": draw(st.sampled_from([None, "Vundle", "=Brennick"])),
            "Slot": kind.label,
            "Fits": draw(st.sampled_from(["HM20-D4", "HM20-D4; HM6", "20T"])),
            "Price net EUR": draw(st.none() | st.integers(0, 9000) | st.floats(0.0, 9000.0).map(lambda v: round(v, 2))),
            "Labour h": draw(st.sampled_from([None, 0, 0.3, 2.5, 11])),
            "Lead days": draw(st.sampled_from([None, 0, 3, 21])),
            "Stock": draw(st.sampled_from([None, 0, 1, 12])),
            "Requires": draw(
                st.sampled_from(
                    [
                        None,
                        "PY-1 | PY-2; task: bleed the line",
                        "supersedes X-9; not with Y-1",
                        "pump controller current >= 16 A",
                    ]
                )
            ),
            "Interfaces": draw(st.sampled_from([None, "flange: M", "inlet: 60 mm; outlet: 45 mm"])),
            "Note": draw(st.none() | WORD.filter(bool)),
        }
        parts.append([{"No.": number} | {k: v for k, v in row.items() if v is not None} for row in rows])
    return parts


def _write(parts: list[list[Row]], path: Path) -> Path:
    book = Workbook()
    for column, name in enumerate(HEAD, start=1):
        book.active.cell(row=1, column=column, value=name)
    for number, row in enumerate((row for rows in parts for row in rows), start=2):
        for name, value in row.items():
            cell = book.active.cell(row=number, column=HEAD.index(name) + 1)
            cell.value = value
            if isinstance(value, str):
                cell.data_type = "s"
    book.save(path)
    return path


def _through_store(path: Path, folder: Path) -> Mapping[str, Part]:
    book = read_book([path])
    assert [problem.sentence for problem in book.problems] == []
    assert all(row.outcome == LOADED or row.note == "header" for row in book.rows)
    database = open_database(f"sqlite:///{folder}/{path.stem}.sqlite")
    store_book(database, book, who="test", version="0")
    with database.read() as view:
        parts = {part.id: part for part in view.parts()}
    database.engine.dispose()
    return parts


def _short(value: Any) -> Any:
    """A number to 13 digits: openpyxl writes 16, which may cost the last bit."""
    if isinstance(value, Curve):
        return Curve(x=tuple(map(_short, value.x)), y=tuple(map(_short, value.y)))
    return float(f"{value:.13g}") if isinstance(value, float) else value


def _bare(part: Part) -> Part:
    """A part without the place that it was read from and without the spelling of its numbers."""
    ratings = tuple(
        replace(
            r,
            value=_short(r.value),
            spread=_short(r.spread),
            text="",
            conditions=tuple(replace(c, value=_short(c.value)) for c in r.conditions),
            evidence=replace(r.evidence, source=""),
        )
        for r in part.ratings
    )
    return replace(part, ratings=ratings, source="", labour=_short(part.labour), lead_time=_short(part.lead_time))


@settings(
    max_examples=25,
    deadline=None,
    database=None,
    phases=(Phase.generate,),
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow],
)
@given(books())
def test_nothing_changes_on_the_way(parts: list[list[Row]]) -> None:
    with TemporaryDirectory() as name:
        folder = Path(name)
        first = _through_store(_write(parts, folder / "first.xlsx"), folder)
        write_workbook(first.values(), folder / "second.xlsx")
        second = _through_store(folder / "second.xlsx", folder)
    assert set(first) == {rows[0]["No."] for rows in parts}
    for rows in parts:
        part = first[rows[0]["No."]]
        kind = discover()[part.kind]
        assert part.name == rows[0]["Part"]
        assert part.price == rows[0].get("Price net EUR")
        assert part.stock == rows[0].get("Stock")
        for row in rows:
            if isinstance(row.get("Rating"), float):
                spec = kind.rating(row["Rating of"])
                said = read_value(row["Rating"], spec.quantity, declared_unit=row["Unit"])
                rating = part.rating(spec.name)
                assert rating is not None
                assert rating.value == said.value
    assert {number: _bare(part) for number, part in second.items()} == {n: _bare(p) for n, p in first.items()}


@pytest.mark.parametrize("quantity", [q for q in Quantity if q is not Quantity.COUNT])
def test_the_usual_unit_is_read_back(quantity: Quantity) -> None:
    unit = unit_of(quantity)
    value = parse_quantity("12.5", quantity, declared_unit=unit).value
    assert scaled(value, quantity, unit) == pytest.approx(12.5, rel=1e-12)
