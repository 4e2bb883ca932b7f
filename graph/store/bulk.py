"""Many rows of one table at once, by what each driver does fastest, inside the transaction that is open."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sqlalchemy import Connection, Table
from sqlalchemy.exc import DBAPIError


def insert_many(connection: Connection, target: Table, names: Sequence[str], rows: Sequence[tuple[Any, ...]]) -> None:
    """Insert rows whose values are what the driver stores; JSON comes as its text.

    Parameters
    ----------
    connection : Connection
        With its transaction.
    target : Table
        Takes the rows.
    names : sequence of str
        Its columns.
    rows : sequence of tuple
        A value for each column.

    Raises
    ------
    DBAPIError
        The database refuses.
    """
    if not rows:
        return
    columns = ", ".join(connection.dialect.identifier_preparer.quote(name) for name in names)
    table = connection.dialect.identifier_preparer.format_table(target)
    if connection.dialect.name == "sqlite":
        statement = f"INSERT INTO {table} ({columns}) VALUES ({', '.join('?' * len(names))})"
        connection.exec_driver_sql(statement, list(rows))
        return
    statement = f"COPY {table} ({columns}) FROM STDIN"
    driver: Any = connection.connection.driver_connection
    try:
        with driver.cursor() as cursor, cursor.copy(statement) as copy:
            for row in rows:
                copy.write_row(row)
    except connection.dialect.loaded_dbapi.Error as error:
        raise DBAPIError(statement, None, error) from error
