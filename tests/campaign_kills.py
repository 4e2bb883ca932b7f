"""Kill the program at random moments while it loads, plans, keeps a pull, migrates and recovers: nothing may be lost.

Run from the project's folder: ``python tests/campaign_kills.py [--kills 200] [--server]``. Each kill is a SIGKILL of a
process of its own. After each the database must be sound, hold every piece of work whole or not at all, and hold
every piece that was acknowledged. ``--server`` kills clients of a PostgreSQL server instead of users of a file.
"""

from __future__ import annotations

import argparse
import os
import random
import shutil
import signal
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from contextlib import ExitStack, suppress
from dataclasses import replace
from pathlib import Path

from sqlalchemy import func, select

from graph.capacity import Trial
from graph.store import Database, backup, broken, check_copy, open_database, recover, schema_version
from graph.store import table as t
from graph.store.notebook import add_trials
from graph.store.schema import head_version, move, versions
from ingest.book import Book, read_book, store_book
from ui.cli import main as program

SEED = Path(__file__).resolve().parent.parent / "seed_parts"
TRIALS = 20
TRIAL = Trial(
    car="car-a", slot="tank pump", kind="tank_pump", rating="flow", part=None, reached=False, demand=1.0,
    capacity=1.0, rated=1.0, spread=0.1, source="d1.csv", date="2026-03-02", text="campaign",
)  # fmt: skip
Say = Callable[[str], None]


class Ground:
    """Databases to break: a loaded one, and copies of it; a file or a database of a server."""

    def __init__(self, folder: Path, server: Path | None) -> None:
        self.folder, self.server, self.book, self._made = folder, server, read_book([SEED]), 0
        self.base = self._new()
        database = open_database(self.base)
        store_book(database, self.book, who="shop", version="0")
        self.whole = content(database)
        self.spare = folder / "spare.sqlite"
        backup(database, self.spare)
        database.engine.dispose()  # brings everything into the file, so that it can be copied
        self.old = self.copy(self.base)
        opened = open_database(self.old)
        for revision in versions()[-2::-1]:
            move(opened.engine, revision, down=True)
        opened.engine.dispose()
        self.live = self.copy(self.base)

    def _new(self) -> str:
        self._made += 1
        if self.server is not None:
            from support.postgres_server import new_database

            return new_database(self.server)
        return f"sqlite:///{self.folder / f'shop{self._made}.sqlite'}"

    def copy(self, url: str) -> str:
        """A copy to break."""
        if self.server is None:
            made = self._new()
            shutil.copy(url.removeprefix("sqlite:///"), made.removeprefix("sqlite:///"))
            return made
        from support.postgres_server import copy_database

        return copy_database(self.server, url)

    def drop(self, url: str) -> None:
        """Take a copy away."""
        if self.server is None:
            for file in self.folder.glob(Path(url.removeprefix("sqlite:///")).name + "*"):
                file.unlink()
        else:
            from support.postgres_server import drop_database

            drop_database(self.server, url)


def content(database: Database) -> tuple:
    """What the shop reads: parts, platforms, cars and rows."""
    with database.read() as view:
        return view.parts(), view.platforms(), view.cars(), view.rows()


def dearer(book: Book, by: float) -> Book:
    """The same sheets with other prices: every part gets a new revision."""
    return replace(book, parts=[replace(part, price=(part.price or 0.0) + by) for part in book.parts])


def ask(url: str, *words: str) -> None:
    """Run a command; a target out of reach and defects of a log are answers too."""
    try:
        program(["--db", url, *words])
    except SystemExit as left:
        if left.code not in (0, 3, 4):
            raise


def load(ground: Ground, url: str, say: Say) -> None:
    """Load the shop's sheets again and again."""
    database = open_database(url)
    say("go")
    for number in range(10_000):
        store_book(database, dearer(ground.book, 1.0 + number + random.random()), who="killed", version="0")
        say("load")


def command(ground: Ground, url: str, say: Say) -> None:
    """Load the sheets with the command."""
    say("go")
    ask(url, "load", str(SEED), "--replace-corrections")
    say("load")


def plan(ground: Ground, url: str, say: Say) -> None:
    """Plan a car."""
    say("go")
    ask(url, "plan", "car-a", "--power", "305 kW", "--boost", "2.0 bar")
    say("plan")


def pull(ground: Ground, url: str, say: Say) -> None:
    """Read a pull with the command, then keep what pulls showed, again and again."""
    database = open_database(url)
    say("go")
    if random.random() < 0.2:
        ask(url, "pull", "car-a", str(SEED / "logs" / "d1.csv"))
        return
    for _ in range(10_000):
        with database.write() as unit:
            add_trials(unit, [TRIAL] * TRIALS, sha256=os.urandom(32).hex(), who="killed", tool_version="0")
        say("pull")


def migrate(ground: Ground, url: str, say: Say) -> None:
    """Bring an old database up."""
    say("go")
    open_database(url)
    say("migrate")


def bring_back(ground: Ground, url: str, say: Say) -> None:
    """Bring a database back to a copy."""
    say("go")
    recover(url, ground.spare)
    say("recover")


#: What is killed -> (the work, its share of the kills).
WORK: dict[str, tuple[Callable[[Ground, str, Say], None], int]] = {
    "load": (load, 6),
    "load command": (command, 2),
    "plan": (plan, 2),
    "pull": (pull, 4),
    "migrate": (migrate, 5),
    "recover": (bring_back, 1),
}
#: A kill comes at a random moment of this many times the work's own duration; work that is repeated goes on longer.
BEYOND, BEYOND_REPEATED = 1.4, 4.0
LONGEST = 6.0  # of one piece of work that is waited for [s]


def killed(work: Callable[[Ground, str, Say], None], ground: Ground, url: str, after: float | None) -> Counter[str]:
    """Start some work in a process, kill it after a while, and return what it had been told is done."""
    reading, writing = os.pipe()
    worker = os.fork()
    if worker == 0:
        os.close(reading)
        silent = os.open(os.devnull, os.O_WRONLY)
        os.dup2(silent, 1)
        os.dup2(silent, 2)
        random.seed(os.getpid())
        try:
            work(ground, url, lambda word: (os.write(writing, f"{word}\n".encode()), None)[1])
        except BaseException as error:
            os.write(writing, f"failed {error!r}\n".encode())
        finally:
            os._exit(0)
    os.close(writing)
    said = b""
    while b"\n" not in said and (piece := os.read(reading, 4096)):
        said += piece
    if after is None:  # until its first piece of work is done
        said += os.read(reading, 4096)
    else:
        time.sleep(after)
    with suppress(ProcessLookupError):
        os.kill(worker, signal.SIGKILL)
    os.waitpid(worker, 0)
    while piece := os.read(reading, 4096):
        said += piece
    os.close(reading)
    return Counter(said.decode().split("\n")) - Counter(["go", ""])


def durations(ground: Ground, only: list[str]) -> dict[str, float]:
    """How long the first piece of each work takes on this machine today [s]."""
    found = {}
    for name in only:
        work = WORK[name][0]
        if name == "recover" and ground.server is not None:  # into an empty database only: nothing to spoil
            continue
        url = ground.copy(ground.old if name == "migrate" else ground.base)
        started = time.perf_counter()
        failed = [word for word in killed(work, ground, url, None) if word.startswith("failed")]
        if failed:
            sys.exit(f"{name} does not even work undisturbed: {failed[0]}")
        found[name] = min(time.perf_counter() - started, LONGEST)
        ground.drop(url)
    return found


def wrong(ground: Ground, url: str, before: Counter[str], acknowledged: Counter[str]) -> list[str]:
    """What is not as it must be after a kill, and the count of whole pieces of work afterwards in `before`."""
    found = []
    database = open_database(url)
    with database.read() as view:
        connection = view._connection
        if database.engine.dialect.name == "sqlite":
            said = connection.exec_driver_sql("PRAGMA integrity_check").scalar()
            if said != "ok":
                found.append(f"corrupted: {said}")
            if connection.exec_driver_sql("PRAGMA foreign_key_check").first() is not None:
                found.append("corrupted: a row refers to nothing")
        if broken(view) is not None:
            found.append("corrupted: the audit trail")
        expected = Counter((row.file, row.number) for row in ground.book.rows)
        rows = dict(
            connection.execute(select(t.sheet_row.c.load_id, func.count()).group_by(t.sheet_row.c.load_id)).all()
        )
        files = Counter(row.file for row in ground.book.rows)
        by_name = {source.name: files[source.name] for source in ground.book.sources}
        loads = [row for row in view.loads() if row["name"] in by_name]
        if any(rows.get(row["id"], 0) != by_name[row["name"]] for row in loads) or len(loads) % len(by_name):
            found.append(f"half-loaded: {len(loads)} files of {len(by_name)}, {sum(expected.values())} rows each")
        if len(view.parts()) != len(ground.book.parts):
            found.append(f"half-loaded: {len(view.parts())} parts of {len(ground.book.parts)}")
        trials = (
            connection.execute(select(func.count()).select_from(t.trial).group_by(t.trial.c.load_id)).scalars().all()
        )
        if set(trials) - {TRIALS}:
            found.append(f"half-loaded: pulls of {sorted(set(trials))} trials")
        now = Counter({"load": len(loads) // len(by_name), "pull": len(trials)})
    database.engine.dispose()
    found += [
        f"lost: {what} {before[what]} + {acknowledged[what]} acknowledged, found {now[what]}"
        for what in ("load", "pull")
        if not before[what] + acknowledged[what] <= now[what] <= before[what] + acknowledged[what] + 1
    ]
    before.update(now - before)
    return found


def wrong_after_migration(ground: Ground, url: str, acknowledged: Counter[str]) -> tuple[list[str], str]:
    """What is not as it must be after a killed migration, and the schema that it left."""
    database = open_database(url, migrate=False)
    left = str(schema_version(database))
    database.engine.dispose()
    found = [] if left in (versions()[0], head_version()) else [f"half-migrated: schema {left}"]
    if acknowledged["migrate"] and left != head_version():
        found.append("lost: an acknowledged migration")
    database = open_database(url)
    if content(database) != ground.whole:
        found.append("lost: records in a migration")
    database.engine.dispose()
    return found, left


def campaign(ground: Ground, kills: int, only: list[str]) -> bool:
    """Kill, look, and print what came of it."""
    done: Counter[str] = Counter()
    count, acknowledged_in_all, schemas = Counter({"load": 1}), 0, Counter[str]()
    troubles: list[str] = []
    takes = durations(ground, only)
    print(", ".join(f"{name} takes {seconds:.2f} s" for name, seconds in takes.items()), flush=True)
    longest = {n: seconds * (BEYOND_REPEATED if n in ("load", "pull") else BEYOND) for n, seconds in takes.items()}
    names = [name for name, (_, share) in WORK.items() if name in takes for _ in range(share)]
    random.shuffle(names)
    for number in range(kills):
        name = names[number % len(names)]
        work, after = WORK[name][0], random.uniform(0.0, longest[name])
        if name == "migrate":
            url = ground.copy(ground.old)
            acknowledged = killed(work, ground, url, after)
            found, left = wrong_after_migration(ground, url, acknowledged)
            schemas[left] += 1
            ground.drop(url)
        elif name == "recover":
            url = ground.copy(ground.base)
            acknowledged = killed(work, ground, url, after)
            found = wrong(ground, url, Counter({"load": 1}), Counter())
            check_copy(ground.spare)
            ground.drop(url)
        else:
            acknowledged = killed(work, ground, ground.live, after)
            acknowledged_in_all += acknowledged["load"] + acknowledged["pull"]
            found = wrong(ground, ground.live, count, acknowledged)
        found += [word for word in acknowledged if word.startswith("failed")]
        done[name] += 1
        troubles += [f"kill {number}, {name}: {what}" for what in found]
    print(f"{sum(done.values())} kills: {', '.join(f'{n} in {name}' for name, n in done.items())}")
    print(
        f"{acknowledged_in_all} pieces of work acknowledged, {count['load'] - 1} loads and {count['pull']} pulls found"
    )
    print(f"schemas left by killed migrations: {dict(schemas)}")
    for word in ("corrupted", "half-", "lost"):
        print(f"{sum(f': {word}' in trouble for trouble in troubles)} {word}")
    for trouble in troubles[:10]:
        print(f"  {trouble}")
    return not troubles


def main() -> None:
    """Read the command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", nargs="+", choices=list(WORK), default=list(WORK), help="kill this work alone")
    parser.add_argument("--server", action="store_true", help="clients of a PostgreSQL server started for this run")
    given = parser.parse_args()
    random.seed(given.seed)
    with ExitStack() as stack:
        server = None
        if given.server:
            from support.postgres_server import running_server

            server = stack.enter_context(running_server(durable=True))
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        passed = campaign(Ground(folder, server), given.kills, given.only)
    sys.exit(0 if passed else 1)


if __name__ == "__main__":
    main()
