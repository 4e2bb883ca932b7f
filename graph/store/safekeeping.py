"""Copies of a database: made while it is in use, checked, and brought back."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from urllib.parse import quote

from sqlalchemy import URL, Connection, create_engine, func, insert, inspect, select, text

from graph.actor import LOCAL, Role
from graph.errors import StoreError
from graph.store.database import Database, make_folder, open_database, sentences
from graph.store.schema import WRITES, found_version, versions
from graph.store.table import metadata
from graph.store.trail import broken, note, trail

BATCH = 2000  # rows carried at a time


def backup(database: Database, path: Path, *, who: str = "") -> None:
    """Copy a database into a new SQLite file while it is in use, and check the copy.

    Parameters
    ----------
    database : Database
        What to copy, a file or a server.
    path : Path
        New file; it must not exist.
    who : str
        Name of a local actor.

    Raises
    ------
    StoreError
        The file exists, or the copy is damaged.
    NotAllowed
        The actor does not administer the database.
    """
    with database.read() as view:
        view.actor.need("back up", Role.ADMINISTER)
    make_folder(str(path), path)
    try:
        path.open("xb").close()  # taken before the copy, so that nobody else's file is overwritten or removed
    except FileExistsError as error:
        raise StoreError(f"{path} exists; name a new file") from error
    except OSError as error:
        raise StoreError(f"the copy {path} cannot be made ({error.strerror}); check the rights") from error
    try:
        if database.engine.dialect.name == "sqlite":
            with sentences(database.url), database.engine.connect() as connection:
                connection.connection.cursor().execute("VACUUM INTO ?", (str(path),))
        else:
            _copy_from_server(database, path)
        check_copy(path)
    except BaseException:
        for suffix in ("", "-wal", "-shm", "-journal"):
            path.with_name(path.name + suffix).unlink(missing_ok=True)
        raise
    with suppress(StoreError), database.write() as unit:  # a file that may only be read can still be copied
        note(unit._connection, unit.actor, "back up", path.name, who=who)


def check_copy(path: Path) -> str:
    """Check a copy: whole, of this program, nothing referring to nothing, the audit trail unbroken.

    Parameters
    ----------
    path : Path
        A SQLite file.

    Returns
    -------
    str
        Its schema.

    Raises
    ------
    StoreError
        What is wrong with it.
    """
    if not path.is_file():
        raise StoreError(f"{path} is no file; name a copy made with 'pinchpoint backup'")
    engine = create_engine(
        URL.create("sqlite", database=f"file:{_quoted(path)}?mode=ro&immutable=1", query={"uri": "true"})
    )
    try:
        with sentences(str(path)), engine.connect() as connection:
            said = connection.execute(text("PRAGMA integrity_check")).scalar()
            if said != "ok":
                raise StoreError(f"the copy {path} is damaged ({said}); take another copy")
            found = found_version(connection)
            if found is None:
                raise StoreError(
                    f"{path} is no copy of this program's database; name a file made with 'pinchpoint backup'"
                )
            if found not in versions():
                raise StoreError(f"{path} has schema {found}, made by a newer program; update this one first")
            orphan = connection.exec_driver_sql("PRAGMA foreign_key_check").first()
            if orphan is not None:
                raise StoreError(f"the copy {path} is damaged (table {orphan[0]}, row {orphan[1]}); take another copy")
            if "audit" in inspect(connection).get_table_names():
                with Database(engine=engine, url=str(path)).read() as view:
                    entry = broken(view)
                if entry is not None:
                    raise StoreError(f"the audit trail of {path} was changed at entry {entry}; take another copy")
    finally:
        engine.dispose()
    return found


def recover(url: str, copy: Path, *, who: str = "", place: str = "this machine") -> Path | None:
    """Bring a database back to a copy, in one transaction; what stood there before is kept in a file beside it.

    Parameters
    ----------
    url : str
        SQLAlchemy URL of the database: a SQLite file, or an empty database on a server.
    copy : Path
        Made by :func:`backup`, by this or an older program.
    who, place : str
        Who does it, and from where.

    Returns
    -------
    Path or None
        Where the state before is kept; None where there was none.

    Raises
    ------
    StoreError
        The copy is damaged, or the database on the server is not empty; nothing was changed.
    """
    check_copy(copy)
    database = open_database(url).acting(replace(LOCAL, place=place))
    kept: Path | None = None
    try:
        if database.engine.dialect.name == "sqlite":
            kept = _keep_present(database)
            before = _end_of_trail(database)
            with sentences(database.url), _at_head(copy) as source, database.engine.connect() as connection:
                target = connection.connection.driver_connection
                assert isinstance(target, sqlite3.Connection)
                with closing(sqlite3.connect(source)) as from_copy:
                    from_copy.backup(target)
        else:
            before = _end_of_trail(database)
            with sentences(str(copy)), _at_head(copy) as source:
                _copy_to_server(source, database)
        with database.write() as unit:
            detail = {"trail before": before, "kept": kept.name if kept is not None else None}
            note(unit._connection, unit.actor, "recover", copy.name, who=who, detail=detail)
    finally:
        database.engine.dispose()
    return kept


def _keep_present(database: Database) -> Path | None:
    """Copy of what stands there, unless nothing does."""
    with database.read() as view:
        if not trail(view, last=1) and not view.loads():
            return None
    file = Path(str(database.engine.url.database))
    kept = file.with_name(f"{file.stem} before {datetime.now(UTC):%Y-%m-%d %H%M%S.%f}{file.suffix}")
    backup(database, kept)
    return kept


def _end_of_trail(database: Database) -> str | None:
    with database.read() as view:
        last = trail(view, last=1)
    return last[0].digest if last else None


@contextmanager
def _at_head(copy: Path) -> Iterator[str]:
    """Name of a passing copy of a copy, brought to this program's schema."""
    with TemporaryDirectory(prefix="recover-") as folder:
        passing = Path(folder) / "copy.sqlite"
        with (
            closing(sqlite3.connect(f"file:{_quoted(copy)}?mode=ro&immutable=1", uri=True)) as source,
            closing(sqlite3.connect(passing)) as target,
        ):
            source.backup(target)
        opened = open_database(f"sqlite:///{passing}")
        _close_log(opened, "PRAGMA wal_checkpoint(TRUNCATE)")
        opened.engine.dispose()
        yield str(passing)


def _close_log(database: Database, pragma: str) -> None:
    """Bring what stands in the write-ahead log into the file itself; it cannot be done inside a transaction."""
    with database.engine.connect() as connection:
        connection.connection.cursor().execute(pragma)


def _quoted(path: Path) -> str:
    return quote(str(path.resolve()))


def _copy_from_server(database: Database, path: Path) -> None:
    copy = open_database(str(URL.create("sqlite", database=str(path))))
    with database.read() as view, sentences(str(path)), copy.engine.connect() as target:
        target.connection.cursor().execute("PRAGMA foreign_keys=OFF")  # has no effect inside a transaction
        with target.execution_options(**{WRITES: True}).begin():
            _carry(view._connection, target)
    _close_log(copy, "PRAGMA journal_mode=DELETE")
    copy.engine.dispose()


def _copy_to_server(copy: str, database: Database) -> None:
    source = open_database(f"sqlite:///{copy}")
    with source.read() as view, sentences(database.url), database.engine.connect() as connection:
        target = connection.execution_options(**{WRITES: True})
        with target.begin():
            held = [table.name for table in metadata.sorted_tables if target.execute(select(table).limit(1)).first()]
            if held:
                raise StoreError(
                    f"database {database.url} is not empty ({held[0]}); create a new one on the server and recover into it"
                )
            _carry(view._connection, target)
            for table in metadata.sorted_tables:
                if "id" in table.c:
                    last = target.execute(select(func.max(table.c.id))).scalar()
                    if last is not None:
                        target.execute(
                            text(f"SELECT setval(pg_get_serial_sequence('{table.name}', 'id'), {int(last)})")
                        )
    source.engine.dispose()


def _carry(source: Connection, target: Connection) -> None:
    """Carry every row over; newest first, since a revision refers to the later one that replaced it."""
    for table in metadata.sorted_tables:
        rows = source.execute(select(table).order_by(*(column.desc() for column in table.primary_key)))
        while batch := rows.mappings().fetchmany(BATCH):
            target.execute(insert(table), [dict(row) for row in batch])
        counted = [c.execute(select(func.count()).select_from(table)).scalar() for c in (source, target)]
        if counted[0] != counted[1]:
            raise StoreError(
                f"table {table.name}: {counted[1]} of {counted[0]} rows arrived; nothing was changed, repeat"
            )
