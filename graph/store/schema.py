"""The schema's versions, and the way from one to another."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from sqlalchemy import Connection, Engine, inspect, text

from graph.errors import StoreError

if TYPE_CHECKING:  # needed where a schema moves, which a start seldom does
    from alembic.config import Config

MIGRATIONS = Path(__file__).parent / "migrations"
WRITES = "pinchpoint_writes"  # execution option of a connection that will write


def _config() -> Config:
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS).replace("%", "%%"))
    return config


def versions() -> list[str]:
    """Every schema that this program knows, oldest first: the numbers in the names of the migrations, one line."""
    return sorted(path.name[1:].partition("_")[0] for path in (MIGRATIONS / "versions").glob("v*_*.py"))


def head_version() -> str:
    """Schema that this program works with."""
    return versions()[-1]


def found_version(connection: Connection) -> str | None:
    """Schema that the database of a connection has; None where it has none."""
    if not inspect(connection).has_table("alembic_version"):
        return None
    found = connection.scalar(text("SELECT version_num FROM alembic_version"))
    return None if found is None else str(found)


def move(engine: Engine, revision: str, *, down: bool = False) -> None:
    """Bring a database to a schema in one transaction; its records stay.

    Parameters
    ----------
    engine : Engine
        Of the database.
    revision : str
        Schema wanted, ``head`` for the newest or ``base`` for none.
    down : bool
        True to go back.

    Raises
    ------
    StoreError
        A record would lose what it refers to; nothing was changed.
    """
    from alembic import command

    config = _config()
    with engine.connect() as connection, _rebuilding(connection):
        connection = connection.execution_options(**{WRITES: True})
        with connection.begin():
            config.attributes["connection"] = connection
            (command.downgrade if down else command.upgrade)(config, revision)
            if engine.dialect.name == "sqlite":
                broken = connection.exec_driver_sql("PRAGMA foreign_key_check").first()
                if broken is not None:
                    raise StoreError(
                        f"table {broken[0]}, row {broken[1]} would refer to nothing in schema {revision};"
                        " nothing was changed, restore a backup"
                    )


@contextmanager
def _rebuilding(connection: Connection) -> Iterator[None]:
    """Let SQLite drop and rebuild a table that others refer to.

    Notes
    -----
    The setting has no effect inside a transaction, so it is made before one.

    References
    ----------
    SQLite, "ALTER TABLE", section 7, "Making Other Kinds Of Table Schema Changes", steps 1, 10 and 12.
    """
    if connection.dialect.name != "sqlite":
        yield
        return
    cursor = connection.connection.cursor()
    cursor.execute("PRAGMA foreign_keys=OFF")
    try:
        yield
    finally:
        cursor.execute("PRAGMA foreign_keys=ON")
        cursor.close()
