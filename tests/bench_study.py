"""Times a study with one and two workers: python tests/bench_study.py [--assessments N] [--state FILE] [--seconds N].

Both ways take turns block by block, so that other work on the machine weighs on both alike, and after each block the
figures so far are printed. With ``--state`` each finished block is kept in a file; a run that was stopped, or that
``--seconds`` ended, goes on there when the command is repeated. 20,000 assessments take about half an hour on two idle cores;
what the processor spent is printed beside what the clock showed.
"""

import argparse
import hashlib
import itertools
import json
import os
import time
from pathlib import Path
from tempfile import TemporaryDirectory

from graph.batch import run
from graph.service import Request, assess
from graph.store import open_database
from graph.study import Case, design, fingerprint
from ingest.book import read_book, store_book

SEED = Path(__file__).resolve().parent.parent / "seed_parts"
BAR = 1.7
BLOCK = 2500  # assessments that each way takes before the other has its turn; a pool starts for each
WORKERS = (1, 2)


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
    """Seconds of the clock and of the processor for one block, and the digest of every answer."""
    import joblib.externals.loky as loky

    began, used = time.perf_counter(), spent()
    digest = hashlib.sha256()
    for chunk in run(study, workers=workers):
        digest.update(repr(chunk).encode())
    wall = time.perf_counter() - began
    loky.get_reusable_executor().shutdown(wait=True)
    return {"wall": wall, "cpu": spent() - used, "digest": digest.hexdigest()}


def one_by_one(view):
    """Seconds of one assessment with 2000 samples by itself, and in a study."""
    some = cases(10)
    assess(view, some[0].car, some[0].request, suggest=False)
    began = time.process_time()
    for case in some:
        assess(view, case.car, case.request, suggest=False)
    each = (time.process_time() - began) / len(some)
    began = time.process_time()
    list(run(design(view, some, samples=2000)))
    return each, (time.process_time() - began) / len(some)


def figures(blocks, count):
    """The sentence about all finished blocks."""
    done = sum(b["assessments"] for b in blocks)
    one, two = (sum(b[str(w)]["wall"] for b in blocks) for w in WORKERS)
    used = [sum(b[str(w)]["cpu"] for b in blocks) / done * 1e3 for w in WORKERS]
    same = all(len({b[str(w)]["digest"] for w in WORKERS}) == 1 for b in blocks)
    return (
        f"{done} of {count}: one worker {one:.1f} s ({one / done * 1e3:.1f} ms each, processor {used[0]:.1f} ms), two workers "
        f"{two:.1f} s ({two / done * 1e3:.1f} ms each, processor {used[1]:.1f} ms): {one / two:.2f} times as fast "
        f"(bar {BAR}: {'reached' if one / two >= BAR else 'NOT reached'}); same bits: {'yes' if same else 'NO'}"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--assessments", type=int, default=20_000)
    parser.add_argument("--block", type=int, default=BLOCK, help="assessments that each way takes in turn")
    parser.add_argument("--state", type=Path, help="file that keeps finished blocks")
    parser.add_argument("--seconds", type=float, default=float("inf"), help="begin no block after that")
    given = parser.parse_args()
    began = time.monotonic()
    every = cases(given.assessments)
    with TemporaryDirectory() as folder:
        database = open_database(f"sqlite:///{folder}/shop.sqlite")
        store_book(database, read_book([SEED]), who="bench", version="0")
        with database.read() as view:
            alone, joint = one_by_one(view)
            studies = [design(view, every[at : at + given.block]) for at in range(0, given.assessments, given.block)]
    print(f"with 2000 samples, processor: single {alone * 1e3:.0f} ms each; in a study {joint * 1e3:.0f} ms each")
    print(
        f"without samples, blocks of {given.block}; load before the run {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores",
        flush=True,
    )
    kept = given.state.read_text().splitlines() if given.state is not None and given.state.is_file() else []
    blocks = [json.loads(line) for line in kept if line.endswith("}")]
    for number, study in enumerate(studies):
        known_as = fingerprint(study, "bench")
        if number < len(blocks):
            if blocks[number]["study"] != known_as:
                raise SystemExit(f"{given.state} is of another study, program or NumPy; name another file")
            continue
        if time.monotonic() - began > given.seconds:
            print(f"ended by --seconds; repeat the command to go on with block {number + 1} of {len(studies)}")
            break
        order = WORKERS if number % 2 else WORKERS[::-1]
        found = {str(workers): timed(study, workers) for workers in order}
        blocks.append({"study": known_as, "assessments": len(study.cases), **found})
        if given.state is not None:
            with given.state.open("a") as file:
                file.write(json.dumps(blocks[-1]) + "\n")
        print(figures(blocks, given.assessments), flush=True)
    if blocks:
        print(figures(blocks, given.assessments))


if __name__ == "__main__":
    main()
