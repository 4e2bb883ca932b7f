"""The migrations and the tables in the program say the same, up and down, on both engines."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import inspect, text

from graph.errors import StoreError
from graph.model import Evidence, EvidenceKind, Part, Rating
from graph.store import SheetRow, migrate, open_database, schema_version
from graph.store.schema import MIGRATIONS, head_version, move, versions
from graph.store.table import metadata


def test_an_empty_database_has_no_schema_until_it_is_migrated(url: str) -> None:
    database = open_database(url, migrate=False)
    assert schema_version(database) is None
    assert migrate(url) == (None, head_version())
    assert schema_version(database) == head_version()
    assert migrate(url) == (head_version(), head_version())
    database.engine.dispose()


def test_opening_brings_an_old_database_up(url: str) -> None:
    open_database(url, migrate=False).engine.dispose()
    database = open_database(url)
    assert schema_version(database) == head_version()
    database.engine.dispose()


def test_the_migrated_schema_is_the_one_in_the_program(url: str) -> None:
    database = open_database(url)
    with database.engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True, "render_as_batch": True})
        assert compare_metadata(context, metadata) == []
    database.engine.dispose()


def test_up_down_and_up_again_step_by_step(url: str) -> None:
    database = open_database(url, migrate=False)
    for number, revision in enumerate(versions()):
        move(database.engine, revision)
        move(database.engine, "base" if number == 0 else versions()[number - 1], down=True)
        move(database.engine, revision)
        assert schema_version(database) == revision
    move(database.engine, "base", down=True)
    assert set(inspect(database.engine).get_table_names()) <= {"alembic_version", "role_grant", "audit"}
    database.engine.dispose()


def test_there_is_one_line_of_versions(url: str) -> None:
    database = open_database(url)
    with database.engine.connect() as connection:
        stamped = connection.execute(text("SELECT version_num FROM alembic_version")).scalars().all()
    assert stamped == [head_version()] == [versions()[-1]]
    database.engine.dispose()


@pytest.mark.parametrize("bring_up", [True, False])
def test_a_newer_schema_is_refused_and_left_alone(url: str, bring_up: bool) -> None:
    database = open_database(url)
    with database.write() as unit:
        load = unit.record_load(name="parts.xlsx", sha256="0" * 64, who="bench", tool_version="0.1.0")
        unit.add_parts(load, [Part(id="PY-1", kind="rods", name="rod set")])
    with database.engine.begin() as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = '9999'"))
    with pytest.raises(StoreError, match=r"has schema 9999, made by a newer program; .* update it"):
        open_database(url, migrate=bring_up)
    assert schema_version(database) == "9999"
    with database.read() as view:
        assert len(view.parts()) == 1
    database.engine.dispose()


def test_migrations_need_no_file_outside_the_package(url: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    database = open_database(url)
    assert schema_version(database) == head_version()
    assert not list(tmp_path.glob("*.ini"))
    database.engine.dispose()


def test_records_outlive_every_step_down_and_up(url: str) -> None:
    # SQLite rebuilds a whole table for most changes; rows that refer to each other must come through that.
    database = open_database(url)
    source = "parts.xlsx, sheet 'Engine', row 4"
    rating = Rating(name="torque", value=500.0, evidence=Evidence(kind=EvidenceKind.OWN_BENCH, source=source))
    part = Part(id="PY-1", kind="rods", name="rod set", fits=("KX2",), ratings=(rating,), source=source)
    row = SheetRow(file="parts.xlsx", sheet="Engine", number=4, cells={"Part": "PY-1"}, outcome="loaded")
    with database.write() as unit:
        load = unit.record_load(name="parts.xlsx", sha256="0" * 64, who="bench", tool_version="0.1.0")
        places = unit.record_rows(load, [row])
        unit.add_parts(load, [part], places)
        unit.add_parts(load, [replace(part, price=5.0)], places)
    for revision in versions()[-2::-1]:
        move(database.engine, revision, down=True)
    move(database.engine, "head")
    with database.read() as view:
        assert view.parts(fits="KX2") == (replace(part, price=5.0),)
        assert view.rows() == (row,)
        assert [r.value for r in view.rating_history("PY-1", "torque")] == [500.0, 500.0]
    with database.engine.connect() as connection:
        if connection.dialect.name == "sqlite":
            assert connection.execute(text("PRAGMA foreign_key_check")).all() == []
    database.engine.dispose()


def test_a_migration_that_meets_an_orphan_changes_nothing(sqlite_url: str) -> None:
    database = open_database(sqlite_url)
    with sqlite3.connect(sqlite_url.removeprefix("sqlite:///")) as stranger:  # SQLite's own default checks no keys
        stranger.execute("INSERT INTO interface VALUES (99, 0, 'flange', 'four bolts')")
    stranger.close()
    with pytest.raises(StoreError, match=r"table interface, row 1 would refer to nothing.*nothing was changed"):
        move(database.engine, versions()[-2], down=True)
    assert schema_version(database) == head_version()
    database.engine.dispose()


def test_file_names_are_the_line_of_migrations():
    # alembic's own reading of the scripts is the outside source of the line that the names tell
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS))
    script = ScriptDirectory.from_config(config)
    assert versions() == [step.revision for step in script.walk_revisions()][::-1]
    assert head_version() == script.get_current_head()


def test_an_up_to_date_book_is_opened_without_the_mover(tmp_path: Path):
    url = f"sqlite:///{tmp_path / 'shop.sqlite'}"
    open_database(url)
    asked = (
        f"import sys; from graph.store import open_database; open_database({url!r}); print('alembic' in sys.modules)"
    )
    said = subprocess.run([sys.executable, "-c", asked], capture_output=True, text=True, check=True)
    assert said.stdout.strip() == "False"
