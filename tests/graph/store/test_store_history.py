"""Nothing is lost: a correction is a new revision, and every row of a sheet is kept as read."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from itertools import pairwise

import pytest
from sqlalchemy import func, insert, select
from sqlalchemy.exc import StatementError

from graph.errors import StoreError
from graph.model import Car, Evidence, EvidenceKind, Installed, Part, Platform, Rating
from graph.store import Database, SheetRow
from graph.store import table as t

BENCH = Evidence(kind=EvidenceKind.OWN_BENCH, source="parts.xlsx, sheet 'Fuel', row 4, column 'Rating'")
PUMP = Part(
    id="PY-7001",
    kind="tank_pump",
    name="tank pump",
    fits=("KX2", "KX3"),
    ratings=(Rating(name="flow", value=7.0e-5, evidence=BENCH), Rating(name="current", value=14.0, evidence=BENCH)),
)
PLATFORM = Platform(id="KX2", name="KX2", codes=("KX2",), constants={}, curves={}, slots=())
CAR = Car(id="car-z", platform="KX2", installed=(Installed(slot="tank pump", part="PY-7001"),))


def stated(value: float) -> Part:
    return replace(PUMP, ratings=(replace(PUMP.ratings[0], value=value), PUMP.ratings[1]))


def put(database: Database, *parts: Part) -> int:
    with database.write() as unit:
        load = unit.record_load(name="parts.xlsx", sha256="0" * 64, who="bench", tool_version="0.1.0")
        unit.add_parts(load, parts)
    return load


def counts(database: Database) -> dict[str, int]:
    with database.engine.connect() as connection:
        return {
            name: connection.execute(select(func.count()).select_from(table)).scalar_one()
            for name, table in t.metadata.tables.items()
        }


def test_a_correction_is_a_new_revision_and_the_old_one_stays(database: Database) -> None:
    put(database, PUMP)
    put(database, stated(8.0e-5))
    with database.read() as view:
        assert view.parts() == (stated(8.0e-5),)
        assert [r.value for r in view.rating_history(PUMP.id, "flow")] == [7.0e-5, 8.0e-5]


def test_row_counts_only_grow(database: Database) -> None:
    seen = [counts(database)]
    for part in (PUMP, stated(8.0e-5), PUMP, replace(PUMP, fits=(), ratings=())):
        put(database, part)
        seen.append(counts(database))
    for before, after in pairwise(seen):
        assert all(after[name] >= before[name] for name in before)
        assert after["part_revision"] == before["part_revision"] + 1


def test_the_same_content_makes_no_revision(database: Database) -> None:
    put(database, PUMP)
    before = counts(database)
    put(database, PUMP)
    after = counts(database)
    assert after == {**before, "load": before["load"] + 1, "audit": before["audit"] + 1}


def test_the_last_of_two_statements_in_one_load_holds(database: Database) -> None:
    put(database, PUMP, stated(9.0e-5))
    with database.read() as view:
        assert view.parts() == (stated(9.0e-5),)
        assert len(view.rating_history(PUMP.id, "flow")) == 2


def test_platform_and_car_are_revisioned_too(database: Database) -> None:
    for car in (CAR, CAR, replace(CAR, distance=1.0e8)):
        with database.write() as unit:
            load = unit.record_load(name="cars.xlsx", sha256="0" * 64, who="bench", tool_version="0.1.0")
            unit.add_platforms(load, [PLATFORM])
            unit.add_cars(load, [car])
    with database.read() as view:
        assert view.cars() == (replace(CAR, distance=1.0e8),)
        assert view.platforms() == (PLATFORM,)
    assert counts(database)["document_revision"] == 3  # one platform, two states of the car


def test_a_part_that_no_longer_fits_is_not_offered(database: Database) -> None:
    put(database, PUMP, replace(PUMP, id="PY-7002", kind="rail"))
    put(database, replace(PUMP, fits=("KX3",)))
    with database.read() as view:
        assert [p.id for p in view.parts(fits="KX2")] == ["PY-7002"]
        assert [p.id for p in view.parts(kind="tank_pump", fits="KX3")] == ["PY-7001"]
        assert view.parts(kind="tank_pump", fits="KX2") == ()
        assert [p.id for p in view.parts(kind="rail")] == ["PY-7002"]


def test_an_exception_leaves_nothing(database: Database) -> None:
    put(database, PUMP)
    before = counts(database)
    row = SheetRow(file="parts.xlsx", sheet="Fuel", number=4, cells={"Part": "PY-7001"}, outcome="loaded")

    def broken_off() -> None:
        with database.write() as unit:
            load = unit.record_load(name="parts.xlsx", sha256="0" * 64, who="bench", tool_version="0.1.0")
            unit.record_rows(load, [row])
            unit.add_parts(load, [stated(8.0e-5), replace(PUMP, id="PY-7002")])
            unit.add_platforms(load, [PLATFORM])
            unit.add_cars(load, [CAR])
            raise RuntimeError("pulled plug")

    with pytest.raises(RuntimeError, match="pulled plug"):
        broken_off()
    assert counts(database) == before
    with database.read() as view:
        assert view.parts() == (PUMP,)


def test_a_row_of_a_load_that_does_not_exist_is_refused(database: Database) -> None:
    row = SheetRow(file="parts.xlsx", sheet="Fuel", number=4, cells={}, outcome="loaded")
    with pytest.raises(StoreError, match=r"(?i)foreign key"), database.write() as unit:
        unit.record_rows(4711, [row])
    with pytest.raises(StoreError, match=r"(?i)foreign key"), database.write() as unit:
        unit.add_parts(4711, [PUMP])


def test_rows_are_kept_as_read_with_their_load(database: Database) -> None:
    rows = (
        SheetRow(
            file="parts.xlsx", sheet="Fuel", number=4, cells={"Part": "PY-7001", "Düse": "1,8 bar"}, outcome="loaded"
        ),
        SheetRow(file="parts.xlsx", sheet="Fuel", number=5, cells={"Part": "?"}, outcome="held", note="no part number"),
        SheetRow(file="parts.xlsx", sheet="Fuel", number=6, cells={}, outcome="not data", note="blank"),
    )
    with database.write() as unit:
        first = unit.record_load(
            name="parts.xlsx", sha256="ab" * 32, who="bench", tool_version="0.1.0", mapping={"Rating": "flow"}
        )
        unit.record_rows(first, rows)
        second = unit.record_load(name="more.csv", sha256="cd" * 32, who="desk", tool_version="0.1.0")
    with database.read() as view:
        assert view.rows(first) == rows
        assert view.rows(second) == ()
        assert view.rows() == rows
        loads = view.loads()
    assert [(x["name"], x["sha256"], x["who"]) for x in loads] == [
        ("parts.xlsx", "ab" * 32, "bench"),
        ("more.csv", "cd" * 32, "desk"),
    ]
    assert loads[0]["mapping"] == {"Rating": "flow"}


def test_the_moment_of_a_load_is_now_in_utc(database: Database) -> None:
    before = datetime.now(UTC)
    put(database, PUMP)
    with database.read() as view:
        moment = view.loads()[0]["at"]
    assert moment.utcoffset() == timedelta(0)
    assert before <= moment <= datetime.now(UTC)


def test_a_moment_keeps_its_instant_whatever_its_zone(database: Database) -> None:
    # 14:30 at +02:00 is 12:30 UTC, by definition of an offset (ISO 8601).
    summer = datetime(2026, 7, 1, 14, 30, tzinfo=timezone(timedelta(hours=2)))
    row = {"name": "x", "sha256": "0" * 64, "who": "x", "tool_version": "x", "mapping": {}}
    with database.engine.begin() as connection:
        connection.execute(insert(t.load).values(at=summer, **row))
    with database.read() as view:
        assert view.loads()[0]["at"] == datetime(2026, 7, 1, 12, 30, tzinfo=UTC)
        assert view.loads()[0]["at"].utcoffset() == timedelta(0)


def test_a_moment_without_a_zone_is_refused(database: Database) -> None:
    row = {"name": "x", "sha256": "0" * 64, "who": "x", "tool_version": "x", "mapping": {}}
    with pytest.raises(StatementError, match="time zone"), database.engine.begin() as connection:
        connection.execute(insert(t.load).values(at=datetime(2026, 7, 1, 14, 30), **row))
