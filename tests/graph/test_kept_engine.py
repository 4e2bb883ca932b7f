"""What rollers taught of an engine, used by every later check. The truth is an engine made up with known factors, or one
that the model does not describe (``tests/bench_learn.py``); everything else is an invariant of a Gaussian.
"""

import copy
import importlib.util
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from graph.answer import engine_row
from graph.calibration import condensed
from graph.check import bench_of, check, examine
from graph.dyno import Point, Record
from graph.learn import learn
from graph.learnt import Learnt
from graph.operation import LEVELS, prepare, solve, stack_paths
from graph.plan.account import chance
from graph.plan.ledger import Ledger
from graph.plan.wish import Wishes
from graph.predict import predict
from graph.proposal import Bureau, Terms
from graph.service import Request

_spec = importlib.util.spec_from_file_location("bench_learn", Path(__file__).resolve().parent.parent / "bench_learn.py")
bench = importlib.util.module_from_spec(_spec)
sys.modules.setdefault("bench_learn", bench)
_spec.loader.exec_module(bench)

CASES = 45


@pytest.fixture(scope="module")
def cars(demo_database):
    with demo_database.read() as view:
        return bench.garage(view)


def sheet(cars, boost, factors, car="car-a"):
    """A full-load curve without noise from the model with some factors on it."""
    build, target = cars.builds[car], cars.targets[car]
    anatomy, question = examine(build, target, cars.kinds)
    path = dict(anatomy.here())
    for name, factor in factors.items():
        path[name] = path.get(name, 1.0) * factor
    engine = prepare(build.platform, speeds=41, power_speed=question.power_speed)
    torque = solve(engine, stack_paths([path]), target.fuel, target.weather, target.latest_phasing).torque[0]
    speeds = np.linspace(60.0, 110.0, 14)
    row = [np.interp(boost + target.weather.pressure, LEVELS, torque[:, n]) for n in range(engine.speed.size)]
    power = np.interp(speeds, engine.speed, row) * 2.0 * np.pi * speeds
    points = tuple(Point(speed=float(n), power=float(p), boost=boost) for n, p in zip(speeds, power, strict=True))
    return Record(name="sheet", points=points, fuel=target.fuel, weather=target.weather, loss=(-0.005, 0.005))


def kept(cars, found, car="car-a"):
    build = cars.builds[car]
    return replace(build, learnt=condensed(found, build.platform.constants["power speed"]))


def engine_draws(cars, build, target):
    """Sampled power that the engine makes with the car's own parts at the boost cap [W]."""
    anatomy, question = examine(build, target, cars.kinds)
    return engine_row(build, bench_of(build, cars.kinds, anatomy, question, 2000, 5))[2]


def widths(draws):
    low, high = np.percentile(draws, [5.0, 95.0])
    return (high - low) / 2.0 / np.median(draws)


def test_the_check_of_a_learnt_engine_covers_what_engines_make_that_the_model_does_not_describe(cars):
    """Interval of nine in ten at 0.3 to 0.5 bar more boost; as stated the same check covers far fewer."""
    learnt, stated, ahead = [], [], []
    for case in bench.draw_cases(cars, CASES, seed=31):
        build, target = cars.builds[case.car], replace(cars.targets[case.car], boost_cap=case.boost)
        found = learn(build, case.records, cars.kinds)
        guess = predict(found, build, target, cars.kinds, samples=100).power
        for rows, at in ((learnt, kept(cars, found, case.car)), (stated, build)):
            low, median, high = np.percentile(engine_draws(cars, at, target), [5.0, 50.0, 95.0])
            rows.append((low <= case.power <= high, abs(median / case.power - 1.0), median))
        ahead.append(guess.median)
    learnt, stated = np.array(learnt), np.array(stated)
    assert 0.80 <= learnt[:, 0].mean() <= 0.98
    assert stated[:, 0].mean() < min(0.85, learnt[:, 0].mean())
    assert learnt[:, 1].mean() < 0.80 * stated[:, 1].mean()
    np.testing.assert_allclose(learnt[:, 2], ahead, rtol=0.03)


@pytest.mark.parametrize("factor", [0.94, 1.05])
def test_a_check_of_a_learnt_engine_makes_what_the_engine_makes(cars, factor):
    """The truth is the model with its breathing moved; the check asks at 0.3 bar more than was measured."""
    build, target = cars.builds["car-a"], replace(cars.targets["car-a"], boost_cap=1.5e5)
    found = learn(build, [sheet(cars, b, {"breathing": factor}) for b in (0.9e5, 1.2e5)], cars.kinds)
    truth = sheet(cars, 1.5e5, {"breathing": factor}).points[-1].power
    learnt = np.median(engine_draws(cars, kept(cars, found), target))
    stated = np.median(engine_draws(cars, build, target))
    assert learnt == pytest.approx(truth, rel=0.02)
    assert abs(stated / truth - 1.0) > 2.0 * abs(learnt / truth - 1.0)


def test_a_good_record_narrows_the_answer_and_correlation_keeps_it_narrow(cars):
    """Breathing and friction are told together, not apart: drawn one by one they would widen the answer."""
    build, target = cars.builds["car-a"], replace(cars.targets["car-a"], boost_cap=1.2e5)
    found = learn(build, [sheet(cars, 1.2e5, {})], cars.kinds)
    learnt = kept(cars, found).learnt
    apart = replace(learnt, covariance=tuple(map(tuple, np.diag(np.diag(np.array(learnt.covariance))))))
    together = widths(engine_draws(cars, replace(build, learnt=learnt), target))
    assert together < widths(engine_draws(cars, build, target))
    assert together < 0.9 * widths(engine_draws(cars, replace(build, learnt=apart), target))


def test_a_factor_of_which_nothing_was_learnt_keeps_the_model_s_own_spread(cars):
    """At little boost knock sets no spark: 8 % before, 8 % after."""
    found = learn(cars.builds["car-a"], [sheet(cars, 0.4e5, {})], cars.kinds)
    assert kept(cars, found).learnt.spread("knock_gain") == pytest.approx(0.08, rel=0.06)


def test_directions_reproduce_the_covariance():
    covariance = ((0.0004, -0.0003, 0.0), (-0.0003, 0.01, 0.0001), (0.0, 0.0001, 0.0016))
    fields = ("breathing", "knock_gain", "cooler_effectiveness")
    learnt = Learnt(fields=fields, mean=(0.02, -0.1, 0.0), covariance=covariance, fed=((fields[2], 0.7),))
    path = learnt.applied({"breathing": 0.94, "cooler_effectiveness": 0.7})
    rows = []
    for field in fields:
        moved = learnt.moved(path, learnt.factors(field, 1.0))
        rows.append([np.log(moved[f] / path[f]) for f in fields])
    np.testing.assert_allclose(np.array(rows).T @ np.array(rows), covariance, atol=1e-9)
    assert path["breathing"] == pytest.approx(0.94 * np.exp(0.02))


def test_a_part_that_was_not_measured_keeps_what_its_sheet_states():
    learnt = Learnt(
        fields=("breathing", "compressor_efficiency"),
        mean=(0.0, -0.05),
        covariance=((0.0004, 0.0001), (0.0001, 0.0009)),
        fed=(("compressor_efficiency", 0.70),),
    )
    other, own = {"compressor_efficiency": 0.72}, {"compressor_efficiency": 0.70}
    assert learnt.applied(other)["compressor_efficiency"] == 0.72
    assert learnt.applied(own)["compressor_efficiency"] == pytest.approx(0.70 * np.exp(-0.05))
    assert "compressor_efficiency" not in learnt.applied({})
    factors = learnt.factors("compressor_efficiency", 2.0)
    assert learnt.moved(learnt.applied(other), factors)["compressor_efficiency"] == 0.72
    assert learnt.steady({"compressor_efficiency": 0.75}, own) == own
    assert learnt.steady({"compressor_efficiency": 0.75}, other) == {"compressor_efficiency": 0.75}


@pytest.fixture(scope="module")
def weak(cars):
    """Car A with an engine that breathes 6 % less than its platform's sheet states."""
    found = learn(cars.builds["car-a"], [sheet(cars, b, {"breathing": 0.94}) for b in (0.9e5, 1.2e5)], cars.kinds)
    return kept(cars, found)


def test_every_row_of_the_ladder_hears_it(cars, weak):
    """A weaker engine needs more boost and more air for a power: the cap and the flow ceilings come sooner."""
    target = replace(cars.targets["car-a"], power=240e3, boost_cap=1.5e5)
    stated = check(cars.builds["car-a"], target, cars.kinds, samples=0)
    learnt = check(weak, target, cars.kinds, samples=0)
    assert learnt.makes.power < 0.98 * stated.makes.power
    assert learnt.engine_alone < 0.98 * stated.engine_alone

    def ceiling(report, slot):
        return min(f.ceiling for f in report.findings if f.slot == slot and f.ceiling is not None)

    for slot in ("charge pipe", "pressure sensor"):
        assert ceiling(learnt, slot) < ceiling(stated, slot)


@pytest.fixture(scope="module")
def bureau(demo_database):
    with demo_database.read() as view:
        return Bureau(view, "car-a", Request(power=240e3, boost=1.7e5, fuel="ron98"), Terms(), Wishes())


def aware(bureau, learnt):
    """The same desk with the car's engine learnt, or as stated."""
    found = copy.copy(bureau)
    found.build, found.ledger, found._fingerprint = replace(bureau.build, learnt=learnt), Ledger(), None
    return found


def test_the_planner_s_chance_is_that_of_the_full_check(bureau, cars, weak):
    """The car as it is, at a power that it holds in about half of the cases; error of two samples of 2000."""
    for learnt in (weak.learnt, None):
        desk = aware(bureau, learnt)
        power = check(desk.build, desk.target(240e3), cars.kinds).carries_interval.median
        choices, physics = desk.open(power)
        selection = tuple(0 for _ in choices.options)
        share = check(physics.built(selection), physics.target, cars.kinds).holds_probability
        error = 5.0 * np.sqrt(2.0 * share * (1.0 - share) / physics.samples)
        assert 0.2 < share < 0.8
        assert chance(selection, physics) == pytest.approx(share, abs=error)


def test_a_plan_for_a_weaker_engine_costs_no_less_and_is_another_question(bureau, weak):
    stated, learnt = (aware(bureau, found) for found in (None, weak.learnt))
    assert stated.fingerprint != learnt.fingerprint
    plans = [desk.plan(250e3, explain=False).plan for desk in (stated, learnt)]
    assert plans[0].reachable
    assert plans[1].after is None or plans[1].after.build.learnt == weak.learnt
    assert not plans[1].reachable or plans[1].cost.total >= plans[0].cost.total
