"""How long each named question takes on a large catalogue, as the command asks it, beside a bare look-up by number.

Not a test. Usage: ``.venv/bin/python tests/bench_ask.py [--parts 100000]``. Every part states its ratings and fits one
of many codes; one part in four requires another one by number, one in 400 a rating of its neighbours. One part in 500
states nothing, one platform in 50 is missing, one number in 1000 is in no book, and there are three circles. With
``--loose`` there is no platform at all, so that every part hangs in the air. Shown are elapsed and processor time of the
first 100 rows with the number of all, as the command prints them.
"""

from __future__ import annotations

import argparse
import statistics
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from sqlalchemy import text

from graph.kinds import discover
from graph.model import Evidence, EvidenceKind, Part, Platform, Rating, Relation, RelationKind, Slot
from graph.store import open_database
from ui.book_commands import SHOWN_AT_ONCE
from ui.question import ask_named

KINDS = ("tank_pump", "pump_controller", "charge_pipe", "clutch", "throttle", "air_box", "coils", "driveshafts")
SHARED_BY = 60  # parts of one kind that fit one code
CIRCLES = {1002: 1003, 1003: 1006, 1006: 1002, 2002: 2003, 2003: 2002, 3003: 3003}
REPEATS = 15
BAR = 50.0  # ms


def catalogue(count: int) -> Iterator[Part]:
    """Made-up parts of eight kinds."""
    kinds = discover()
    for number in range(count):
        kind = kinds[KINDS[number % len(KINDS)]]
        evidence = Evidence(kind=EvidenceKind.MAKER_SHEET, source=f"bench.csv, row {number + 2}, column 'Rating' (F)")
        relations = []
        if number % 4 == 1:
            other = f"B-{(number + 3) % count:06d}" if number % 1000 != 501 else f"Z-{number}"
            relations.append(Relation(kind=RelationKind.REQUIRES, part=other, text="needs"))
        if number in CIRCLES:
            relations.append(Relation(kind=RelationKind.REQUIRES, part=f"B-{CIRCLES[number]:06d}", text="needs"))
        if number % 400 == 0:
            relations.append(
                Relation(
                    kind=RelationKind.REQUIRES, slot="pump_controller", rating="current", at_least=16.0, text="16 A"
                )
            )
        yield Part(
            id=f"B-{number:06d}",
            kind=kind.name,
            name=f"{kind.label} {number}",
            fits=(f"X{number // (SHARED_BY * len(KINDS)):04d}",),
            ratings=tuple(
                Rating(name=s.name, value=s.plausible[0] + (number % 997 / 997.0) * (s.plausible[1] - s.plausible[0]),
                       evidence=evidence)
                for s in kind.ratings if s.required and number % 500 != 7
            ),
            relations=tuple(relations),
            price=100.0 + number % 900,
            source=f"bench.csv, row {number + 2}",
        )  # fmt: skip


def platforms(count: int) -> Iterator[Platform]:
    """A platform for every code but one in fifty, with a place for each kind."""
    for code in range(count // (SHARED_BY * len(KINDS)) + 1):
        if code % 50 != 3:
            slots = tuple(Slot(name=kind, kind=kind) for kind in KINDS)
            yield Platform(
                id=f"P{code:04d}",
                name="",
                codes=(f"X{code:04d}",),
                constants={},
                curves={},
                slots=slots,
                source="p.csv",
            )


def timed(work: Callable[[], object], repeats: int = REPEATS) -> tuple[float, float, float]:
    """Median and worst duration and median processor time [ms]."""
    durations, worked = [], []
    for _ in range(repeats):
        start, begun = time.perf_counter(), time.process_time()
        work()
        durations.append((time.perf_counter() - start) * 1e3)
        worked.append((time.process_time() - begun) * 1e3)
    return statistics.median(durations), max(durations), statistics.median(worked)


def main() -> None:
    """Run the benchmark."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--parts", type=int, default=100_000)
    parser.add_argument("--loose", action="store_true", help="no platforms: every part hangs in the air")
    options = parser.parse_args()
    count = options.parts
    parts = list(catalogue(count))
    middle = parts[count // 2 // 400 * 400]
    chained = parts[count // 2 // 4 * 4 + 1]
    spec = discover()["tank_pump"].rating("flow")
    high = f"{spec.plausible[0] + 0.998 * (spec.plausible[1] - spec.plausible[0]):.9f} m3/s"
    some = f"{spec.plausible[0] + 0.5 * (spec.plausible[1] - spec.plausible[0]):.9f} m3/s"
    wanted = chained.relations[0].part or ""
    questions: tuple[tuple[str, tuple[str, ...]], ...] = (
        ("fits-slot-and-carries", ("tank pump", some, middle.fits[0])),
        ("fits-slot-and-carries", ("tank pump", high)),
        ("fits-slot-and-carries", ("tank pump", some)),
        ("pulls-along", (middle.id,)),
        ("pulls-along", (chained.id,)),
        ("why-needed", (wanted, chained.id)),
        ("breaks-if-withdrawn", (wanted,)),
        ("no-usable-rating", ()),
        ("goes-in-circles", ()),
        ("hangs-in-the-air", ()),
    )
    with tempfile.TemporaryDirectory() as folder:
        database = open_database(f"sqlite:///{Path(folder) / 'bench.sqlite'}")
        with database.write() as unit:
            load = unit.record_load(name="bench.csv", sha256="0" * 64, who="bench", tool_version="0")
            unit.add_parts(load, parts)
            unit.add_platforms(load, () if options.loose else platforms(count))
        del parts
        print(f"{f'{count} parts':<46}{'rows':>8}{'median ms':>12}{'worst ms':>12}{'processor ms':>14}")

        def bare() -> None:
            with database.engine.connect() as connection:
                query = text("SELECT * FROM part_revision WHERE part_id = :number AND superseded_by IS NULL")
                connection.execute(query, {"number": middle.id}).all()

        median, worst, worked = timed(bare)
        print(f"{'bare look-up of one part by its number':<46}{1:>8}{median:12.1f}{worst:12.1f}{worked:14.1f}")
        for name, arguments in questions:

            def ask(name: str = name, arguments: tuple[str, ...] = arguments) -> int:
                with database.read() as view:
                    return ask_named(view, name, arguments, SHOWN_AT_ONCE)[0].count

            found = ask()
            median, worst, worked = timed(ask)
            said = f"{name} {', '.join(a.split()[0] for a in arguments)}"[:45]
            reached = "" if median < BAR else f"   not under {BAR:g} ms"
            print(f"{said:<46}{found:>8}{median:12.1f}{worst:12.1f}{worked:14.1f}{reached}")
        database.engine.dispose()


if __name__ == "__main__":
    main()
