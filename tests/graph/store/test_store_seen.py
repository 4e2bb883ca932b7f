"""Cars, platforms and people: nobody overwrites what somebody else wrote since, unseen."""

from __future__ import annotations

from dataclasses import replace

import pytest

from graph.actor import Role
from graph.errors import Conflict
from graph.model import Car, Part, Platform
from graph.store import Database, grant, last_load, people, refuse_undoing, trail

CAR = Car(id="car-q", platform="HM20-D4", name="Q", codes=(), installed=(), source="cars.xlsx, sheet 'Cars', row 2")
PLATFORM = Platform(
    id="HM20-D4", name="HM", codes=(), constants={"cylinders": 4.0}, curves={}, slots=(), source="platform.xlsx"
)
ANNA = "anna@shop.example"


def write(database: Database, *, who: str, cars: tuple[Car, ...] = (), platforms: tuple[Platform, ...] = ()) -> None:
    with database.write() as unit:
        load = unit.record_load(name=f"sheet of {who}", sha256="0" * 64, who=who, tool_version="0")
        unit.add_platforms(load, platforms)
        unit.add_cars(load, cars)


def seen_now(database: Database) -> int:
    with database.read() as view:
        return last_load(view)


def refuse(
    database: Database, seen: int | None, *, cars: tuple[Car, ...] = (), platforms: tuple[Platform, ...] = ()
) -> None:
    with database.write() as unit:
        parts: list[Part] = []
        refuse_undoing(unit, parts, seen=seen, cars=cars, platforms=platforms)


def test_a_car_written_since_it_was_read_is_not_overwritten(database: Database) -> None:
    write(database, who="shop", cars=(CAR,))
    seen = seen_now(database)
    write(database, who="anna", cars=(replace(CAR, name="Q, as anna saw it"),))
    with pytest.raises(Conflict) as caught:
        refuse(database, seen, cars=(replace(CAR, name="Q, as ben saw it"),))
    for word in ("car-q", "anna", "sheet of anna", "nothing was overwritten"):
        assert word in str(caught.value)


def test_a_platform_written_since_it_was_read_is_not_overwritten(database: Database) -> None:
    write(database, who="shop", platforms=(PLATFORM,))
    seen = seen_now(database)
    write(database, who="anna", platforms=(replace(PLATFORM, constants={"cylinders": 6.0}),))
    with pytest.raises(Conflict, match="HM20-D4: anna wrote"):
        refuse(database, seen, platforms=(replace(PLATFORM, constants={"cylinders": 5.0}),))


def test_every_record_beyond_the_first_is_counted(database: Database) -> None:
    seen = seen_now(database)
    others = tuple(replace(CAR, id=f"car-{n}") for n in range(3))
    write(database, who="anna", cars=others, platforms=(PLATFORM,))
    mine = tuple(replace(car, name="mine") for car in others)
    with pytest.raises(Conflict, match=r"HM20-D4: anna .*so for 3 more records"):
        refuse(database, seen, cars=mine, platforms=(replace(PLATFORM, name="mine"),))


def test_who_has_seen_it_says_the_same_or_writes_something_else_may(database: Database) -> None:
    write(database, who="shop", cars=(CAR,))
    before = seen_now(database)
    changed = replace(CAR, name="Q, as anna saw it")
    write(database, who="anna", cars=(changed,))
    refuse(database, seen_now(database), cars=(CAR,))
    refuse(database, before, cars=(changed,))
    refuse(database, before, cars=(replace(CAR, id="car-r"),))
    refuse(database, None, cars=(CAR,))


def test_roles_that_nobody_has_looked_at_are_not_replaced(database: Database) -> None:
    with database.write() as unit:
        grant(unit, ANNA, [Role.ADVISE], who="owner", seen=())
    with pytest.raises(Conflict) as caught, database.write() as unit:
        grant(unit, ANNA, [Role.KEEP], who="ben", seen=())
    for word in (ANNA, "look, advise", "owner granted", "--seen 'look, advise'"):
        assert word in str(caught.value)
    with pytest.raises(Conflict), database.write() as unit:
        grant(unit, ANNA, [Role.KEEP], who="ben", seen=[Role.CALIBRATE])
    with database.read() as view:
        assert people(view) == {ANNA: frozenset({Role.LOOK, Role.ADVISE})}
    with database.write() as unit:
        grant(unit, ANNA, [Role.KEEP], who="ben", seen=[Role.ADVISE])
    with database.read() as view:
        assert people(view) == {ANNA: frozenset({Role.LOOK, Role.KEEP})}


def test_taking_every_role_away_never_waits(database: Database) -> None:
    with database.write() as unit:
        grant(unit, ANNA, [Role.ADMINISTER], who="owner", seen=())
        grant(unit, ANNA, [], who="ben", seen=())
    with database.read() as view:
        assert people(view) == {}


def test_the_same_roles_once_more_are_no_conflict(database: Database) -> None:
    with database.write() as unit:
        grant(unit, ANNA, [Role.ADVISE], who="owner", seen=())
        assert grant(unit, ANNA, [Role.ADVISE], who="ben", seen=()) == {Role.LOOK, Role.ADVISE}


def test_the_trail_says_what_a_grant_replaced(database: Database) -> None:
    with database.write() as unit:
        grant(unit, ANNA, [Role.ADVISE], who="owner")
        grant(unit, ANNA, [Role.KEEP], who="owner")
    with database.read() as view:
        details = [entry.detail for entry in trail(view, about=ANNA)]
    assert details == [
        {"before": [], "after": ["look", "advise"]},
        {"before": ["look", "advise"], "after": ["look", "keep the book"]},
    ]


def test_what_the_newest_load_seen_wrote_has_been_seen(database: Database) -> None:
    part = Part(id="PY-1", kind="rods", name="rods")
    with database.write() as unit:
        unit.add_parts(unit.record_load(name="a", sha256="0", who="anna", tool_version="0"), [part])
    seen = seen_now(database)
    with database.write() as unit:
        refuse_undoing(unit, [replace(part, name="rods, forged")], seen=seen)
    with pytest.raises(Conflict, match="PY-1: anna wrote 'a'"), database.write() as unit:
        refuse_undoing(unit, [replace(part, name="rods, forged")], seen=seen - 1)
