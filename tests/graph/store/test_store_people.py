"""Roles hold in the store itself, whatever page or program asks; the trail can be added to and read, nothing else."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from dataclasses import replace

import pytest
from sqlalchemy import text
from sqlalchemy.exc import DBAPIError

from graph.actor import Actor, Role
from graph.capacity import Trial
from graph.errors import NotAllowed, UsageError
from graph.learnt import Learnt
from graph.model import Car, Part, Platform
from graph.note import Fact
from graph.store import (
    Database,
    backup,
    broken,
    grant,
    keep_lesson,
    open_database,
    people,
    restore,
    trail,
    withdraw_lesson,
)
from graph.store.notebook import add_notes, add_trials

ANNA = Actor(name="anna@shop.example", place="pages")
PLATFORM = Platform(id="KX2", name="K", codes=(), constants={}, curves={}, slots=())


def let(database: Database, *roles: Role) -> Database:
    with database.write() as unit:
        grant(unit, ANNA.name, roles, who="owner")
    return database.acting(ANNA)


def record(unit, **words) -> int:
    return unit.record_load(name="x", sha256="0" * 64, who="somebody else", tool_version="0", **words)


def _look(database: Database) -> None:
    with database.read() as view:
        view.parts()


def _add_part(database: Database) -> None:
    with database.write() as unit:
        unit.add_parts(record(unit), [Part(id="PY-1", kind="rods", name="rods")])


def _add_platform(database: Database) -> None:
    with database.write() as unit:
        unit.add_platforms(record(unit), [PLATFORM])


def _add_car(database: Database) -> None:
    with database.write() as unit:
        unit.add_cars(record(unit), [Car(id="car-z", platform="KX2")])


def _add_pull(database: Database) -> None:
    trial = Trial(
        car="car-z", slot="rods", kind="rods", rating="torque", part=None, reached=False,
        demand=1.0, capacity=1.0, rated=1.0, spread=0.1,
    )  # fmt: skip
    with database.write() as unit:
        add_trials(unit, [trial], sha256="1" * 64, who="x", tool_version="0")


def _add_note(database: Database) -> None:
    with database.write() as unit:
        add_notes(unit, [Fact(car="car-z", key="oil", text="as it should")], who="x", tool_version="0")


def _keep_engine(database: Database) -> None:
    with database.write() as unit:
        keep_lesson(unit, "car-z", Learnt(fields=(), mean=(), covariance=()), who="x", tool_version="0")


def _withdraw_engine(database: Database) -> None:
    with database.write() as unit:
        withdraw_lesson(unit, "car-z", "other rollers", who="x", tool_version="0")


def _bring_back(database: Database) -> None:
    with database.write() as unit:
        restore(unit, "PY-0", 1, who="x", tool_version="0")


def _grant(database: Database) -> None:
    with database.write() as unit:
        grant(unit, "ben@shop.example", [Role.LOOK], who="x")


def _people(database: Database) -> None:
    with database.read() as view:
        people(view)


def _trail(database: Database) -> None:
    with database.read() as view:
        trail(view)


#: What the house rule of the roles says: use case -> the roles that open it (any one of them).
ALLOWED: dict[Callable[[Database], None], set[Role]] = {
    _look: set(Role),
    _add_part: {Role.KEEP},
    _add_platform: {Role.KEEP},
    _add_car: {Role.ADVISE, Role.KEEP},
    _add_pull: {Role.CALIBRATE},
    _add_note: {Role.ADVISE, Role.CALIBRATE},
    _keep_engine: {Role.CALIBRATE},
    _withdraw_engine: {Role.CALIBRATE},
    _bring_back: {Role.KEEP},
    _grant: {Role.ADMINISTER},
    _people: {Role.ADMINISTER},
    _trail: {Role.ADMINISTER},
}


@pytest.mark.parametrize("role", list(Role), ids=lambda role: role.value)
def test_each_role_may_what_is_its_own_and_nothing_else(database: Database, role: Role) -> None:
    with database.write() as unit:
        unit.add_parts(record(unit), [Part(id="PY-0", kind="rods", name="rods")])
    hers = let(database, role)
    for use_case, roles in ALLOWED.items():
        if role in roles:
            use_case(hers)
        else:
            with pytest.raises(NotAllowed, match=r"anna@shop\.example may not .*; ask who administers"):
                use_case(hers)


def test_a_refused_use_case_leaves_nothing(database: Database) -> None:
    hers = let(database, Role.ADVISE)
    with pytest.raises(NotAllowed):
        _add_part(hers)
    with database.read() as view:
        assert (view.parts(), view.loads()) == ((), ())
        assert [e.what for e in trail(view)] == ["grant roles"]


def test_a_stranger_may_not_even_look(database: Database) -> None:
    with pytest.raises(NotAllowed, match="granted none yet"):
        _look(database.acting(replace(ANNA, name="stranger@elsewhere.example")))


def test_roles_that_a_page_claims_count_for_nothing(database: Database) -> None:
    with pytest.raises(NotAllowed):
        _add_part(database.acting(replace(ANNA, roles=frozenset(Role))))


def test_a_role_taken_away_is_gone_at_once(database: Database) -> None:
    hers = let(database, Role.KEEP)
    _add_part(hers)
    let(database)
    with pytest.raises(NotAllowed):
        _look(hers)


def test_who_signed_in_is_recorded_and_not_who_is_named(database: Database) -> None:
    _add_part(let(database, Role.KEEP))
    with database.read() as view:
        assert [row["who"] for row in view.loads()] == [ANNA.name]
        assert [(e.who, e.place) for e in trail(view)][-1] == (ANNA.name, "pages")


def test_mail_addresses_are_one_person_in_any_case_of_letters(database: Database) -> None:
    with database.write() as unit:
        grant(unit, " Anna@Shop.Example ", [Role.KEEP], who="owner")
    _add_part(database.acting(replace(ANNA, name="ANNA@shop.example")))
    with database.read() as view:
        assert people(view) == {ANNA.name: frozenset({Role.LOOK, Role.KEEP})}


def test_nobody_locks_the_last_door_behind_herself(database: Database) -> None:
    hers = let(database, Role.ADMINISTER)
    with pytest.raises(UsageError, match="somebody else"), hers.write() as unit:
        grant(unit, ANNA.name, [Role.LOOK], who="x")


@pytest.mark.parametrize("address", ["anna", "", "a b@shop.example", "x" * 260 + "@shop.example"])
def test_only_a_mail_address_is_a_person(database: Database, address: str) -> None:
    with pytest.raises(UsageError, match="mail address"), database.write() as unit:
        grant(unit, address, [Role.LOOK], who="x")


def test_a_backup_needs_the_administrator(database: Database, tmp_path) -> None:
    with pytest.raises(NotAllowed, match="back up"):
        backup(let(database, Role.KEEP, Role.CALIBRATE, Role.ADVISE), tmp_path / "copy.sqlite")
    assert not (tmp_path / "copy.sqlite").exists()


@pytest.mark.parametrize("table", ["audit", "role_grant"])
@pytest.mark.parametrize("change", ["UPDATE {} SET id = id + 100", "DELETE FROM {}"])
def test_the_database_refuses_to_change_the_trail(database: Database, table: str, change: str) -> None:
    let(database, Role.KEEP)
    with pytest.raises(DBAPIError, match="append only"), database.engine.begin() as connection:
        connection.execute(text(change.format(table)))
    with database.read() as view:
        assert len(trail(view)) == 1
        assert broken(view) is None


def test_a_server_refuses_to_empty_the_trail(postgres_url: str) -> None:
    database = open_database(postgres_url)
    let(database, Role.KEEP)
    with pytest.raises(DBAPIError, match="append only"), database.engine.begin() as connection:
        connection.execute(text("TRUNCATE audit"))
    database.engine.dispose()


def test_a_file_refuses_to_replace_an_entry(sqlite_url: str) -> None:
    # INSERT OR REPLACE deletes without firing a delete trigger: https://sqlite.org/lang_conflict.html, REPLACE.
    database = open_database(sqlite_url)
    let(database, Role.KEEP)
    with pytest.raises(DBAPIError, match="append only"), database.engine.begin() as connection:
        connection.execute(text("INSERT OR REPLACE INTO audit SELECT * FROM audit"))
    database.engine.dispose()


def test_a_change_behind_the_program_s_back_shows(sqlite_url: str) -> None:
    database = open_database(sqlite_url)
    for roles in ([Role.KEEP], [Role.LOOK], [Role.ADMINISTER]):
        let(database, *roles)
    with sqlite3.connect(sqlite_url.removeprefix("sqlite:///")) as stranger:
        stranger.execute("DROP TRIGGER audit_update")
        stranger.execute("UPDATE audit SET who = 'somebody else' WHERE id = 2")
    stranger.close()
    with database.read() as view:
        assert broken(view) == 2
    database.engine.dispose()
