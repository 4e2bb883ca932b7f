"""A copy of a shop, from and to both kinds of database, and what is refused as a copy."""

from __future__ import annotations

import sqlite3
from dataclasses import replace
from pathlib import Path

import pytest

from graph.errors import StoreError
from graph.model import Car, Evidence, EvidenceKind, Part, Rating
from graph.store import Database, SheetRow, backup, broken, check_copy, open_database, recover, trail
from graph.store.schema import head_version, move, versions

EVIDENCE = Evidence(kind=EvidenceKind.OWN_BENCH, source="parts.xlsx, sheet 'Fuel', row 4, column 'Rating'")
PUMP = Part(
    id="PY-1", kind="tank_pump", name="pump", fits=("KX2",), ratings=(Rating(name="flow", value=7.0e-5, evidence=EVIDENCE),)
)  # fmt: skip
ROW = SheetRow(file="parts.xlsx", sheet="Fuel", number=4, cells={"Part": "PY-1"}, outcome="loaded")


def put(database: Database, price: float) -> None:
    with database.write() as unit:
        load = unit.record_load(name="parts.xlsx", sha256="0" * 64, who="bench", tool_version="0")
        unit.add_parts(load, [replace(PUMP, price=price)], unit.record_rows(load, [ROW]))
        unit.add_cars(load, [Car(id="car-z", platform="KX2", distance=price)])


def content(database: Database) -> tuple:
    with database.read() as view:
        assert broken(view) is None
        return view.parts(), view.cars(), view.rows(), view.rating_history("PY-1", "flow"), view.loads()


def test_what_was_copied_comes_back_on_either_kind_of_database(url: str, tmp_path: Path) -> None:
    database = open_database(url)
    for price in (1.0, 2.0, 3.0):
        put(database, price)
    copy = tmp_path / "copy.sqlite"
    backup(database, copy)
    before = content(database)
    database.engine.dispose()
    assert check_copy(copy) == head_version()
    assert recover(f"sqlite:///{tmp_path / 'new.sqlite'}", copy) is None
    again = open_database(f"sqlite:///{tmp_path / 'new.sqlite'}")
    assert content(again) == before
    put(again, 4.0)  # and work goes on
    assert len(content(again)[3]) == 4
    again.engine.dispose()


def test_a_file_moves_to_a_server(sqlite_url: str, postgres_url: str, tmp_path: Path) -> None:
    database = open_database(sqlite_url)
    for price in (1.0, 2.0):
        put(database, price)
    backup(database, tmp_path / "copy.sqlite")
    recover(postgres_url, tmp_path / "copy.sqlite")
    server = open_database(postgres_url)
    assert content(server) == content(database)
    put(server, 3.0)  # the server counts on where the file stopped
    assert len(content(server)[4]) == 3
    with pytest.raises(StoreError, match="is not empty"):
        recover(postgres_url, tmp_path / "copy.sqlite")
    for opened in (database, server):
        opened.engine.dispose()


def test_what_stood_there_is_kept_and_the_trail_says_so(sqlite_url: str, tmp_path: Path) -> None:
    database = open_database(sqlite_url)
    put(database, 1.0)
    backup(database, tmp_path / "copy.sqlite")
    put(database, 2.0)
    later = content(database)
    kept = recover(sqlite_url, tmp_path / "copy.sqlite", who="anna")
    assert content(database)[0][0].price == 1.0  # seen through the connection that was open all the time
    with database.read() as view:
        last = trail(view)[-1]
    assert (last.what, last.who, last.detail["kept"]) == ("recover", "anna", kept.name if kept else "")
    assert kept is not None
    old = open_database(f"sqlite:///{kept}")
    assert content(old)[:4] == later[:4]
    for opened in (database, old):
        opened.engine.dispose()


def test_a_copy_of_an_older_program_is_brought_up(sqlite_url: str, tmp_path: Path) -> None:
    database = open_database(sqlite_url)
    put(database, 1.0)
    for revision in versions()[-2:0:-1]:
        move(database.engine, revision, down=True)
    copy = tmp_path / "copy.sqlite"
    with sqlite3.connect(sqlite_url.removeprefix("sqlite:///")) as connection:
        connection.execute("VACUUM INTO ?", (str(copy),))
    connection.close()
    assert check_copy(copy) == versions()[1]
    recover(f"sqlite:///{tmp_path / 'new.sqlite'}", copy)
    new = open_database(f"sqlite:///{tmp_path / 'new.sqlite'}")
    assert content(new)[0][0].price == 1.0
    assert copy.exists()
    for opened in (database, new):
        opened.engine.dispose()


@pytest.mark.parametrize(
    ("damage", "sentence"),
    [
        ("cut", "damaged|not a database"),
        ("text", "not a database"),
        ("stranger", "no copy of this program"),
        ("newer", "made by a newer program"),
        ("orphan", "damaged"),
        ("trail", "audit trail .* was changed at entry 1"),
        ("missing", "is no file"),
    ],
)
def test_what_is_no_sound_copy_is_refused_and_changes_nothing(
    sqlite_url: str, tmp_path: Path, damage: str, sentence: str
) -> None:
    database = open_database(sqlite_url)
    put(database, 1.0)
    copy = tmp_path / "copy.sqlite"
    backup(database, copy)
    before = content(database)
    statements = {
        "newer": ["UPDATE alembic_version SET version_num = '9999'"],
        "orphan": ["INSERT INTO interface VALUES (99, 0, 'flange', 'four bolts')"],
        "trail": ["DROP TRIGGER audit_update", "UPDATE audit SET who = 'nobody'"],
        "stranger": ["DROP TABLE alembic_version"],
    }
    if damage == "missing":
        copy.unlink()
    elif damage == "cut":
        copy.write_bytes(copy.read_bytes()[: copy.stat().st_size // 2])
    elif damage == "text":
        copy.write_text("a letter to the shop, " * 100)
    for statement in statements.get(damage, ()):
        with sqlite3.connect(copy) as connection:
            connection.execute(statement)
        connection.close()
    with pytest.raises(StoreError, match=sentence):
        recover(sqlite_url, copy)
    assert content(database) == before
    database.engine.dispose()
