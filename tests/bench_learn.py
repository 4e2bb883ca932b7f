"""Coverage of predictions from dyno records, on engines that the model does not describe exactly.

Every case draws an engine whose estimated factors follow the prior and which differs from the model in ways that are
not estimated: the shape of breathing over speed, the mixture over speed, the efficiencies of turbine and compressor,
the cooler, the flow of the turbine, the loss of the exhaust and the octane that the engine sees. It is measured once
or twice on rollers with 2 % noise and an unknown loss, and asked for its power 0.3 to 0.5 bar higher. Run as a script:

    python tests/bench_learn.py [cases] [size of the deviations]
"""

import sys
import tempfile
import time
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from graph.check import examine
from graph.dyno import Basis, Point, Record
from graph.kinds import discover
from graph.learn import learn
from graph.operation import LEVELS, prepare, solve, stack_paths
from graph.predict import predict
from graph.service import Request, aim, assemble

GRID = 41
#: Standard deviations of what is drawn: estimated factors (twice the spreads of the model), then what is not estimated.
FACTORS = {"breathing": 0.03, "knock_gain": 0.16, "friction_gain": 0.20}
OTHERS = {
    "compressor_efficiency": 0.04,
    "turbine_efficiency": 0.05,
    "cooler_effectiveness": 0.04,
    "turbine_flow": 0.03,
    "catalyst_loss": 0.10,
}
SHAPE, MIXTURE, OCTANE = 0.015, 0.015, 0.5
BOOST = {"car-a": (0.9e5, 1.3e5), "car-b": (0.9e5, 1.3e5), "car-c": (1.2e5, 1.9e5)}


@dataclass
class Case:
    """One engine with its records and the power that it truly makes at the boost asked."""

    car: str
    records: list
    boost: float
    power: float
    torque: np.ndarray
    speed: np.ndarray


@dataclass
class Garage:
    """The demo cars as builds, with their fuels."""

    builds: dict
    targets: dict
    kinds: dict


def garage(view):
    """Builds and targets of the demo cars."""
    parts = {p.id: p for p in view.parts()}
    platforms = {p.id: p for p in view.platforms()}
    builds, targets = {}, {}
    for car in view.cars():
        builds[car.id] = assemble(car, platforms[car.platform], parts)
        targets[car.id] = aim(Request(power=250e3, boost=1.5e5), car, parts)
    return Garage(builds=builds, targets=targets, kinds=discover())


def waves(random, speed, size):
    """A smooth random curve over speed with a standard deviation of `size`."""
    x = (speed - speed[0]) / (speed[-1] - speed[0])
    total = sum(random.normal() * np.cos(np.pi * n * x + random.uniform(0, 2 * np.pi)) for n in (1.0, 2.0, 3.0))
    return size * np.sqrt(2.0 / 3.0) * total


def draw_cases(shop, count, seed, size=1.0):
    """Draw engines, measure them, and note what they make at more boost."""
    random = np.random.default_rng(seed)
    names = sorted(BOOST)
    share = {name: len(range(i, count, len(names))) for i, name in enumerate(names)}
    cases = []
    for name, number in share.items():
        build, target = shop.builds[name], shop.targets[name]
        anatomy, question = examine(build, target, shop.kinds)
        engine = prepare(build.platform, speeds=GRID, power_speed=question.power_speed)
        paths, breathing, mixture = [], [], []
        for _ in range(number):
            path = dict(anatomy.here())
            for field, spread in {**FACTORS, **{k: v * size for k, v in OTHERS.items()}}.items():
                path[field] = path.get(field, 1.0) * np.exp(spread * random.normal())
            path["cooler_effectiveness"] = min(path["cooler_effectiveness"], 0.97)
            path["octane_shift"] = OCTANE * size * random.normal()
            paths.append(path)
            breathing.append(engine.volumetric_efficiency * np.exp(waves(random, engine.speed, SHAPE * size)))
            shift = np.exp(MIXTURE * size * random.normal() + waves(random, engine.speed, 0.5 * MIXTURE * size))
            mixture.append(engine.mixture * shift)
        real = replace(
            engine, volumetric_efficiency=np.array(breathing)[:, None, :], mixture=np.array(mixture)[:, None, :]
        )
        states = solve(real, stack_paths(paths), target.fuel, target.weather, target.latest_phasing)
        cases += [_case(random, name, target, states, i, question.power_speed) for i in range(number)]
    return cases


def _case(random, name, target, states, i, power_speed):
    low, high = BOOST[name]
    boost = random.uniform(low, high)
    speed = states.engine.speed
    records = []
    wheel = bool(random.uniform() < 0.5)
    loss = (0.12, 0.18) if wheel else (-0.03, 0.03)
    kept = 1.0 - random.uniform(*loss)
    boosts = [boost] if random.uniform() < 0.5 else [boost, boost - 0.3e5]
    peaks = bool(random.uniform() < 0.5)
    for at in boosts:
        speeds = np.array([65.0, 106.0]) if peaks else np.linspace(60.0, 108.0, 12)
        row = np.array(
            [np.interp(at + target.weather.pressure, LEVELS, states.torque[i, :, n]) for n in range(speed.size)]
        )
        torque = np.interp(speeds, speed, row)
        power = torque * 2.0 * np.pi * speeds * kept * np.exp(0.02 * random.normal(size=speeds.size))
        records.append(
            Record(
                name=f"sheet at {at / 1e5:.1f} bar",
                points=tuple(
                    Point(speed=float(s), power=float(p), boost=at) for s, p in zip(speeds, power, strict=True)
                ),
                fuel=target.fuel,
                weather=target.weather,
                basis=Basis.WHEEL if wheel else Basis.CRANK,
                loss=loss,
            )
        )
    more = boost + random.uniform(0.3e5, 0.5e5)
    torque = states.highest_torque(more)[0][i]
    top = float(np.interp(power_speed, speed, torque) * 2.0 * np.pi * power_speed)
    return Case(car=name, records=records, boost=more, power=top, torque=torque, speed=speed)


def judge_cases(shop, cases, samples=100):
    """For each case: within the interval, below it, its half width over the power, and the share of covered speeds."""
    rows = []
    for case in cases:
        build = shop.builds[case.car]
        found = learn(build, case.records, shop.kinds)
        target = replace(shop.targets[case.car], boost_cap=case.boost)
        guess = predict(found, build, target, shop.kinds, samples=samples)
        true = np.interp(guess.speed, case.speed, case.torque)
        band = guess.speed >= 60.0
        inside = ((true >= guess.low) & (true <= guess.high))[band].mean()
        rows.append(
            (
                guess.power.low <= case.power <= guess.power.high,
                case.power < guess.power.low,
                (guess.power.high - guess.power.low) / 2.0 / guess.power.median,
                inside,
                guess.power.median / case.power - 1.0,
                found.misfit,
            )
        )
    return np.array(rows, dtype=float)


def summary(rows):
    """One line of figures."""
    covered, below, half, inside, error, misfit = rows.mean(axis=0)
    return (
        f"{len(rows)} cases: covered {covered:.3f}, below {below:.3f}, above {1 - covered - below:.3f}, "
        f"half width {half:.4f}, speeds covered {inside:.3f}, bias {error:+.4f}, scatter {rows[:, 4].std():.4f}, "
        f"misfit {misfit:.2f}"
    )


def main():
    """Load the demo shop and print the coverage."""
    from graph.store import open_database
    from ingest.book import read_book, store_book

    count = int(sys.argv[1]) if len(sys.argv) > 1 else 500
    size = float(sys.argv[2]) if len(sys.argv) > 2 else 1.0
    with tempfile.TemporaryDirectory() as folder:
        database = open_database(f"sqlite:///{folder}/shop.sqlite")
        seed = Path(__file__).resolve().parent.parent / "seed_parts"
        store_book(database, read_book([seed]), who="bench", version="0")
        with database.read() as view:
            shop = garage(view)
    start = time.monotonic()
    cases = draw_cases(shop, count, 7, size)
    rows = judge_cases(shop, cases)
    print(summary(rows))
    for name in sorted(BOOST):
        chosen = np.array([case.car == name for case in cases])
        print(f"  {name}: {summary(rows[chosen])}")
    print(f"{time.monotonic() - start:.0f} s")


if __name__ == "__main__":
    main()
