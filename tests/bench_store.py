"""How long the store takes to find the parts that fit one car among a large catalogue.

Run from the project's folder: ``python tests/bench_store.py [--parts 100000] [--url URL]``. Without an
address the catalogue is made in a SQLite file that is removed afterwards; an address must name an empty
database. Figures are printed, nothing is asserted: they depend on the machine.
"""

from __future__ import annotations

import argparse
import statistics
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

from graph.model import Evidence, EvidenceKind, Interface, Part, Rating, Relation, RelationKind
from graph.store import Database, open_database

KINDS = ("tank_pump", "port_injection", "intercooler", "clutch", "turbine", "plugs", "rods", "driveshafts")
SHARED_BY = 60  # parts of one kind that fit one code
REPEATS = 20


def catalogue(count: int) -> Iterator[Part]:
    """Made-up parts: three ratings, one port and one relation each, every code shared by 60 parts of a kind."""
    for number in range(count):
        kind = KINDS[number % len(KINDS)]
        evidence = Evidence(kind=EvidenceKind.MAKER_SHEET, source=f"bench.csv, row {number}")
        yield Part(
            id=f"B-{number:06d}",
            kind=kind,
            name=f"{kind} {number}",
            fits=(f"X{number // (SHARED_BY * len(KINDS)):04d}",),
            ratings=tuple(Rating(name=f"rating {i}", value=1.0 + i, evidence=evidence) for i in range(3)),
            interfaces=(Interface(port="flange", type="four bolts"),),
            relations=(Relation(kind=RelationKind.EXCLUDES, part=f"B-{(number + 1) % count:06d}"),),
            price=100.0 + number,
        )


def timed(work: Callable[[], object], repeats: int = 1) -> tuple[float, float]:
    """Median and worst duration of some work [s]."""
    durations = []
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        durations.append(time.perf_counter() - start)
    return statistics.median(durations), max(durations)


def put(database: Database, parts: list[Part]) -> None:
    """Load parts as one file."""
    with database.write() as unit:
        load = unit.record_load(name="bench.csv", sha256="0" * 64, who="bench", tool_version="0")
        unit.add_parts(load, parts)


def find(database: Database, kind: str | None, fits: str | None) -> int:
    """Number of parts found, as one use case finds them."""
    with database.read() as view:
        return len(view.parts(kind=kind, fits=fits))


def measure(database: Database, count: int) -> None:
    """Print every figure."""
    parts = list(catalogue(count))
    code = parts[count // 2].fits[0]
    dearer = [replace(p, price=p.price + 1.0) for p in parts[: count // 10] if p.price is not None]

    def line(what: str, work: Callable[[], object], repeats: int = 1) -> None:
        median, worst = timed(work, repeats)
        print(f"{what:<58}{median * 1e3:12.1f}{worst * 1e3:12.1f}")

    print(f"{f'{count} parts on {database.engine.dialect.name}':<58}{'median ms':>12}{'worst ms':>12}")
    line("load them", lambda: put(database, parts))
    line("load them again, nothing new", lambda: put(database, parts))
    line(f"load {len(dearer)} of them with another price", lambda: put(database, dearer))
    for kind, fits in ((KINDS[0], code), (None, code)):
        found = find(database, kind, fits)
        what = f"find {found} parts: kind {kind or 'any'}, fits {fits}"
        line(what, lambda kind=kind, fits=fits: find(database, kind, fits), REPEATS)

    def one() -> None:
        with database.read() as view:
            view.part(parts[count // 2].id)

    line("find one part by its number", one, REPEATS)
    line("read the whole catalogue", lambda: find(database, None, None))


def main() -> None:
    """Read the command line and measure."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--parts", type=int, default=100_000)
    parser.add_argument("--url", help="an empty database; without it a SQLite file for this run")
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        database = open_database(arguments.url or f"sqlite:///{Path(folder) / 'bench.sqlite'}")
        try:
            measure(database, arguments.parts)
        finally:
            database.engine.dispose()


if __name__ == "__main__":
    main()
