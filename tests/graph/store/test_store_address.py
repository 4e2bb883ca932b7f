"""Addresses that hide a password or name no plain file, two programs that start at once, and rights that are missing."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from tempfile import mkdtemp

import pytest
from sqlalchemy import Engine, event, inspect, text

from graph.errors import StoreError
from graph.model import Evidence, EvidenceKind, Part, Rating
from graph.store import Database, backup, open_database, schema_version
from graph.store.schema import head_version

PART = Part(id="PY-1", kind="rods", name="rod set", fits=("KX2",))
NOBODY = 65534  # the user without rights of Debian and most other systems


def put(database: Database, *parts: Part) -> None:
    with database.write() as unit:
        load = unit.record_load(name="parts.xlsx", sha256="0" * 64, who="bench", tool_version="0.1.0")
        unit.add_parts(load, parts)


@pytest.fixture
def guarded() -> Iterator[Path]:
    """A folder that others may enter but not write in; pytest's own is closed to them."""
    folder = Path(mkdtemp(prefix="shop-"))
    folder.chmod(0o755)
    yield folder
    folder.chmod(0o755)
    shutil.rmtree(folder)


@pytest.fixture
def without_rights() -> Iterator[None]:
    """The test's work is done by a user who owns nothing; one who is not root drops the file's rights instead."""
    if os.geteuid() != 0:
        yield
        return
    os.seteuid(NOBODY)
    yield
    os.seteuid(0)


@pytest.fixture
def locked_away(guarded: Path) -> Database:
    """An open database whose file and folder may only be read."""
    database = open_database(f"sqlite:///{guarded / 'shop.sqlite'}")
    put(database, PART)
    database.engine.dispose()
    (guarded / "shop.sqlite").chmod(0o444)
    guarded.chmod(0o555)
    return database


@pytest.mark.of_a_file
def test_a_file_without_write_rights_is_a_sentence(locked_away: Database, without_rights: None) -> None:
    with pytest.raises(StoreError, match=r"shop\.sqlite: it is read only; check the rights of file and folder"):
        put(locked_away, replace(PART, price=5.0))


def test_a_backup_into_a_folder_without_rights_names_the_copy(
    sqlite_url: str, guarded: Path, request: pytest.FixtureRequest
) -> None:
    database = open_database(sqlite_url)
    guarded.chmod(0o555)
    request.getfixturevalue("without_rights")
    with pytest.raises(StoreError, match=r"the copy .*copy\.sqlite cannot be made"):
        backup(database, guarded / "copy.sqlite")
    assert list(guarded.iterdir()) == []


def test_a_folder_is_no_database(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="it cannot be opened; check that the folder exists"):
        open_database(f"sqlite:///{tmp_path}")


@pytest.mark.parametrize(
    "address",
    [
        "postgresql://127.0.0.1:1/shop?user=shop&password=hunter2",
        "mysql://shop:hun/ter2@h/shop",
        "mysql://shop:hun:ter2@h/shop",
        "shop:hun/ter2@h",
        "postgresql:shop:hunter2@h/shop",
        "postgresql://shop:hunter2@[::/shop",
    ],
)
def test_no_spelling_of_an_address_shows_its_password(address: str) -> None:
    # Port 1 is reserved and nothing listens there (RFC 6335, tcpmux).
    with pytest.raises(StoreError, match="shop") as caught:
        open_database(address)
    assert "ter2" not in str(caught.value)


@pytest.mark.of_a_file
def test_an_address_of_sqlite_s_own_makes_no_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # "file:" addresses are SQLite's, not paths: https://sqlite.org/uri.html
    (tmp_path / "here").mkdir()
    monkeypatch.chdir(tmp_path / "here")
    put(open_database(f"sqlite:///file:{tmp_path / 'shop.sqlite'}?uri=true"), PART)
    assert list((tmp_path / "here").iterdir()) == []
    with open_database(f"sqlite:///{tmp_path / 'shop.sqlite'}").read() as view:
        assert view.parts() == (PART,)


def test_a_database_that_another_program_makes_meanwhile_is_not_a_stranger_s(url: str) -> None:
    others: list[Database] = []

    @event.listens_for(Engine, "rollback")  # the end of the first question that opening asks
    def _meanwhile(connection) -> None:
        if not others:
            others.append(None)  # type: ignore[arg-type]
            others[0] = open_database(url)

    try:
        database = open_database(url)
    finally:
        event.remove(Engine, "rollback", _meanwhile)
    assert schema_version(database) == head_version()
    for opened in (database, *others):
        opened.engine.dispose()


def test_programs_that_start_at_the_same_time_make_one_schema(url: str) -> None:
    program = "import sys; from graph.store import open_database; sys.stdin.readline(); open_database(sys.argv[1])"
    started = [
        subprocess.Popen([sys.executable, "-c", program, url], stdin=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        for _ in range(2)
    ]
    for process in started:
        assert process.stdin is not None
        process.stdin.write("\n")
        process.stdin.flush()
    said = [process.communicate(timeout=60)[1] for process in started]
    assert said == ["", ""]
    database = open_database(url, migrate=False)
    assert schema_version(database) == head_version()
    database.engine.dispose()


def test_a_migration_that_breaks_off_leaves_nothing(url: str) -> None:
    database = open_database(url, migrate=False)

    @event.listens_for(Engine, "before_cursor_execute")
    def _pull_the_plug(connection, cursor, statement, parameters, context, executemany) -> None:
        if "CREATE TABLE relation" in statement:
            raise RuntimeError("pulled plug")

    try:
        with pytest.raises(RuntimeError, match="pulled plug"):
            open_database(url)
    finally:
        event.remove(Engine, "before_cursor_execute", _pull_the_plug)
    assert inspect(database.engine).get_table_names() == []
    database.engine.dispose()
    open_database(url).engine.dispose()


@pytest.mark.parametrize("value", [float("nan"), float("inf")])
def test_a_number_that_is_none_is_never_kept(database: Database, value: float) -> None:
    evidence = Evidence(kind=EvidenceKind.ESTIMATE, source="parts.xlsx, row 4")
    part = replace(PART, ratings=(Rating(name="torque", value=value, evidence=evidence),))
    with pytest.raises(ValueError, match="not JSON compliant"):
        put(database, part)
    with database.read() as view:
        assert view.parts() == ()
        assert view.loads() == ()


def test_a_name_too_long_for_a_server_is_a_sentence(postgres_url: str) -> None:
    database = open_database(postgres_url)
    with pytest.raises(StoreError, match="more than 64 characters; shorten it in the sheet"):
        put(database, replace(PART, id="P" * 65))
    database.engine.dispose()


def test_no_constraint_lets_an_orphan_in(database: Database) -> None:
    put(database, PART)
    for statement in (
        "INSERT INTO part_fit VALUES (99, 0, 'KX2', 'rods', true)",
        "INSERT INTO rating (revision_id, position, name, spread, meaning, conditions, evidence_kind, evidence_source,"
        " evidence_detail, text) VALUES (99, 0, 'x', 0, 'nominal', '[]', 'estimate', '', '', '')",
        "INSERT INTO interface VALUES (99, 0, 'a', 'b')",
        "INSERT INTO relation (revision_id, position, kind, text) VALUES (99, 0, 'requires', '')",
        "UPDATE part_revision SET superseded_by = 99",
        "DELETE FROM load",
        "DELETE FROM part_revision",
    ):
        with pytest.raises(StoreError, match=r"(?i)foreign key"), database.write() as unit:
            unit._connection.execute(text(statement))
    with database.read() as view:
        assert view.parts() == (PART,)
