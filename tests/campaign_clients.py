"""Several clients at one database: nothing lost, nobody stuck, everything still fits together.

Run from the project's folder: ``python tests/campaign_clients.py [--clients 8] [--transactions 200] [--server | --url URL]``.
Each client is a process of its own and mixes corrections, loads, restored revisions, counted readings of one car and
whole reads. Without an address the database is a SQLite file that is removed afterwards; ``--server`` starts a
PostgreSQL server for the run. Prints what was done and exits with 1 if an invariant does not hold.
"""

from __future__ import annotations

import argparse
import json
import random
import subprocess
import sys
import tempfile
import time
from collections import Counter
from contextlib import ExitStack
from dataclasses import replace

from sqlalchemy import func, select, text

from graph.errors import Conflict, StoreError
from graph.model import Car, Evidence, EvidenceKind, Part, Rating
from graph.store import Database, broken, correct_rating, open_database, restore, revisions, trail
from graph.store import table as t

SHARED = tuple(f"PY-{number}" for number in range(6))
EVIDENCE = Evidence(kind=EvidenceKind.OWN_BENCH, source="campaign, row 1")
PUMP = Part(
    id="", kind="tank_pump", name="pump", fits=("KX2",), ratings=(Rating(name="flow", value=0.0, evidence=EVIDENCE),)
)
CAR = Car(id="car-z", platform="KX2", distance=0.0)
KINDS = ("correct", "load", "restore", "count", "read")


def numbered(part: str, value: float) -> Part:
    """A part whose rating is a number that names who wrote it."""
    return replace(PUMP, id=part, ratings=(replace(PUMP.ratings[0], value=value),))


def client(url: str, number: int, transactions: int) -> None:
    """One client's work; prints what it was told is done, as JSON."""
    chance = random.Random(number)
    database = open_database(url)
    done: Counter[str] = Counter()
    slowest = 0.0
    problems: list[str] = []
    for count in range(transactions):
        kind = chance.choices(KINDS, weights=(3, 2, 1, 3, 3))[0]
        started = time.perf_counter()
        try:
            work(database, kind, chance, number, number * 1e6 + count + 1.0, done)
        except (StoreError, AssertionError) as error:
            problems.append(f"client {number}, {kind}: {error}")
        slowest = max(slowest, time.perf_counter() - started)
    database.engine.dispose()
    print(json.dumps({"done": done, "slowest": slowest, "problems": problems}))


def work(database: Database, kind: str, chance: random.Random, number: int, value: float, done: Counter[str]) -> None:
    """One transaction."""
    part = chance.choice(SHARED)
    who = f"client {number}"
    if kind == "correct":
        with database.read() as view:
            seen = revisions(view, part)[-1].number
        time.sleep(chance.uniform(0.0, 0.01))  # the editor thinks
        try:
            with database.write() as unit:
                correct_rating(unit, part, replace(PUMP.ratings[0], value=value), seen=seen, who=who, tool_version="0")
        except Conflict:
            done["conflict"] += 1
            return
    elif kind == "load":
        with database.write() as unit:
            load = unit.record_load(name="parts.xlsx", sha256="0" * 64, who=who, tool_version="0")
            unit.add_parts(load, [numbered(part, value), numbered(f"OWN-{number}", value)])
    elif kind == "restore":
        with database.read() as view:
            last = revisions(view, part)[-1].number
        with database.write() as unit:
            restore(unit, part, chance.randint(1, last), who=who, tool_version="0")
    elif kind == "count":
        with database.write() as unit:
            car = unit.car(CAR.id)
            assert car is not None
            assert car.distance is not None
            load = unit.record_load(name="distance", sha256="0" * 64, who=who, tool_version="0")
            unit.add_cars(load, [replace(car, distance=car.distance + 1.0)])
    else:
        with database.read() as view:
            found = view.parts(fits="KX2")
            names = [p.id for p in found]
            assert len(names) == len(set(names)), f"a part stands twice: {names}"
            assert set(SHARED) <= set(names), f"a part is missing: {names}"
            assert all(len(p.ratings) == 1 for p in found), "a part was read half"
            assert [p.id for p in view.parts()] == names, "two queries of one reading see different books"
    done[kind] += 1


def invariants(database: Database, done: Counter[str]) -> dict[str, bool]:
    """What must hold afterwards: what it says -> whether it does."""
    c, d = t.part_revision.c, t.document_revision.c
    writes = sum(done[kind] for kind in ("correct", "load", "restore", "count"))
    with database.read() as view:
        query = view._connection.execute
        car = view.car(CAR.id)
        twice = query(select(c.part_id).where(c.superseded_by.is_(None)).group_by(c.part_id).having(func.count() > 1))
        cars = query(select(func.count()).where(d.record_id == CAR.id, d.superseded_by.is_(None))).scalar()
        chained = query(select(func.count()).where(c.superseded_by <= c.id)).scalar()
        pointed = query(
            select(c.superseded_by)
            .where(c.superseded_by.is_not(None))
            .group_by(c.superseded_by)
            .having(func.count() > 1)
        )
        fits = query(
            select(func.count())
            .select_from(t.part_fit.join(t.part_revision, c.id == t.part_fit.c.revision_id))
            .where(t.part_fit.c.current != c.superseded_by.is_(None))
        ).scalar()
        entries = Counter(e.what for e in trail(view))
        corrections = query(
            select(func.count(func.distinct(t.load.c.id))).where(t.load.c.name.like("% corrected"))
        ).scalar()
        corrected = query(
            select(func.count())
            .select_from(t.part_revision.join(t.load, t.load.c.id == c.load_id))
            .where(t.load.c.name.like("% corrected"))
        ).scalar()
        return {
            "every counted reading is in the car's distance": car is not None and car.distance == float(done["count"]),
            "one current revision of every part": twice.first() is None,
            "one current revision of the car": cars == 1,
            "a revision is replaced by a later one": chained == 0,
            "and by one only": pointed.first() is None,
            "codes and revisions agree on what is current": fits == 0,
            "every acknowledged write is a load": len(view.loads()) == writes + 1,
            "every acknowledged correction is a revision": corrections == corrected == done["correct"],
            "every write is in the trail": sum(entries.values()) == writes + 1
            and entries["correct rating"] == done["correct"],
            "the trail is whole": broken(view) is None,
        }


def campaign(url: str, clients: int, transactions: int) -> bool:
    """Run all clients and print what came of it."""
    database = open_database(url)
    with database.write() as unit:
        load = unit.record_load(name="parts.xlsx", sha256="0" * 64, who="shop", tool_version="0")
        unit.add_parts(load, [numbered(part, 1.0) for part in SHARED])
        unit.add_cars(load, [CAR])
    started = time.perf_counter()
    words = [sys.executable, __file__, "--url", url, "--transactions", str(transactions)]
    running = [
        subprocess.Popen([*words, "--client", str(number)], stdout=subprocess.PIPE, text=True)
        for number in range(clients)
    ]
    answers = [json.loads(process.communicate()[0].splitlines()[-1]) for process in running]
    took = time.perf_counter() - started
    done = sum((Counter(answer["done"]) for answer in answers), Counter())
    problems = [problem for answer in answers for problem in answer["problems"]]
    held = invariants(database, done)
    print(f"{database.engine.dialect.name}: {clients} clients x {transactions} transactions in {took:.1f} s")
    print(f"done: {', '.join(f'{count} {kind}' for kind, count in sorted(done.items()))}")
    print(f"slowest transaction {max(answer['slowest'] for answer in answers):.2f} s, {len(problems)} failed")
    for problem in problems[:5]:
        print(f"  {problem}")
    for what, holds in held.items():
        print(f"{'holds' if holds else 'BROKEN'}: {what}")
    if database.engine.dialect.name == "postgresql":
        with database.engine.connect() as connection:
            waits = connection.execute(
                text("SELECT deadlocks FROM pg_stat_database WHERE datname = current_database()")
            ).scalar()
        print(f"deadlocks counted by the server: {waits}")
        held["no deadlock"] = waits == 0
    database.engine.dispose()
    return all(held.values()) and not problems


def main() -> None:
    """Read the command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--clients", type=int, default=8)
    parser.add_argument("--transactions", type=int, default=200)
    parser.add_argument("--url", help="an empty database")
    parser.add_argument("--server", action="store_true", help="on a PostgreSQL server started for this run")
    parser.add_argument("--client", type=int, help=argparse.SUPPRESS)
    given = parser.parse_args()
    if given.client is not None:
        client(given.url, given.client, given.transactions)
        return
    with ExitStack() as stack:
        url = given.url
        if given.server:
            from support.postgres_server import new_database, running_server

            url = new_database(stack.enter_context(running_server(durable=True)))
        elif url is None:
            url = f"sqlite:///{stack.enter_context(tempfile.TemporaryDirectory())}/shop.sqlite"
        passed = campaign(url, given.clients, given.transactions)
    sys.exit(0 if passed else 1)


if __name__ == "__main__":
    main()
