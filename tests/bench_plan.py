"""Speed of the planner on books of growing size, beside a constraint model and the same search with nothing shared.

Run ``python tests/bench_plan.py``; ``--quick`` for a small run. The books are invented: every part of the demo shop
is taken as a pattern, its ratings scaled at random and priced by what they carry, with ports, requirements, shared
labour and kits as in the pattern. Engine states, limits and samples are those of the program.
"""

from __future__ import annotations

import argparse
import os
import random
import statistics
import time
from dataclasses import replace
from pathlib import Path

for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS"):
    os.environ.setdefault(name, "1")

import numpy as np  # noqa: E402
from ortools.sat.python import cp_model  # noqa: E402

from graph.kinds import discover  # noqa: E402
from graph.model import Curve, Part  # noqa: E402
from graph.plan.choice import Choices  # noqa: E402
from graph.plan.labour import HOUR, Tariff  # noqa: E402
from graph.plan.physics import Physics  # noqa: E402
from graph.plan.wish import MarginPolicy, Wishes  # noqa: E402
from graph.proposal import Bureau, Terms  # noqa: E402
from graph.service import Request  # noqa: E402
from graph.sweep import frontier  # noqa: E402
from ingest.book import read_book  # noqa: E402
from ingest.operation import read_operations  # noqa: E402

SEED_PARTS = Path(__file__).resolve().parent.parent / "seed_parts"
#: Bars: parts that fit, and the figures asked for [s].
BARS = {2000: "median < 0.2 s, worst < 1 s", 9000: "median < 1 s"}
#: Ratings of which less is the better part.
LESS = frozenset({"pressure drop", "air loss", "dead time", "gap", "case drop", "accuracy", "efficiency", "current"})


class Shelf:
    """A book in memory, as the planner reads it."""

    def __init__(self, parts, cars, platforms):
        self._parts, self._cars, self._platforms = parts, cars, platforms

    def parts(self, *_, **__):
        return self._parts

    def cars(self):
        return self._cars

    def platforms(self):
        return self._platforms

    def trials(self, *_):
        return ()


def scaled(rating, size, limits):
    """A rating for a part so much larger than its pattern."""
    if rating.name in LESS or rating.name not in limits:
        return rating
    if isinstance(rating.value, Curve):
        return replace(rating, value=Curve(x=rating.value.x, y=tuple(size * y for y in rating.value.y)))
    warm = rating.name.endswith("temperature")
    return replace(rating, value=rating.value * (1.0 + 0.1 * (size - 1.0) if warm else size))


def enlarged(book, each, seed):
    """The demo shop's book with about so many parts for every slot of the platform."""
    rng = random.Random(seed)
    kinds = discover()
    patterns: dict[str, list[Part]] = {}
    for part in book.parts:
        if part.price is not None and part.kind not in ("fuel_grade", "calibration"):
            patterns.setdefault(part.kind, []).append(part)
    parts = list(book.parts)
    for kind, found in patterns.items():
        bought = [p for p in found if not p.factory] or found
        rules = kinds[kind].limits
        limits = {rule.rating for rule in rules} | {"flow", "air flow", "flow parameter", "effectiveness"}
        for n in range(max(0, each - len(bought))):
            pattern = rng.choice(bought)
            size = rng.uniform(0.75, 1.35) if not pattern.factory else rng.uniform(0.95, 1.7)
            ratings = tuple(
                scaled(r, min(size, 1.08) if r.name == "effectiveness" else size, limits) for r in pattern.ratings
            )
            price = (pattern.price or 120.0) * size**1.5 * rng.uniform(0.7, 1.4)
            keep = rng.random() < 0.4
            parts.append(
                replace(
                    pattern,
                    id=f"{pattern.id}-{n}",
                    name=f"{pattern.name} {n}",
                    factory=False,
                    price=round(price),
                    labour=pattern.labour or 1.5 * HOUR,
                    ratings=ratings,
                    relations=pattern.relations if keep else (),
                    fits=tuple({f for p in found for f in p.fits}),
                )
            )
    return Shelf(tuple(parts), book.cars, book.platforms)


def bureau(shelf, operations, patience):
    """Car A with an enlarged book."""
    terms = Terms(operations=operations, policy=MarginPolicy(), patience=patience)
    return Bureau(shelf, "car-a", Request(power=100e3, boost=2.2e5), terms, Wishes())


def count(office):
    """Parts of the book that fit the car."""
    choices, _ = office.open(2.5e5)
    return sum(len(found) - 1 for found in choices.options)


def constraint_model(choices: Choices, physics: Physics, tariff: Tariff, most: int):
    """The same problem in CP-SAT with the cores as a table; None where the table has more than `most` rows."""
    sizes = [len(choices.options[s]) for s in (*physics.core, *physics.linking)]
    rows = float(np.prod([float(n) for n in sizes]))
    if rows > most:
        return rows, None
    begun = time.perf_counter()
    model = cp_model.CpModel()
    take = {
        (s, i): model.new_bool_var(f"{s}.{i}") for s, found in enumerate(choices.options) for i in range(len(found))
    }
    for s, found in enumerate(choices.options):
        model.add_exactly_one(take[s, i] for i in range(len(found)))
        for i, option in enumerate(found):
            if option.barred:
                model.add(take[s, i] == 0)
    for needs in choices.needs.values():
        for need in needs:
            model.add_bool_or([take[need.of].negated(), *(take[k] for k in need.by)])
    for clashes in choices.clashes.values():
        for clash in clashes:
            a, b = clash.pair
            model.add_bool_or([take[a].negated(), take[b].negated(), *(take[k] for k in clash.bridges)])
    terms = [
        round(100 * tariff.least(part, given=False)) * take[s, i]
        for s, found in enumerate(choices.options)
        for i, option in enumerate(found)
        if (part := option.bought) is not None
    ]
    model.minimize(sum(terms))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.solve(model)
    return rows, time.perf_counter() - begun


def measure(book, operations, each, targets, patience, seed):
    """Proven optima of one book size; the first target with nothing known, the rest with what it left."""
    shelf = enlarged(book, each, seed)
    office = bureau(shelf, operations, patience)
    fitting = count(office)
    rng = random.Random(seed)
    powers = [rng.uniform(2.1e5, 3.0e5) for _ in range(targets)]
    times, work, unproven = [], [], 0
    for power in powers:
        begun, used = time.perf_counter(), time.process_time()
        plan = office.plan(power, explain=False).plan
        times.append(time.perf_counter() - begun)
        work.append(time.process_time() - used)
        unproven += not plan.proven
    choices, physics = office.open(powers[0])
    rows, seconds = constraint_model(choices, physics, office.tariff, 2_000_000)
    later = work[1:] or work
    print(
        f"{fitting:6d} fitting, {targets} targets: first {times[0]:.2f} s; median {statistics.median(times):.2f} s, "
        f"worst {max(times):.2f} s (processor: first {work[0]:.2f}, then median {statistics.median(later):.2f}, "
        f"worst {max(later):.2f} s); not proven within {patience:.0f} s: {unproven}"
    )
    if seconds is None:
        print(f"       constraint model: a table of {rows:.1e} cores cannot be built")
    else:
        print(f"       constraint model of prices and bonds alone, without physics: {seconds:.2f} s, {rows:.1e} cores")
    return fitting, statistics.median(later)


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="small books, few targets")
    parser.add_argument("--sizes", type=int, nargs="*", help="parts for each slot")
    parser.add_argument("--targets", type=int, default=5)
    parser.add_argument("--patience", type=float, default=20.0)
    parser.add_argument("--seed", type=int, default=7)
    parser.add_argument("--no-frontier", action="store_true")
    given = parser.parse_args()
    book = read_book([SEED_PARTS])
    operations, _ = read_operations(SEED_PARTS / "labour" / "operations.csv")
    sizes = given.sizes or ([1, 2] if given.quick else [1, 6, 24, 48, 210])
    count_of = 3 if given.quick else given.targets
    found = [measure(book, operations, each, count_of, given.patience, given.seed) for each in sizes]
    if len(found) > 1:
        (n0, t0), (n1, t1) = found[0], found[-1]
        print(f"growth exponent of the median from {n0} to {n1} parts: {np.log(t1 / t0) / np.log(n1 / n0):.2f}")
    print("bars:", "; ".join(f"{n} parts: {text}" for n, text in BARS.items()))
    if not given.no_frontier:
        office = bureau(enlarged(book, 6 if given.quick else 24, given.seed), operations, given.patience)
        begun, first = time.perf_counter(), []
        points = frontier(office, 1e4, lambda _: first.append(time.perf_counter() - begun))
        total = time.perf_counter() - begun
        print(
            f"frontier, {count(office)} fitting: {len(points)} points, first {first[0] if first else 0.0:.2f} s, "
            f"total {total:.2f} s (bars: 0.1 s and 5 s)"
        )


if __name__ == "__main__":
    main()
