"""How long each named question takes on a large catalogue, as the command asks it, beside a bare look-up by number.

Not a test. Usage: ``.venv/bin/python tests/bench_ask.py [--parts 100000]``. Every part states its ratings and fits one
of many codes; one part in four requires another one by number, one in fifty a rating of its neighbours.
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
from graph.model import Evidence, EvidenceKind, Part, Rating, Relation, RelationKind
from graph.store import open_database
from ui.book_commands import _ask

KINDS = ("tank_pump", "pump_controller", "charge_pipe", "clutch", "throttle", "air_box", "coils", "driveshafts")
SHARED_BY = 60  # parts of one kind that fit one code
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
            relations.append(Relation(kind=RelationKind.REQUIRES, part=f"B-{(number + 3) % count:06d}", text="needs"))
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
                for s in kind.ratings if s.required
            ),
            relations=tuple(relations),
            price=100.0 + number % 900,
            source=f"bench.csv, row {number + 2}",
        )  # fmt: skip


def timed(work: Callable[[], object], repeats: int) -> tuple[float, float]:
    """Median and worst duration [ms]."""
    durations = []
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        durations.append((time.perf_counter() - start) * 1e3)
    return statistics.median(durations), max(durations)


def main() -> None:
    """Run the benchmark."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--parts", type=int, default=100_000)
    parser.add_argument("--whole", action="store_true", help="also the questions about the whole book, minutes each")
    options = parser.parse_args()
    count = options.parts
    parts = list(catalogue(count))
    middle = parts[count // 2 // 400 * 400]
    chained = parts[count // 2 // 4 * 4 + 1]
    spec = discover()["tank_pump"].rating("flow")
    high = f"{spec.plausible[0] + 0.998 * (spec.plausible[1] - spec.plausible[0]):.9f} m3/s"
    some = f"{spec.plausible[0] + 0.5 * (spec.plausible[1] - spec.plausible[0]):.9f} m3/s"
    questions: tuple[tuple[str, tuple[str, ...], int], ...] = (
        ("fits-slot-and-carries", ("tank pump", some, middle.fits[0]), REPEATS),
        ("fits-slot-and-carries", ("tank pump", high), REPEATS),
        ("pulls-along", (middle.id,), REPEATS),
        ("pulls-along", (chained.id,), REPEATS),
        ("why-needed", (chained.relations[0].part or "", chained.id), REPEATS),
        ("breaks-if-withdrawn", (chained.relations[0].part or "",), REPEATS),
        ("no-usable-rating", (), 1),
        ("goes-in-circles", (), 1),
        ("hangs-in-the-air", (), 1),
    )
    with tempfile.TemporaryDirectory() as folder:
        database = open_database(f"sqlite:///{Path(folder) / 'bench.sqlite'}")
        with database.write() as unit:
            unit.add_parts(unit.record_load(name="bench.csv", sha256="0" * 64, who="bench", tool_version="0"), parts)
        del parts
        print(f"{f'{count} parts':<46}{'rows':>7}{'median ms':>12}{'worst ms':>12}")

        def bare() -> None:
            with database.engine.connect() as connection:
                query = text("SELECT * FROM part_revision WHERE part_id = :number AND superseded_by IS NULL")
                connection.execute(query, {"number": middle.id}).all()

        median, worst = timed(bare, REPEATS)
        print(f"{'bare look-up of one part by its number':<46}{1:>7}{median:12.1f}{worst:12.1f}")
        for name, arguments, repeats in questions:
            if repeats == 1 and not options.whole:
                print(f"{name:<46} about the whole book: with --whole")
                continue

            def ask(name: str = name, arguments: tuple[str, ...] = arguments) -> int:
                with database.read() as view:
                    return len(_ask(view, name, arguments, 20.0)[0].rows)

            found = ask() if repeats > 1 else "-"
            median, worst = timed(ask, repeats)
            said = f"{name} {', '.join(a.split()[0] for a in arguments)}"[:45]
            reached = "" if median < BAR else f"   not under {BAR:g} ms"
            print(f"{said:<46}{found:>7}{median:12.1f}{worst:12.1f}{reached}")
        database.engine.dispose()


if __name__ == "__main__":
    main()
