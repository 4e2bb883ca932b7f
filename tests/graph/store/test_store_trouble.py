"""What goes wrong in a busy shop: two writers on a server, a torn read, a stranger's database, a failed copy."""

from __future__ import annotations

import shutil
import sqlite3
import threading
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import pytest
from sqlalchemy import event, text

from graph.errors import StoreError
from graph.model import Car, Evidence, EvidenceKind, Part, Rating
from graph.store import Database, SheetRow, backup, open_database, schema_version

BENCH = Evidence(kind=EvidenceKind.OWN_BENCH, source="parts.xlsx, sheet 'Fuel', row 4, column 'Rating'")
PUMP = Part(
    id="PY-1",
    kind="tank_pump",
    name="pump",
    fits=("KX2",),
    ratings=(Rating(name="flow", value=7.0e-5, evidence=BENCH),),
)


def put(database: Database, *parts: Part, cars: tuple[Car, ...] = ()) -> None:
    with database.write() as unit:
        load = unit.record_load(name="parts.xlsx", sha256="0" * 64, who="bench", tool_version="0.1.0")
        unit.add_parts(load, parts)
        unit.add_cars(load, cars)


def test_a_part_is_never_read_half_old_half_new(url: str) -> None:
    # A correction lands between the query for the parts and the one for their codes and ratings.
    reader, writer = open_database(url), open_database(url)
    put(writer, PUMP)
    corrected = replace(PUMP, ratings=(replace(PUMP.ratings[0], value=8.0e-5),))
    done: list[str] = []

    @event.listens_for(reader.engine, "after_cursor_execute")
    def _between(connection, cursor, statement, parameters, context, executemany) -> None:
        if statement.startswith("SELECT part_revision") and not done:
            done.append(statement)
            put(writer, corrected)

    with reader.read() as view:
        assert view.parts(fits="KX2") == (PUMP,)
    assert done
    with reader.read() as view:
        assert view.parts(fits="KX2") == (corrected,)
    reader.engine.dispose()
    writer.engine.dispose()


def test_writers_at_the_same_time_leave_one_current_record_each(url: str) -> None:
    databases = [open_database(url), open_database(url)]
    gate = threading.Barrier(2)

    def work(worker: int) -> None:
        for number in range(15):
            gate.wait(timeout=30)
            own = replace(PUMP, id=f"PY-{worker}-{number}")
            put(
                databases[worker],
                own,
                replace(PUMP, price=float(number + 100 * worker)),
                cars=(Car(id="car-z", platform="KX2", distance=float(number + 100 * worker)),),
            )

    with ThreadPoolExecutor(2) as pool:
        for future in [pool.submit(work, worker) for worker in (0, 1)]:
            future.result(timeout=60)
    with databases[0].read() as view:
        assert len(view.parts()) == 31
        assert len(view.cars()) == 1
        assert len(view.loads()) == 30
    for database in databases:
        database.engine.dispose()


@pytest.mark.parametrize(
    "address", ["mysql://shop:hunter2@h/shop", "oracle://shop:hunter2@h", "nosuch://shop:hunter2@h"]
)
def test_other_engines_are_refused_without_showing_the_password(address: str) -> None:
    with pytest.raises(StoreError, match="sqlite:///") as caught:
        open_database(address)
    assert "hunter2" not in str(caught.value)


def test_a_stranger_s_database_is_refused_and_left_alone(url: str) -> None:
    database = open_database(url, migrate=False)
    with database.engine.begin() as connection:
        connection.execute(text("CREATE TABLE invoice (id INTEGER)"))
    with pytest.raises(StoreError, match="is not a database of this program"):
        open_database(url)
    assert schema_version(database) is None
    database.engine.dispose()


@pytest.mark.of_a_file
def test_the_home_folder_may_be_written_short(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HOME", str(tmp_path))
    open_database("sqlite:///~/shop/book.sqlite").engine.dispose()
    assert (tmp_path / "shop" / "book.sqlite").exists()


def test_a_backup_may_go_to_any_file_name(sqlite_url: str, tmp_path: Path) -> None:
    copy = tmp_path / "what? 50%#1.sqlite"
    backup(open_database(sqlite_url), copy)
    with sqlite3.connect(copy) as connection:
        assert connection.execute("SELECT count(*) FROM load").fetchone() == (0,)


def test_a_backup_into_a_folder_that_cannot_be_made_is_a_sentence(sqlite_url: str, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(StoreError, match="folder cannot be made"):
        backup(open_database(sqlite_url), tmp_path / "file" / "copy.sqlite")


def test_a_failed_backup_leaves_no_file(sqlite_url: str, tmp_path: Path) -> None:
    database = open_database(sqlite_url)
    put(database, *(replace(PUMP, id=f"PY-{number}", note="x" * 2000) for number in range(200)))
    database.engine.dispose()
    file = Path(sqlite_url.removeprefix("sqlite:///"))
    damaged = bytearray(file.read_bytes())
    damaged[8192:] = b"\xff" * (len(damaged) - 8192)
    file.write_bytes(damaged)
    with pytest.raises(StoreError, match="damaged"):
        backup(open_database(sqlite_url, migrate=False), tmp_path / "copy.sqlite")
    assert not (tmp_path / "copy.sqlite").exists()


def test_asking_a_database_that_is_gone_for_its_schema_is_a_sentence(sqlite_url: str) -> None:
    database = open_database(sqlite_url)
    database.engine.dispose()
    shutil.rmtree(Path(sqlite_url.removeprefix("sqlite:///")).parent)
    with pytest.raises(StoreError, match="cannot be opened"):
        schema_version(database)


def test_a_wrong_database_name_is_not_called_a_lost_server(postgres_url: str) -> None:
    name = postgres_url.split("/")[3].split("?")[0]
    with pytest.raises(StoreError, match=f"{name}x.* no such database or user"):
        open_database(postgres_url.replace(f"/{name}?", f"/{name}x?"))


def test_one_record_by_its_id(database: Database) -> None:
    put(database, PUMP, replace(PUMP, id="PY-2"), cars=(Car(id="car-z", platform="KX2"),))
    with database.read() as view:
        assert view.part("PY-1") == PUMP
        assert view.part("PY-9") is None
        assert view.car("car-z") == Car(id="car-z", platform="KX2")
        assert view.car("car-y") is None
        assert view.platform("KX2") is None


def test_held_rows_are_those_of_every_load(database: Database) -> None:
    held = SheetRow(file="a.csv", sheet="a", number=3, cells={"Part": "?"}, outcome="held", note="no part number")
    with database.write() as unit:
        for number in (1, 2):
            load = unit.record_load(name="a.csv", sha256="0" * 64, who="bench", tool_version="0.1.0")
            unit.record_rows(load, [held._replace(number=number), held._replace(outcome="loaded", note="")])
    with database.read() as view:
        assert [r.number for r in view.held_rows()] == [1, 2]
