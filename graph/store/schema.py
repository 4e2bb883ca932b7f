"""The schema's versions, and the way from one to another."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, Engine

from graph.errors import StoreError

MIGRATIONS = Path(__file__).parent / "migrations"
WRITES = "pinchpoint_writes"  # execution option of a connection that will write


def _config() -> Config:
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS).replace("%", "%%"))
    return config


def versions() -> list[str]:
    """Every schema that this program knows, oldest first."""
    return [script.revision for script in ScriptDirectory.from_config(_config()).walk_revisions()][::-1]


def head_version() -> str:
    """Schema that this program works with."""
    return str(ScriptDirectory.from_config(_config()).get_current_head())  # refuses two ends


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
