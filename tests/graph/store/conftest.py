"""A fresh database for every test: a SQLite file, and a database on a real PostgreSQL server."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from graph.store import Database, open_database


@pytest.fixture
def sqlite_url(tmp_path: Path) -> str:
    """Address of a SQLite file that does not exist yet, in a folder that does not exist yet."""
    return f"sqlite:///{tmp_path / 'shop' / 'book.sqlite'}"


@pytest.fixture(params=["sqlite_url", "postgres_url"])
def url(request: pytest.FixtureRequest) -> str:
    """Address of an empty database, on SQLite and on PostgreSQL."""
    return str(request.getfixturevalue(request.param))


@pytest.fixture
def database(url: str) -> Iterator[Database]:
    """An empty database at the schema of the program."""
    opened = open_database(url)
    yield opened
    opened.engine.dispose()
