"""The demo shop, read once from its sheets and kept in a database for the whole run."""

from pathlib import Path

import pytest

from graph.store import open_database
from ingest.book import read_book, store_book

SEED = Path(__file__).resolve().parent.parent / "seed_parts"


@pytest.fixture(scope="session")
def demo_book():
    """The demo shop's sheets as records."""
    return read_book([SEED])


@pytest.fixture(scope="session")
def demo_database(demo_book, tmp_path_factory):
    """A database that holds the demo shop; tests only read it."""
    database = open_database(f"sqlite:///{tmp_path_factory.mktemp('demo')}/shop.sqlite")
    store_book(database, demo_book, who="tests", version="0")
    return database


@pytest.fixture
def shop(demo_database):
    """A view of the demo shop."""
    with demo_database.read() as view:
        yield view
