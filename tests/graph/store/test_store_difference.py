"""Two loads compared and an earlier revision restored, on SQLite and PostgreSQL; expected values stand in the records."""

from __future__ import annotations

from dataclasses import replace

import pytest

from graph.errors import Conflict, UnknownName
from graph.model import Car, Evidence, EvidenceKind, Installed, Part, Rating
from graph.store import Database, broken, correct_rating, difference, restore, revisions, trail

BENCH = Evidence(kind=EvidenceKind.OWN_BENCH, source="parts.xlsx, row 4")
FLOW = Rating(name="flow", value=7.0e-5, evidence=BENCH, text="252 L/h")
PUMP = Part(id="PY-7001", kind="tank_pump", name="tank pump", fits=("KX2",), ratings=(FLOW,), price=188.0)
OTHER = Part(id="PY-7002", kind="tank_pump", name="other pump", fits=("KX2",), price=90.0)
CAR = Car(id="car-z", platform="KX2", installed=(Installed(slot="tank pump", part="PY-7001"),))


def put(database: Database, who: str, *parts: Part) -> int:
    with database.write() as unit:
        load = unit.record_load(name="parts.xlsx", sha256="0" * 64, who=who, tool_version="0.1.0")
        unit.add_parts(load, parts)
        unit.add_cars(load, [CAR])
    return load


def test_a_price_and_a_new_part_are_told_with_who_and_which_cars(database: Database) -> None:
    first = put(database, "first", PUMP)
    second = put(database, "second", replace(PUMP, price=205.0), OTHER)
    with database.read() as view:
        changed, came = difference(view, first, second)
        back = difference(view, second, first)
    assert [(f.field, f.before, f.after) for f in changed.fields] == [("price", "188 EUR", "205 EUR")]
    assert (changed.part, changed.who, changed.load, changed.cars) == ("PY-7001", "second", second, ("car-z",))
    assert (came.part, came.before, came.cars, came.fields) == ("PY-7002", None, (), ())
    assert came.after == OTHER
    assert [(f.field, f.before, f.after) for f in back[0].fields] == [("price", "205 EUR", "188 EUR")]
    assert back[1].after is None


def test_a_row_that_only_moved_is_no_difference(database: Database) -> None:
    first = put(database, "a", PUMP)
    moved = replace(FLOW, evidence=replace(BENCH, source="parts.xlsx, row 9"))
    second = put(database, "b", replace(PUMP, ratings=(moved,), source="parts.xlsx, row 9"))
    with database.read() as view:
        assert difference(view, first, second) == ()
        assert difference(view, first, first) == ()


def test_a_rating_is_told_by_its_name(database: Database) -> None:
    first = put(database, "a", PUMP)
    second = put(database, "b", replace(PUMP, ratings=(replace(FLOW, value=6.0e-5, text="216 L/h"),)))
    third = put(database, "c", replace(PUMP, ratings=()))
    with database.read() as view:
        (changed,) = difference(view, first, second)
        (gone,) = difference(view, second, third)
    (flow,) = changed.fields
    assert flow.field == "flow"
    assert (flow.before or "").startswith("252 L/h")
    assert (flow.after or "").startswith("216 L/h")
    assert gone.fields[0].after is None


def test_a_restored_revision_is_a_new_one(database: Database) -> None:
    put(database, "a", PUMP)
    put(database, "b", replace(PUMP, price=205.0))
    with database.write() as unit:
        load = restore(unit, "PY-7001", 1, who="c", tool_version="0.1.0")
    with database.read() as view:
        history = revisions(view, "PY-7001")
        assert view.part("PY-7001") == PUMP
        assert view.loads()[-1]["id"] == load
    assert [(r.number, r.who, r.part.price) for r in history] == [(1, "a", 188.0), (2, "b", 205.0), (3, "c", 188.0)]


def test_names_that_lead_nowhere_are_refused(database: Database) -> None:
    load = put(database, "a", PUMP)
    with database.write() as unit:
        with pytest.raises(UnknownName, match="PY-9"):
            restore(unit, "PY-9", 1, who="c", tool_version="0")
        with pytest.raises(UnknownName, match="7"):
            restore(unit, "PY-7001", 7, who="c", tool_version="0")
        with pytest.raises(UnknownName, match="load"):
            difference(unit, load, load + 5)


def test_a_row_that_only_moved_hides_no_change_after_it(database: Database) -> None:
    first = put(database, "a", PUMP, OTHER)
    moved = replace(FLOW, evidence=replace(BENCH, source="parts.xlsx, row 9"))
    second = put(database, "b", replace(PUMP, ratings=(moved,)), replace(OTHER, price=95.0))
    with database.read() as view:
        assert [change.part for change in difference(view, first, second)] == ["PY-7002"]


def test_hours_and_days_are_told_in_the_units_of_a_sheet(database: Database) -> None:
    """2.5 h are 9000 s and 3 days are 259 200 s."""
    first = put(database, "a", replace(PUMP, labour=7200.0, lead_time=86400.0))
    second = put(database, "b", replace(PUMP, labour=9000.0, lead_time=259200.0))
    with database.read() as view:
        (changed,) = difference(view, first, second)
    assert [(f.field, f.before, f.after) for f in changed.fields] == [
        ("labour", "2 h", "2.5 h"),
        ("lead time", "1 days", "3 days"),
    ]


def test_of_many_changed_fields_three_are_named_and_the_rest_counted(database: Database) -> None:
    put(database, "a", PUMP)
    put(database, "ben", replace(PUMP, price=1.0, maker="m", note="n", stock=3, labour=3600.0))
    with pytest.raises(Conflict) as caught, database.write() as unit:
        correct_rating(unit, "PY-7001", FLOW, seen=1, who="anna", tool_version="0")
    said = str(caught.value)
    assert said.count(" from ") == 3
    assert "and 2 more" in said


def test_the_trail_is_cut_from_its_old_end_and_asked_by_what_it_is_about(database: Database) -> None:
    for who in ("a", "b", "c"):
        put(database, who, PUMP)
    with database.write() as unit:
        unit.record_load(name="other.csv", sha256="0", who="d", tool_version="0")
    with database.read() as view:
        every = trail(view)
        assert [entry.who for entry in every] == ["a", "b", "c", "d"]
        assert trail(view, last=2) == every[-2:]
        assert trail(view, about="other.csv") == every[-1:]
        assert trail(view, about="parts.xlsx", last=1) == every[2:3]
        assert broken(view) is None
