"""Opening, migrating and copying a database."""

from __future__ import annotations

import logging
import re
import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event, inspect
from sqlalchemy.engine import make_url
from sqlalchemy.exc import ArgumentError, DBAPIError
from sqlalchemy.exc import TimeoutError as NoConnectionFree

from graph.actor import LOCAL, WRITING, Actor, Role
from graph.errors import Conflict, NoAddress, NotAllowed, PinchpointError, StoreError
from graph.store.people import granted
from graph.store.schema import WRITES, found_version, head_version, move, versions
from graph.store.unit import Unit
from graph.store.view import View

SECRETS = ("password", "sslpassword")  # an address may carry them behind its question mark too
OUTLIVING = ("role_grant", "audit")  # tables that stay when a database goes back to no schema at all
JOURNAL = logging.getLogger("pinchpoint.store")
JOURNAL.addHandler(logging.NullHandler())  # silent until the program starts its journal
WRITER_LOCK = 7031  # any number; one writer at a time on a server, as SQLite has it anyway


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Database:
    """An open database.

    Parameters
    ----------
    engine : Engine
        Its connections.
    url : str
        Where it is, without a password.
    actor : Actor
        Who uses it; their roles are looked up anew in every transaction.
    """

    engine: Engine
    url: str
    actor: Actor = LOCAL

    def acting(self, actor: Actor) -> Database:
        """The same database in the hands of somebody."""
        return replace(self, actor=actor)

    def _known(self, connection: Connection) -> Actor:
        """The actor with the roles that the shop granted, as this transaction sees them."""
        if self.actor.local:
            return self.actor
        return replace(self.actor, roles=granted(connection, self.actor.name))

    @contextmanager
    def write(self) -> Iterator[Unit]:
        """One use case that adds; nothing stays if it is left by an exception.

        Yields
        ------
        Unit
            Reads and adds.

        Raises
        ------
        StoreError
            The database refuses: locked, read only, full, lost.
        NotAllowed
            The actor may only look, or not even that.
        """
        with _told(self), sentences(self.url), self.engine.connect() as connection:
            connection = connection.execution_options(**{WRITES: True})
            with connection.begin():
                actor = self._known(connection)
                actor.need("change anything", *WRITING)
                yield Unit(connection, actor)

    @contextmanager
    def read(self) -> Iterator[View]:
        """One use case that only reads.

        Yields
        ------
        View
            Current records.

        Raises
        ------
        StoreError
            The database refuses.
        NotAllowed
            The shop granted the actor no role.
        """
        with sentences(self.url), self.engine.connect() as connection:
            if self.engine.dialect.name == "postgresql":  # else each query sees what was committed before it
                connection = connection.execution_options(isolation_level="REPEATABLE READ", postgresql_readonly=True)
            with connection.begin():
                actor = self._known(connection)
                actor.need("look at the book", *Role)
                yield View(connection, actor)


@contextmanager
def _told(database: Database) -> Iterator[None]:
    """Write into the program's journal what became of a writing transaction, by whom and how long it took."""
    started = time.perf_counter()

    def tell(level: int, message: str, outcome: str) -> None:
        facts = {"who": database.actor.name or None, "place": database.actor.place, "outcome": outcome}
        JOURNAL.log(level, message, extra={**facts, "seconds": round(time.perf_counter() - started, 3)})

    try:
        yield
    except (NotAllowed, Conflict) as refusal:
        tell(logging.INFO, str(refusal), "refused")
        raise
    except StoreError as error:
        tell(logging.ERROR, str(error), "failed")
        raise
    else:
        tell(logging.INFO, "written", "committed")


@contextmanager
def sentences(url: str) -> Iterator[None]:
    """Turn what a database says into one sentence with its remedy.

    Parameters
    ----------
    url : str
        The database as shown, without a password.

    Raises
    ------
    StoreError
        The database refused.
    """
    try:
        yield
    except PinchpointError:
        raise
    except (DBAPIError, sqlite3.Error, NoConnectionFree) as error:
        raise StoreError(_sentence(url, str(getattr(error, "orig", error)))) from error


def _sentence(url: str, said: str) -> str:
    reasons = {
        "locked": "another program holds it; close that program or try again",
        "readonly": "it is read only; check the rights of file and folder",
        "read-only": "it is read only; check the rights of file and folder",
        "no space left": "the disk is full; free space and repeat, nothing was changed",
        "full": "the disk is full; free space and repeat, nothing was changed",
        "unable to open": "it cannot be opened; check that the folder exists and may be written",
        "not a database": "it is not a database of this program; name another file with --db",
        "disk i/o error": "the disk cannot be read or written; check it and repeat, nothing was changed",
        "malformed": "it is damaged; bring a copy back with 'pinchpoint recover FILE'",
        "password authentication failed": "user or password is wrong; correct the address",
        "does not exist": "the server knows no such database or user; create it or correct the address",
        "value too long": "a part number, code or name has more than 64 characters; shorten it in the sheet",
        "queuepool": "too many people read at once; repeat in a moment, nothing was changed",
        "connection": "the connection failed; check that the server runs and repeat, nothing was changed",
    }
    lowered = said.lower()
    for word, reason in reasons.items():
        if word in lowered and not (word == "does not exist" and "fatal" not in lowered):
            return f"database {url}: {reason}"
    return f"database {url}: {(said.splitlines() or ['it gave up without a reason; repeat'])[0]}"


def open_database(url: str, *, migrate: bool = True) -> Database:
    """Open a database and bring it to the schema of this program.

    Parameters
    ----------
    url : str
        SQLAlchemy URL.
    migrate : bool
        False to leave the schema as it is.

    Returns
    -------
    Database
        Ready for use cases.

    Raises
    ------
    NoAddress
        What is given is no address of a database.
    StoreError
        It cannot be opened, or a newer program made it.
    """
    try:
        parsed = make_url(url)
        if parsed.get_backend_name() == "postgresql" and parsed.drivername == "postgresql":
            parsed = parsed.set(drivername="postgresql+psycopg")
        shown = parsed.difference_update_query(SECRETS).render_as_string(hide_password=True)
        if parsed.get_backend_name() not in ("sqlite", "postgresql") or "\0" in url:
            raise ArgumentError(f"{shown} is neither SQLite nor PostgreSQL")
        if parsed.get_backend_name() == "sqlite" and not _without_folder(str(parsed.database or "")):
            file = Path(str(parsed.database)).expanduser()
            parsed = parsed.set(database=str(file))
            make_folder(shown, file)
        lasting = parsed.get_backend_name() == "sqlite"  # a lost connection to a server is replaced
        engine = create_engine(parsed, pool_pre_ping=not lasting)
    except (ArgumentError, ImportError, ValueError) as error:
        named = re.sub(r"(//[^:/@]*|^[^:/]*):(?!//).*@", r"\1:***@", url)
        raise NoAddress(
            f"{named!r} is no database address of this program; write for example sqlite:///shop.sqlite"
            " or postgresql://user@host/shop"
        ) from error
    if engine.dialect.name == "sqlite":
        _prepare_sqlite(engine)
    else:
        _prepare_server(engine)
    database = Database(engine=engine, url=shown)
    with sentences(shown):
        tables = _tables(engine)  # before the version: another program may make both between the two questions
        found, wanted = schema_version(database), head_version()
        if found is not None and found not in versions():
            raise StoreError(
                f"database {shown} has schema {found}, made by a newer program; this one knows up to {wanted}: update it"
            )
        if found is None and tables:
            raise StoreError(f"database {shown}: it is not a database of this program; name another with --db")
        if migrate and found != wanted:
            move(engine, wanted)
    return database


def _without_folder(name: str) -> bool:
    """Whether a SQLite name is no path: in memory, or SQLite's own ``file:`` address."""
    return name in ("", ":memory:") or name.startswith("file:")


def make_folder(shown: str, file: Path) -> None:
    """Make the folder of a file; a refusal is a sentence about the database that is shown."""
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise StoreError(f"database {shown}: its folder cannot be made ({error.strerror}); check the rights") from error


def _tables(engine: Engine) -> set[str]:
    with engine.connect() as connection:
        return set(inspect(connection).get_table_names()) - {"alembic_version", *OUTLIVING}


def _prepare_server(engine: Engine) -> None:
    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        if connection.get_execution_options().get(WRITES, False):
            connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({WRITER_LOCK})")


def _prepare_sqlite(engine: Engine) -> None:
    @event.listens_for(engine, "connect")
    def _connect(connection: Any, record: Any) -> None:
        connection.isolation_level = None
        cursor = connection.cursor()
        for pragma in ("foreign_keys=ON", "busy_timeout=15000", "journal_mode=WAL", "synchronous=FULL"):
            cursor.execute(f"PRAGMA {pragma}")
        cursor.close()

    @event.listens_for(engine, "begin")
    def _begin(connection: Any) -> None:
        writes = connection.get_execution_options().get(WRITES, False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def schema_version(database: Database) -> str | None:
    """Schema that a database has; None for an empty one."""
    with sentences(database.url), database.engine.connect() as connection:
        return found_version(connection)


def migrate(url: str) -> tuple[str | None, str]:
    """Bring a database to the schema of this program.

    Parameters
    ----------
    url : str
        SQLAlchemy URL.

    Returns
    -------
    before : str or None
        Schema found; None for an empty database.
    after : str
        Schema now.
    """
    database = open_database(url, migrate=False)
    before = schema_version(database)
    database.engine.dispose()
    open_database(url).engine.dispose()
    return before, head_version()
