"""Times one assessment, a batch of builds and many samples: python tests/bench_check.py [--samples 100000].

The batch stands beside the same balance, written out in plain Python floats (`tests/support/plain_balance.py`), state by
state; the two are compared before they are timed. Processor time is what the work costs; wall time on a busy machine
is longer. The batch is timed in one process and on two, half of it each, as `pinchpoint study` shares its work. With
--samples the joint samples of one car are drawn on two processes.
"""

import argparse
import statistics
import sys
import time
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory

import joblib
import numpy as np

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE / "support"))

from plain_balance import STATES, Plain, full  # noqa: E402

from graph import batch as _batch  # noqa: E402, F401  (teaches pickle the read-only mappings of a build)
from graph.check import check, examine  # noqa: E402
from graph.kinds import discover  # noqa: E402
from graph.operation import LEVELS, prepare, solve, stack_paths  # noqa: E402
from graph.service import Request, aim, assemble  # noqa: E402
from graph.store import open_database  # noqa: E402
from ingest.book import read_book, store_book  # noqa: E402

SEED = HERE.parent / "seed_parts"
ASSESSMENT, BATCH, SAMPLED = 0.050, 100.0, 20.0
#: Fewest limits and speeds of the assessment that is timed, and what car A is given to have them: a port supplement and
#: mist, for which a car needs the code MIST.
LIMITS, ALL_SPEEDS, FITTED = 45, 60, ("PY-1121", "PY-2121")


def timed(call, repeats):
    """Median processor time, best processor time and median wall time of a call [s]."""
    busy, wall = [], []
    for _ in range(repeats):
        started, began = time.process_time(), time.perf_counter()
        call()
        busy.append(time.process_time() - started)
        wall.append(time.perf_counter() - began)
    return statistics.median(busy), min(busy), statistics.median(wall)


def bar(reached, words):
    return f"{'reached' if reached else 'NOT reached'}: {words}"


def demo_car(install=()):
    with TemporaryDirectory() as folder:
        database = open_database(f"sqlite:///{folder}/shop.sqlite")
        store_book(database, read_book([SEED]), who="bench", version="0")
        with database.read() as view:
            catalogue = {p.id: p for p in view.parts()}
            car = next(c for c in view.cars() if c.id == "car-a")
            car = replace(car, codes=(*car.codes, *(["MIST"] if install else [])))
            build = assemble(car, view.platforms()[0], catalogue, install)
    return build, aim(Request(power=300e3, boost=2.2e5, install=tuple(install)), car, catalogue)


def assessments(build, target, kinds):
    report = check(build, target, kinds)
    busy, best, wall = timed(lambda: check(build, target, kinds, samples=0), 15)
    limits, speeds = len(report.findings), prepare(build.platform).speed.size
    assert limits >= LIMITS, limits
    assert speeds >= ALL_SPEEDS, speeds
    print(
        f"one assessment, {limits} limits x {speeds} speeds, stated values: processor time {busy * 1e3:.0f} ms "
        f"(best {best * 1e3:.0f}), wall {wall * 1e3:.0f} ms"
    )
    print("  " + bar(busy < ASSESSMENT, f"under {ASSESSMENT * 1e3:.0f} ms of processor time"))
    busy, best, wall = timed(lambda: check(build, target, kinds), 7)
    print(
        f"the same with {report.samples} joint samples: processor time {busy * 1e3:.0f} ms (best {best * 1e3:.0f}), "
        f"wall {wall * 1e3:.0f} ms"
    )


def batch(build, target, kinds, count):
    """A batch of builds with their own turbocharger and every loss, each of another compressor, cooler and gate."""
    here = examine(build, target, kinds)[0].here()
    random = np.random.default_rng(1)
    drawn = ({n: v * (1.0 + 0.05 * random.random()) for n, v in here.items()} for _ in range(count))
    paths = [{**here, **{n: p[n] for n in p if n.endswith(("loss", "area", "efficiency", "flow"))}} for p in drawn]
    engine = prepare(build.platform, speeds=12)
    plain = Plain(engine, target.fuel, target.weather)
    levels, few = LEVELS.tolist(), [full(p) for p in paths[:4]]
    solved = solve(engine, stack_paths(paths[:4]), target.fuel, target.weather, target.latest_phasing)
    for row, path in enumerate(few):
        expected = np.array(plain.states(path, levels))
        for column, field in enumerate(STATES):
            np.testing.assert_allclose(solved.state(field)[row], expected[..., column], rtol=1e-9, err_msg=field)
    slow, _, _ = timed(lambda: [plain.states(p, levels) for p in few], 3)
    each = slow / len(few)
    busy, _, wall = timed(lambda: solved_batch(build, target, paths), 1)
    times = each / (busy / count)
    print(
        f"batch of {count} builds, {LEVELS.size} pressures x {engine.speed.size} speeds: {busy / count * 1e6:.0f} us of "
        f"processor time a build (wall {wall:.1f} s in all); plain Python of the same equations "
        f"{each * 1e6:.0f} us: {times:.0f} times as long"
    )
    print("  " + bar(times >= BATCH, f"{BATCH:.0f} times faster per build than plain Python, on one core"))
    with joblib.Parallel(n_jobs=2) as workers:
        shares = [joblib.delayed(solved_batch)(build, target, paths[n::2]) for n in (0, 1)]
        workers(joblib.delayed(solved_batch)(build, target, paths[:2]) for _ in shares)
        began = time.perf_counter()
        workers(shares)
        wall = time.perf_counter() - began
    times = each / (wall / count)
    print(
        f"the same batch on two processes: {wall / count * 1e6:.0f} us of wall time a build, {times:.0f} times as fast"
    )
    print("  " + bar(times >= BATCH, f"{BATCH:.0f} times faster per build than plain Python, on two cores"))


def solved_batch(build, target, paths, step=1000):
    """Solve a batch, so many side by side."""
    engine = prepare(build.platform, speeds=12)
    for first in range(0, len(paths), step):
        path = stack_paths(paths[first : first + step])
        solve(engine, path, target.fuel, target.weather, target.latest_phasing)


def half(build, target, samples, seed):
    started = time.process_time()
    check(build, target, discover(), samples=samples, seed=seed)
    return time.process_time() - started


def many(build, target, samples):
    began = time.perf_counter()
    shares = (joblib.delayed(half)(build, target, samples // 2, seed) for seed in (1, 2))
    busy = joblib.Parallel(n_jobs=2)(shares)
    wall = time.perf_counter() - began
    print(
        f"{samples} joint samples of one car on two processes: processor time {busy[0]:.1f} and {busy[1]:.1f} s, "
        f"wall {wall:.1f} s with the start of the processes"
    )
    print("  " + bar(wall < SAMPLED, f"{samples} samples under {SAMPLED:.0f} s on two cores"))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--builds", type=int, default=1000, help="size of the batch (10000 for the bar)")
    parser.add_argument("--samples", type=int, default=0, help="time so many joint samples of one car (100000)")
    asked = parser.parse_args()
    kinds = discover()
    assessments(*demo_car(FITTED), kinds)
    build, target = demo_car()
    batch(build, target, kinds, asked.builds)
    if asked.samples:
        many(build, target, asked.samples)


if __name__ == "__main__":
    main()
