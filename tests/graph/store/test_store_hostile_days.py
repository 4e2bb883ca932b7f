"""Disk full, connection lost, file read only or held: one sentence and an exit code, and the work can be repeated."""

from __future__ import annotations

import resource
import sqlite3
import subprocess
import sys
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest
from sqlalchemy import text

from graph.errors import StoreError
from graph.model import Part
from graph.store import Database, open_database

PUMP = Part(id="PY-1", kind="tank_pump", name="pump", note="x" * 500)
PROGRAM = (sys.executable, "-m", "ui.cli")
HOLDING = Path(__file__).resolve().parents[3] / "seed_parts"


def put(database: Database, count: int = 1) -> None:
    with database.write() as unit:
        load = unit.record_load(name="parts.xlsx", sha256="0" * 64, who="bench", tool_version="0")
        unit.add_parts(load, [replace(PUMP, id=f"PY-{number}") for number in range(count)])


def numbers(database: Database) -> tuple[int, int]:
    with database.read() as view:
        return len(view.parts()), len(view.loads())


def test_a_full_disk_is_a_sentence_and_the_work_can_be_repeated(sqlite_url: str) -> None:
    database = open_database(sqlite_url)
    put(database)
    database.engine.dispose()
    before = numbers(open_database(sqlite_url))
    largest = Path(sqlite_url.removeprefix("sqlite:///")).stat().st_size + 20_000

    def small_disk() -> None:  # a write beyond this size fails as on a full disk: setrlimit(2), RLIMIT_FSIZE
        resource.setrlimit(resource.RLIMIT_FSIZE, (largest, largest))

    words = [*PROGRAM, "--db", sqlite_url, "load", str(HOLDING)]
    refused = subprocess.run(words, preexec_fn=small_disk, capture_output=True, text=True, check=False)
    assert refused.returncode == 1
    assert refused.stdout == ""
    assert len(refused.stderr.strip().splitlines()) == 1
    assert "nothing was changed" in refused.stderr
    assert numbers(open_database(sqlite_url)) == before
    again = subprocess.run(words, capture_output=True, text=True, check=False)
    assert again.returncode == 0, again.stderr
    with closing(sqlite3.connect(sqlite_url.removeprefix("sqlite:///"))) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)


def test_a_connection_lost_in_the_middle_leaves_nothing_and_the_next_use_works(postgres_url: str) -> None:
    database, other = open_database(postgres_url), open_database(postgres_url)
    put(database)

    def cut() -> None:
        with database.write() as unit:
            load = unit.record_load(name="parts.xlsx", sha256="0" * 64, who="bench", tool_version="0")
            _end_all(other)
            unit.add_parts(load, [replace(PUMP, id="PY-7")])

    with pytest.raises(StoreError, match=r"the connection failed.*nothing was changed"):
        cut()
    assert numbers(database) == (1, 1)
    _end_all(other)  # while nothing is going on
    put(database, 2)
    assert numbers(database) == (2, 2)
    for opened in (database, other):
        opened.engine.dispose()


def _end_all(database: Database) -> None:
    """What a restart of the server does to its clients."""
    with database.engine.connect() as connection:
        connection.execute(
            text(
                "SELECT pg_terminate_backend(pid) FROM pg_stat_activity"
                " WHERE datname = current_database() AND pid <> pg_backend_pid()"
            )
        )


def test_a_server_that_is_not_there_is_a_sentence(tmp_path: Path) -> None:
    url = f"postgresql://shop:hunter2@/book?host={tmp_path}"
    done = subprocess.run([*PROGRAM, "--db", url, "cars"], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout) == (1, "")
    assert len(done.stderr.strip().splitlines()) == 1
    assert "the connection failed; check that the server runs" in done.stderr
    assert "hunter2" not in done.stderr


def test_a_file_that_may_only_be_read_is_a_sentence(sqlite_url: str) -> None:
    database = open_database(sqlite_url)
    put(database)
    database.engine.dispose()
    path = sqlite_url.removeprefix("sqlite:///")
    held = open_database(f"sqlite:///file:{path}?mode=ro&uri=true")
    assert numbers(held) == (1, 1)
    with pytest.raises(StoreError, match="read only; check the rights"):
        put(held, 2)
    held.engine.dispose()
