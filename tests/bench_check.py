"""Times one assessment and a batch beside the same equations in plain Python: python tests/bench_check.py.

The plain twin runs the main terms of the same balance (reference turbine, no knock table, no losses of the silencer) for
one manifold pressure and speed in floats; it does less than the vectorised solve, so the ratio is a lower bound.
"""

import math
import statistics
import time
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from graph.check import check
from graph.kinds import discover
from graph.operation import LEVELS, prepare, solve, stack_paths
from graph.service import Request, aim, assemble
from graph.store import open_database
from ingest.book import read_book, store_book

SEED = Path(__file__).resolve().parent.parent / "seed_parts"
REPEATS = 7


def median(call, repeats=REPEATS):
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        call()
        times.append(time.perf_counter() - start)
    return statistics.median(times), min(times)


def plain_states(engine, fuel, weather, count):
    """Plain Python of the balance for `count` states: one state is one level and speed of one configuration."""
    one = prepare(engine.platform, speeds=2)
    path = stack_paths([{}])
    start = time.perf_counter()
    done = 0
    while done < count:
        for level in LEVELS:
            for index in range(one.speed.size):
                _plain_state(one, path, fuel, weather, float(level), index)
                done += 1
                if done >= count:
                    break
            if done >= count:
                break
    return (time.perf_counter() - start) / done


def _plain_state(engine, path, fuel, weather, manifold, index):
    """Eight rounds of the balance in floats, with the table read by hand."""
    constants = engine.platform.constants
    speed, mixture = float(engine.speed[index]), float(engine.mixture[index])
    swept = engine.displacement * speed / 2.0
    heat = fuel.heating_value / fuel.stoichiometric_ratio
    fuel_air = 1.0 / (mixture * fuel.stoichiometric_ratio)
    table = engine.table
    charge, inlet, exhaust, outlet = weather.temperature + 30.0, 1.05 * manifold, 1150.0, weather.pressure * 1.15
    ratio = constants["compression ratio"]
    result = 0.0
    for _ in range(8):
        span = ratio - 1.0
        filling = float(engine.volumetric_efficiency[index]) * (ratio / span - (inlet / manifold + 0.3) / (1.3 * span))
        flow = filling * manifold / (287.05 * charge) * swept
        before = weather.pressure - 40e3 * flow * flow / 1.184
        density = manifold / (287.05 * charge)
        after = manifold + 0.3e6 * flow * flow / density
        hot = weather.temperature * (1.0 + (max(after / before, 1.0) ** 0.2857 - 1.0) / 0.72)
        charge = hot - 0.80 * (hot - weather.temperature)
        trapped = flow / swept
        residual = (inlet / manifold) ** (1 / 1.3) * charge / (1150.0 * ratio)
        mixed = (1.0 - residual) * (charge - 5.0) + residual * 1150.0
        place = (trapped - 0.5) / 0.3
        row = min(max(int(place), 0), 13)
        share = place - row
        best = float(table.best_phasing[index, row]) * (1 - share) + float(table.best_phasing[index, row + 1]) * share
        column = min(max(int((best - 0.0349) / 0.0349), 0), 17)
        values = []
        for field in (0, 2):
            value, slope = table.fields[field], table.fields[field + 1]
            corners = [
                float(value[index, row + i, column + j]) + float(slope[index, row + i, column + j]) * (mixed - 350.0)
                for i in (0, 1)
                for j in (0, 1)
            ]
            values.append(sum(corners) / 4.0)
        exhaust = charge + 0.86 * (2.6e6 - (values[0] + values[1]) * heat) / ((1.0 + fuel_air) * 1250.0)
        outlet = weather.pressure + 0.2e6 * (flow * (1 + fuel_air)) ** 2 / (weather.pressure / (289.0 * exhaust))
        inlet = max(1.05 * manifold, outlet)
        result = values[0] * heat * trapped - 0.85 * (inlet - manifold) - math.sqrt(speed)
    return result


def main() -> None:
    with TemporaryDirectory() as folder:
        database = open_database(f"sqlite:///{folder}/shop.sqlite")
        store_book(database, read_book([SEED]), who="bench", version="0")
        with database.read() as view:
            catalogue = {p.id: p for p in view.parts()}
            car = next(c for c in view.cars() if c.id == "car-a")
            build = assemble(car, view.platforms()[0], catalogue)
    target = aim(Request(power=300e3, boost=2.2e5), car, catalogue)
    kinds = discover()
    engine = prepare(build.platform)
    report = check(build, target, kinds)
    limits = len(report.findings)
    speeds = engine.speed.size
    stated, best = median(lambda: check(build, target, kinds, samples=0))
    print(
        f"one assessment, {limits} limits x {speeds} speeds, stated values: median {stated * 1e3:.0f} ms (best {best * 1e3:.0f})"
    )
    sampled, best = median(lambda: check(build, target, kinds))
    print(f"the same with {report.samples} joint samples: median {sampled * 1e3:.0f} ms (best {best * 1e3:.0f})")
    random = np.random.default_rng(1)
    batch = 1000
    paths = stack_paths([{"compressor_efficiency": 0.65 + 0.1 * random.random()} for _ in range(batch)])
    small = prepare(build.platform, speeds=12)
    took, best = median(lambda: solve(small, paths, target.fuel, target.weather, target.latest_phasing), 3)
    states = batch * LEVELS.size * small.speed.size
    each = plain_states(engine, target.fuel, target.weather, 2000)
    print(
        f"batch of {batch} builds, {LEVELS.size} pressures x {small.speed.size} speeds: {took / batch * 1e6:.0f} us a build, "
        f"{took / states * 1e9:.0f} ns a state; plain Python of the balance {each * 1e9:.0f} ns a state: "
        f"{each / (took / states):.0f} times as long"
    )


if __name__ == "__main__":
    main()
