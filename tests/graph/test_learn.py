"""Learning from dyno records: the truth is an engine made up with known factors, or one the model does not describe.

Coverage is counted on engines that differ from the model in ways that are not estimated (``tests/bench_learn.py``).
Expected values are the factors put in, correction formulas worked by hand, or invariants of Gaussian estimation.
"""

import importlib.util
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from graph.calibration import ESTIMATED, discrepancy
from graph.check import examine
from graph.dyno import Basis, Point, Record, applied_factor, observed
from graph.errors import OutOfRange, UnknownName
from graph.learn import learn
from graph.model import Weather
from graph.operation import LEVELS, prepare, solve, stack_paths
from graph.predict import predict

_spec = importlib.util.spec_from_file_location("bench_learn", Path(__file__).resolve().parent.parent / "bench_learn.py")
bench = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(bench)

CURVE = np.linspace(60.0, 108.0, 12)
CASES = 102


@pytest.fixture(scope="module")
def cars(demo_database):
    with demo_database.read() as view:
        return bench.garage(view)


def record(cars, car, boost, *, speeds=CURVE, scale=1.0, factors=None, **more):
    """A sheet without noise from the model with some factors on it."""
    build, target = cars.builds[car], cars.targets[car]
    fuel, weather = more.get("fuel", target.fuel), more.get("weather", target.weather)
    anatomy, question = examine(build, target, cars.kinds)
    path = dict(anatomy.here())
    for name, factor in (factors or {}).items():
        path[name] = path.get(name, 1.0) * factor
    engine = prepare(build.platform, speeds=41, power_speed=question.power_speed)
    torque = solve(engine, stack_paths([path]), fuel, weather, target.latest_phasing).torque[0]
    row = [np.interp(boost + weather.pressure, LEVELS, torque[:, n]) for n in range(engine.speed.size)]
    power = np.interp(speeds, engine.speed, row) * 2.0 * np.pi * speeds * scale
    points = tuple(Point(speed=float(n), power=float(p), boost=boost) for n, p in zip(speeds, power, strict=True))
    return Record(**{"name": "sheet", "points": points, "fuel": fuel, "weather": weather, **more})


def estimate(found, name):
    return next(e for e in found.estimates if e.name == name)


def correlation(found, first, second):
    i, j = (next(k for k, n in enumerate(found.names) if n.startswith(name)) for name in (first, second))
    c = found.covariance
    return c[i, j] / np.sqrt(c[i, i] * c[j, j])


def test_nine_in_ten_intervals_cover_nine_in_ten_engines_that_the_model_does_not_describe(cars):
    cases = bench.draw_cases(cars, CASES, seed=20)
    rows = bench.judge_cases(cars, cases, samples=100)
    assert 0.85 <= rows[:, 0].mean() <= 0.95, bench.summary(rows)
    assert abs(rows[:, 4].mean()) < 0.01, bench.summary(rows)
    assert rows[:, 2].mean() < 0.06, bench.summary(rows)


def test_a_sheet_from_the_model_itself_changes_nothing(cars):
    found = learn(cars.builds["car-a"], [record(cars, "car-a", 1.2e5)], cars.kinds)
    for name in ESTIMATED:
        assert estimate(found, name).factor == pytest.approx(1.0, abs=0.01)
    assert found.misfit < 0.05


@pytest.mark.parametrize("factor", [0.95, 1.04])
def test_breathing_put_in_is_found_again(cars, factor):
    sheets = [record(cars, "car-a", b, factors={"breathing": factor}) for b in (0.8e5, 1.2e5)]
    found = estimate(learn(cars.builds["car-a"], sheets, cars.kinds), "breathing")
    assert found.low <= factor <= found.high
    assert abs(found.factor - factor) < abs(1.0 - factor)


def test_knock_is_learnt_where_knock_sets_the_spark_and_nowhere_else(cars):
    build = cars.builds["car-a"]
    low = learn(build, [record(cars, "car-a", 0.5e5, factors={"knock_gain": 0.8})], cars.kinds)
    sheets = [record(cars, "car-a", b, factors={"knock_gain": 0.8}) for b in (0.8e5, 1.7e5)]
    high = learn(build, sheets, cars.kinds)
    assert not estimate(low, "knock_gain").learnt
    assert any("nothing new about knock" in w for w in low.words)
    assert estimate(high, "knock_gain").learnt
    assert estimate(high, "knock_gain").low <= 0.8 <= estimate(high, "knock_gain").high
    assert estimate(high, "knock_gain").factor < 0.95
    assert not any("nothing new about knock" in w for w in high.words)


def test_a_wide_loss_at_the_wheels_cannot_be_told_from_breathing(cars):
    build = cars.builds["car-c"]
    wheel = {"basis": Basis.WHEEL, "scale": 0.83}
    wide = learn(build, [record(cars, "car-c", 1.2e5, loss=(0.05, 0.29), **wheel)], cars.kinds)
    narrow = learn(build, [record(cars, "car-c", 1.2e5, loss=(0.165, 0.175), **wheel)], cars.kinds)
    assert abs(correlation(wide, "breathing", "loss")) > 0.5 > abs(correlation(narrow, "breathing", "loss"))
    assert not estimate(wide, "breathing").learnt
    assert any("nothing new about breathing" in w for w in wide.words)
    assert estimate(narrow, "breathing").learnt


def test_more_sheets_never_widen_what_is_known(cars):
    build = cars.builds["car-a"]
    sheets = [record(cars, "car-a", b) for b in (0.8e5, 1.2e5, 1.6e5)]
    widths = [np.diag(learn(build, sheets[:n], cars.kinds).covariance)[: len(ESTIMATED)] for n in (1, 2, 3)]
    assert (widths[1] <= widths[0] * 1.02).all()
    assert (widths[2] <= widths[1] * 1.02).all()


def test_two_peaks_tell_less_than_a_curve(cars):
    build = cars.builds["car-a"]
    curve = learn(build, [record(cars, "car-a", 1.2e5)], cars.kinds)
    peaks = learn(build, [record(cars, "car-a", 1.2e5, speeds=np.array([70.0, 106.0]))], cars.kinds)
    assert np.trace(curve.covariance[:3, :3]) < np.trace(peaks.covariance[:3, :3])


def test_the_prediction_is_wider_further_away_and_never_surer_than_the_model(cars):
    build, target = cars.builds["car-c"], cars.targets["car-c"]
    found = learn(build, [record(cars, "car-c", 1.0e5)], cars.kinds)
    near, far = (predict(found, build, replace(target, boost_cap=b), cars.kinds, samples=100) for b in (1.0e5, 2.0e5))
    width = [(p.power.high - p.power.low) / p.power.median for p in (near, far)]
    assert width[0] < width[1]
    assert (near.low <= near.median).all()
    assert (near.median <= near.high).all()
    assert near.power.median == pytest.approx(found_power(record(cars, "car-c", 1.0e5)), rel=0.02)


def found_power(sheet):
    last = sheet.points[-1]
    return last.power / last.speed * 110.0


def test_another_day_fuel_or_cooler_can_be_asked(cars):
    build, target = cars.builds["car-a"], cars.targets["car-a"]
    found = learn(build, [record(cars, "car-a", 1.2e5)], cars.kinds)
    usual = predict(found, build, target, cars.kinds, samples=60)
    hot = predict(
        found, build, replace(target, weather=Weather(temperature=313.15, pressure=101325.0)), cars.kinds, samples=60
    )
    ethanol = predict(found, build, replace(target, fuel=cars.targets["car-c"].fuel), cars.kinds, samples=60)
    assert hot.power.median < usual.power.median < ethanol.power.median


def test_another_part_brings_its_own_spread_again(cars):
    build, target = cars.builds["car-a"], cars.targets["car-a"]
    found = learn(build, [record(cars, "car-a", 1.2e5, factors={"cooler_effectiveness": 0.9})], cars.kinds)
    other = next(p.part for p in cars.builds["car-c"].places if p.slot.name == "intercooler")
    places = tuple(replace(p, part=other) if p.slot.name == "intercooler" else p for p in build.places)
    swapped = predict(found, replace(build, places=places), target, cars.kinds, samples=60)
    assert swapped.power.median > predict(found, build, target, cars.kinds, samples=60).power.median


def test_the_same_seed_gives_the_same_prediction(cars):
    build, target = cars.builds["car-a"], cars.targets["car-a"]
    found = learn(build, [record(cars, "car-a", 1.2e5)], cars.kinds)
    first, second = (predict(found, build, target, cars.kinds, samples=40) for _ in range(2))
    np.testing.assert_array_equal(first.median, second.median)


def test_a_correction_is_taken_out_before_learning(cars):
    """ISO 1585 by hand: 97.5 kPa dry, 300 K gives (99/97.5)^1.2 (300/298)^0.6 = 1.02259."""
    day = Weather(temperature=300.0, pressure=97.5e3)
    plain = record(cars, "car-a", 1.2e5, weather=day)
    printed = replace(
        plain, standard="iso 1585", points=tuple(replace(p, power=p.power * 1.02259) for p in plain.points)
    )
    assert applied_factor(printed) == pytest.approx(1.02259, abs=1e-5)
    np.testing.assert_allclose(observed(printed), observed(plain), rtol=1e-5)


def test_a_correction_outside_its_range_is_refused(cars):
    """DIN 70020 at 950 hPa and 308 K is 1.09354, the check value of the physics tests."""
    sheet = record(cars, "car-a", 1.2e5, weather=Weather(temperature=308.0, pressure=95.0e3), standard="din 70020")
    with pytest.raises(OutOfRange, match=r"1\.094.*0\.93 to 1\.07"):
        learn(cars.builds["car-a"], [sheet], cars.kinds)


def test_what_cannot_be_a_record_is_refused_in_one_sentence(cars):
    build, sheet = cars.builds["car-a"], record(cars, "car-a", 1.2e5)
    with pytest.raises(OutOfRange, match="at least one"):
        learn(build, [], cars.kinds)
    with pytest.raises(OutOfRange, match="no power above zero"):
        learn(build, [replace(sheet, points=())], cars.kinds)
    with pytest.raises(OutOfRange, match="engine speed"):
        learn(build, [replace(sheet, points=(Point(speed=150.0, power=2e5, boost=1e5),))], cars.kinds)
    with pytest.raises(OutOfRange, match="gauge"):
        learn(build, [replace(sheet, points=(Point(speed=100.0, power=2e5, boost=9e5),))], cars.kinds)
    with pytest.raises(OutOfRange, match="loss"):
        learn(build, [replace(sheet, loss=(0.2, 0.1))], cars.kinds)
    with pytest.raises(UnknownName, match="correction standard"):
        learn(build, [replace(sheet, standard="own")], cars.kinds)


def test_the_error_of_the_model_is_a_covariance(cars):
    random = np.random.default_rng(4)
    place = np.stack([random.uniform(40, 110, 25), random.uniform(1e5, 3e5, 25)], axis=-1)
    matrix = discrepancy(place, place, 2.0e5)
    np.testing.assert_allclose(matrix, matrix.T)
    assert np.linalg.eigvalsh(matrix).min() > -1e-12
