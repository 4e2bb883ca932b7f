"""The demo shop, read once from its sheets and kept in a database for the whole run."""

import hashlib
from collections.abc import Iterator
from pathlib import Path

import pytest
from postgres_server import NoServer, drop_database, new_database, running_server
from sqlalchemy.engine import URL, make_url

from graph.store import database as opening
from graph.store import open_database
from ingest.book import read_book, store_book

SEED = Path(__file__).resolve().parent.parent / "seed_parts"


def pytest_addoption(parser: pytest.Parser) -> None:
    """Let a developer run any test on a server."""
    parser.addoption(
        "--on-server", action="store_true", help="every SQLite file that a test makes is a PostgreSQL database"
    )


def pytest_configure(config: pytest.Config) -> None:
    """Name the tests that are about a file."""
    config.addinivalue_line("markers", "of_a_file: about a SQLite file itself, so not run with --on-server")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """With ``--on-server``: leave out what is about a file."""
    if config.getoption("--on-server"):
        about_files = [item for item in items if _is_of_a_file(item)]
        config.hook.pytest_deselected(items=about_files)
        items[:] = [item for item in items if not _is_of_a_file(item)]


def _is_of_a_file(item: pytest.Item) -> bool:
    """Whether a test is about a file: marked so, or one that asks for a file by its fixture."""
    asked = getattr(item, "callspec", None)
    chosen = "" if asked is None else asked.params.get("url", "")
    return (
        item.get_closest_marker("of_a_file") is not None
        or chosen == "sqlite_url"
        or (chosen != "postgres_url" and "sqlite_url" in getattr(item, "fixturenames", ()))
    )


@pytest.fixture(scope="session")
def postgres_folder() -> Iterator[Path]:
    """Folder of the socket of a running PostgreSQL server."""
    try:
        with running_server() as folder:
            yield folder
    except NoServer as error:
        pytest.fail(str(error))


@pytest.fixture
def postgres_url(postgres_folder: Path) -> Iterator[str]:
    """Address of an empty PostgreSQL database."""
    url = new_database(postgres_folder)
    yield url
    drop_database(postgres_folder, url)


@pytest.fixture(scope="session", autouse=True)
def _every_file_a_server(request: pytest.FixtureRequest) -> Iterator[None]:
    """With ``--on-server``: a SQLite file that does not exist yet stands for a database on a PostgreSQL server."""
    if not request.config.getoption("--on-server"):
        yield
        return
    folder = request.getfixturevalue("postgres_folder")
    known: dict[str, URL] = {}

    def elsewhere(url: str) -> URL:
        parsed = make_url(url)
        if parsed.get_backend_name() != "sqlite" or not parsed.database or Path(parsed.database).exists():
            return parsed
        name = hashlib.sha256(parsed.database.encode()).hexdigest()
        if name not in known:
            known[name] = make_url(new_database(folder))
        return known[name]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(opening, "make_url", elsewhere)
        yield


@pytest.fixture(scope="session", autouse=True)
def _cache_of_the_run(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Finished frontiers go to a folder of this run, in programs that tests start too.

    What stays from run to run, such as pictures of pages and fetched archives, has named its own folder before.
    """
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_CACHE_HOME", str(tmp_path_factory.mktemp("cache")))
        yield


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
