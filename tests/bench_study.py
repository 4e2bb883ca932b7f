"""Times a study with one and two workers, and beside single assessments: python tests/bench_study.py [ASSESSMENTS].

Without a number 20,000 assessments are made, which takes about half an hour on two cores. On a machine with other work
use fewer; what the processor spent is printed beside what the clock showed.
"""

import hashlib
import itertools
import os
import sys
import time
from pathlib import Path
from tempfile import TemporaryDirectory

from graph.batch import run
from graph.service import Request, assess
from graph.store import open_database
from graph.study import Case, design
from ingest.book import read_book, store_book

SEED = Path(__file__).resolve().parent.parent / "seed_parts"
BAR = 1.7


def cases(count):
    """Cars x parts x fuels x days x powers, the powers innermost, as a study sheet lays them out."""
    powers = [200e3 + 4e3 * n for n in range(50)]
    days = [273.15 + 5.0 * n for n in range(9)]
    parts = [(), ("PY-3110",), ("PY-2119",), ("PY-3110", "PY-2119")]
    combined = itertools.product(("car-a", "car-b", "car-c"), parts, ("ron98", "ron102", "e30", "e85"), days, powers)
    every = [
        Case(car=car, request=Request(power=power, boost=2.1e5, fuel=fuel, ambient=day, install=install))
        for car, install, fuel, day, power in combined
    ]
    return list(itertools.islice(itertools.cycle(every), count))


def spent():
    """Seconds of processor of this process and its finished children."""
    times = os.times()
    return times.user + times.system + times.children_user + times.children_system


def timed(study, workers):
    import joblib.externals.loky as loky

    began, used = time.perf_counter(), spent()
    digest = hashlib.sha256()
    for chunk in run(study, workers=workers):
        digest.update(repr(chunk).encode())
    wall = time.perf_counter() - began
    loky.get_reusable_executor().shutdown(wait=True)
    return wall, spent() - used, digest.hexdigest()


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 20_000
    with TemporaryDirectory() as folder:
        database = open_database(f"sqlite:///{folder}/shop.sqlite")
        store_book(database, read_book([SEED]), who="bench", version="0")
        with database.read() as view:
            study = design(view, cases(count))
            single = study.cases[: min(count, 10)]
            assess(view, single[0].car, single[0].request, suggest=False)
            began = time.perf_counter()
            for case in single:
                assess(view, case.car, case.request, suggest=False)
            each = (time.perf_counter() - began) / len(single)
            began = time.perf_counter()
            sampled = design(view, cases(10), samples=2000)
            list(run(sampled))
            joint = (time.perf_counter() - began) / 10
    load = os.getloadavg()[0]
    print(
        f"{count} assessments in chunks of {study.chunk}; load of the machine before the run {load:.1f} on {os.cpu_count()} cores"
    )
    print(f"single assessments with 2000 samples: {each * 1e3:.0f} ms each; in a study {joint * 1e3:.0f} ms each")
    one, one_cpu, first = timed(study, 1)
    print(f"one worker: {one:.1f} s, {one / count * 1e3:.1f} ms each (processor {one_cpu / count * 1e3:.1f} ms each)")
    two, two_cpu, second = timed(study, 2)
    print(f"two workers: {two:.1f} s, {two / count * 1e3:.1f} ms each (processor {two_cpu / count * 1e3:.1f} ms each)")
    print(
        f"two workers are {one / two:.2f} times as fast as one (bar {BAR}): {'reached' if one / two >= BAR else 'NOT reached'}"
    )
    print(f"same bits: {'yes' if first == second else 'NO'}")


if __name__ == "__main__":
    main()
