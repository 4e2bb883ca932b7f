"""What every word of an answer promises, held against brute force: curves, crossings, ceilings, samples.

No expected number here is the program's own: each is a definition worked out a second way, or the same question
solved on a much finer grid.
"""

import itertools
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

import graph.operation as operation
import graph.question as question
from graph.ceiling import first_crossing
from graph.check import bench_of, check, examine
from graph.curve import asked_torque, own_curve, trimmed
from graph.errors import OutOfRange
from graph.judge import judge
from graph.kinds import discover
from graph.limit import Control, LimitKind
from graph.model import Curve, Evidence, EvidenceKind, Meaning, Rating
from graph.operation import prepare
from graph.sampling import percentiles, tie
from graph.service import Request, aim, assemble
from graph.solution import solve_paths
from graph.subject import sampled
from graph.variation import MODEL

QUESTIONS = {
    "car-a": ("car-a", Request(power=340e3, boost=2.2e5)),
    "car-a on ethanol": ("car-a", Request(power=300e3, boost=2.2e5, fuel="e85")),
    "car-a high up": ("car-a", Request(power=240e3, boost=1.5e5, altitude=1500.0)),
    "car-b": ("car-b", Request(power=250e3, boost=1.9e5)),
    "car-c": ("car-c", Request(power=330e3)),
    "car-c for long": ("car-c", Request(power=330e3, ambient=303.15, duration=1200.0)),
}
KINDS = discover()


@pytest.fixture(scope="module")
def garage(demo_database):
    with demo_database.read() as view:
        cars = {c.id: c for c in view.cars()}
        parts = {p.id: p for p in view.parts()}
        platforms = {p.id: p for p in view.platforms()}

    def asked(name, **other):
        car, request = QUESTIONS[name]
        record = cars[car]
        request = replace(request, **other)
        build = assemble(record, platforms[record.platform], parts, request.install, request.fuel)
        return build, aim(request, record, parts)

    return asked


@pytest.fixture(scope="module")
def reports(garage):
    return {name: check(*garage(name), KINDS, samples=600) for name in QUESTIONS}


@pytest.fixture(params=QUESTIONS)
def name(request):
    return request.param


# -- curves and crossings --------------------------------------------------------------------------------------------

rises = st.lists(st.floats(0.0, 2.5), min_size=4, max_size=14)


@settings(max_examples=200, deadline=None)
@given(values=rises, lost=st.integers(0, 3), beyond=st.floats(0.0, 0.99))
@example(values=[0.0, 3.3e-28, 0.0, 0.0, 0.0], lost=3, beyond=0.0)  # a line that rises by nothing
def test_first_crossing_against_a_brute_force_grid(values, lost, beyond):
    """Every power from the lowest up tried one after the other; past the last known point the line is drawn on."""
    power = np.linspace(100.0, 300.0, len(values))
    utilisation = np.array(values)
    known = len(values) - lost
    if lost:
        utilisation[known:] = np.nan
    step = power[1] - power[0]
    last = power[known - 1] + beyond * step if lost else power[-1]
    fine = np.linspace(100.0, last, 40_001)
    line = np.interp(fine, power[:known], utilisation[:known])
    if lost and known >= 2:
        slope = (utilisation[known - 1] - utilisation[known - 2]) / step
        line = np.where(fine > power[known - 1], utilisation[known - 1] + slope * (fine - power[known - 1]), line)
    over = np.flatnonzero(line > 1.0 + 1e-9)
    found = float(first_crossing(power, utilisation, last))
    if known < 2:
        assert found == (power[0] if utilisation[0] > 1.0 else np.inf)
    elif over.size:
        assert found == pytest.approx(fine[over[0]], abs=2.0 * (fine[1] - fine[0]) + 1e-6)
    else:
        assert found == np.inf or found >= last - 1e-6


def test_a_capacity_that_is_used_up_is_a_crossing():
    power = np.array([100.0, 200.0, 300.0])
    assert float(first_crossing(power, np.array([0.5, np.inf, np.inf]), 300.0)) == pytest.approx(100.0)
    assert float(first_crossing(power, np.array([np.inf, np.inf, 0.3]), 300.0)) == 100.0


@given(
    power=st.floats(80e3, 500e3),
    factor=st.floats(0.5, 2.0),
    wanted=st.one_of(st.none(), st.floats(1.0, 1.6)),
    power_speed=st.floats(60.0, 120.0),
)
def test_target_curve_scales_with_its_power(power, factor, wanted, power_speed):
    """min(torque wanted, P/omega), and for another power both scale by P'/P; P/omega at the speed of the power."""
    speed = np.linspace(30.0, 120.0, 40)
    torque = None if wanted is None else wanted * power / (2 * np.pi * power_speed)
    target = SimpleNamespace(power=power, torque=torque)
    one, other = asked_torque(target, np.array([power, power * factor]), speed, power_speed)
    by_hand = [min(torque or power / (2 * np.pi * power_speed), power / (2 * np.pi * n)) for n in speed]
    np.testing.assert_allclose(one, by_hand)
    np.testing.assert_allclose(other, one * factor)
    at = asked_torque(target, np.array([power]), np.array([power_speed]), power_speed)[0, 0]
    assert at * 2 * np.pi * power_speed == pytest.approx(power)


def test_own_curve_holds_only_below_the_first_opening_of_the_gate_and_does_not_scale():
    spool = np.array([100.0, 200.0, 320.0, 250.0, 400.0])
    asked = np.array([[300.0] * 5, [600.0] * 5, [90.0] * 5])
    held = own_curve(asked, spool)
    np.testing.assert_array_equal(held[0], [100.0, 200.0, 300.0, 300.0, 300.0])
    np.testing.assert_array_equal(held[1], spool)
    np.testing.assert_array_equal(held[2], asked[2])


def test_nothing_is_trimmed_at_the_speed_of_the_power_and_above():
    speed = np.array([40.0, 80.0, 110.0, 120.0])
    torque = trimmed(np.full((1, 4), 500.0), np.array([300.0, 600.0, 400.0, 100.0]), speed, 110.0)
    np.testing.assert_allclose(torque[0], [300.0, 500.0, 500.0, 500.0], rtol=1e-5)


def test_contradictory_targets_are_refused(garage):
    build, target = garage("car-a")
    with pytest.raises(OutOfRange, match="torque wanted"):
        check(build, replace(target, torque=300.0), KINDS, samples=0)
    for speed in (20.0, 190.0):
        with pytest.raises(OutOfRange, match="speed of the power"):
            check(build, replace(target, power_speed=speed), KINDS, samples=0)


# -- ceilings --------------------------------------------------------------------------------------------------------


def found(report):
    return {(f.slot, f.rule): f for f in report.findings}


def agree(coarse, fine, bound):
    """Ceilings of two reports within a share; one that only one of them has lies as near to the end of the range."""
    for key, finding in found(coarse).items():
        other = found(fine)[key]
        for a, b in ((finding.ceiling, other.ceiling), (finding.ceiling_here, other.ceiling_here)):
            if a is not None and b is not None:
                assert a == pytest.approx(b, rel=bound), key
    assert coarse.carries == pytest.approx(fine.carries, rel=bound)
    assert coarse.makes.power == pytest.approx(fine.makes.power, rel=bound)
    assert coarse.engine_alone == pytest.approx(fine.engine_alone, rel=bound)


def test_ceilings_on_ten_times_as_many_powers(garage, reports, name, monkeypatch):
    """Interpolation over power costs less than 0.3 % of any ceiling (0.1 % seen)."""
    monkeypatch.setattr(question, "POWERS", 480)
    agree(reports[name], check(*garage(name), KINDS, samples=0), 3e-3)


def test_ceilings_on_a_finer_grid_of_manifold_pressures(garage, reports, name, monkeypatch):
    """Interpolation over manifold pressure costs less than 0.5 % of any ceiling (0.4 % seen, plugs on ethanol)."""
    coarse = operation.LEVELS
    fine = np.unique(np.concatenate([np.linspace(a, b, 7) for a, b in itertools.pairwise(coarse)]))
    monkeypatch.setattr(operation, "LEVELS", fine)
    agree(reports[name], check(*garage(name), KINDS, samples=0), 5e-3)


def test_utilisation_is_one_at_every_ceiling_alone(garage, reports, name):
    seen = 0
    for key, finding in found(reports[name]).items():
        build, target = garage(name)
        lowest = 0.5 * build.platform.constants["factory power"]
        if finding.ceiling is None or finding.ceiling <= lowest * 1.01 or finding.slot == "engine" or seen >= 9:
            continue
        if finding.control is Control.SPARK:
            continue
        again = check(build, replace(target, power=finding.ceiling), KINDS, samples=0)
        assert found(again)[key].utilisation == pytest.approx(1.0, abs=4e-3), key
        seen += 1
    assert seen >= 3


def test_carries_is_held_and_a_little_more_is_not(garage, reports, name):
    build, target = garage(name)
    carries = reports[name].carries
    below, above = (check(build, replace(target, power=carries * k), KINDS, samples=0) for k in (0.998, 1.005))
    assert below.reachable is not False
    assert above.reachable is False
    assert above.carries == pytest.approx(carries, rel=4e-3)


def test_lower_bounds_are_inverted(garage):
    """A larger rating relieves a limit; of a lower bound (smallest flow of the compressor) it tightens it.

    The gap of a spark plug is a rating that is a demand: a wider one takes more voltage.
    """
    build, target = garage("car-a", power=200e3)
    anatomy, question = examine(build, target, KINDS)
    solved = solve_paths(prepare(build.platform), [anatomy.here()], question, [0])
    tightened = []
    for subject in anatomy.subjects:
        factors = {subject.rule.rating: 1.1}
        nominal = solved.utilisation(subject, 0, all_speeds=True)
        larger = solved.utilisation(subject, 0, factors, all_speeds=True)
        usable = np.isfinite(nominal) & np.isfinite(larger) & (nominal > 0.0)
        if subject.rule.control is Control.SPARK or subject.place.slot.kind == "plugs" or not usable.any():
            continue
        change = larger[usable] / nominal[usable]
        if (change > 1.0 + 1e-9).any():
            tightened.append((subject.rule.name, subject.rule.kind))
            assert (change >= 1.0 - 1e-9).all()
    assert ("surge of the compressor", LimitKind.FLOOR) in tightened
    assert all(kind is LimitKind.FLOOR for _, kind in tightened), tightened


def test_powers_reach_a_target_beyond_twice_the_factory_power(garage):
    build, target = garage("car-a", power=700e3)
    _, question = examine(build, target, KINDS)
    assert question.powers[question.at_target] == 700e3
    assert question.powers[0] == pytest.approx(0.5 * build.platform.constants["factory power"])
    assert np.diff(question.powers).max() < 0.06 * question.powers[-1]


def test_limit_passed_from_the_lowest_power_on_holds_the_torque(garage, reports):
    """A controller that is too hot at half the factory power permits less than that; brakes know no torque."""
    build, target = garage("car-c for long")
    session = reports["car-c for long"].torque_allowed
    hotter = check(build, replace(target, duration=7200.0), KINDS, samples=0).torque_allowed
    assert (hotter <= session * (1.0 + 1e-9)).all()
    lowest = 0.5 * build.platform.constants["factory power"] / (2 * np.pi * prepare(build.platform).speed)
    assert (hotter[-10:] < lowest[-10:]).all()


def test_torque_allowed_is_passed_by_no_ceiling(garage, reports, name):
    """Asked again with that torque as the wanted one, no protective limit is passed at any speed."""
    report = reports[name]
    build, target = garage(name)
    anatomy, question = examine(build, target, KINDS)
    solved = solve_paths(prepare(build.platform, power_speed=question.power_speed), [anatomy.here()], question, [0])
    capped = solved.capped_torque[0]
    assert (report.torque_allowed <= capped * (1.0 + 1e-9)).all()
    torque = np.minimum(report.torque_allowed * (1.0 - 1e-6), solved.operation.torque[0, -1])
    at, _ = solved.map.at(torque[None, None, :])
    for subject in anatomy.subjects:
        if subject.rule.kind is LimitKind.FLOOR or subject.rule.control is Control.SPARK:
            continue
        if subject.rule.no_ceiling is not None:
            continue
        demand, capacity = subject.utilisation(at, question.setting)
        assert (np.nan_to_num(demand / capacity) <= 1.01).all(), subject.rule.name


# -- samples ---------------------------------------------------------------------------------------------------------


def test_percentiles_are_ordered_and_probabilities_sum_to_one(reports, name):
    report = reports[name]
    intervals = [f.ceiling_interval for f in report.findings if f.ceiling_interval is not None]
    for interval in (*intervals, report.carries_interval):
        assert interval.low <= interval.median
        assert interval.high is None or interval.median <= interval.high
    chances = [f.weakest_probability for f in report.findings]
    assert sum(chances) == pytest.approx(1.0)
    assert min(chances) >= 0.0
    assert 0.0 <= report.holds_probability <= 1.0


def test_tie_is_the_smallest_set_of_nine_tenths(reports, name):
    report = reports[name]
    chance = {}
    for finding in report.findings:
        chance[finding.slot] = chance.get(finding.slot, 0.0) + finding.weakest_probability
    held = [chance[s] for s in report.tie]
    assert sum(held) >= 0.9 - 1e-9
    assert sum(held) - min(held) < 0.9
    assert min(held) >= max((p for s, p in chance.items() if s not in report.tie), default=0.0)
    assert tie(["a", "b", "a"], np.array([0.5, 0.1, 0.4])) == ("a",)


def test_same_seed_same_answer_other_seed_other_answer(garage):
    build, target = garage("car-b")
    one, two, other = (check(build, target, KINDS, samples=300, seed=s) for s in (1, 1, 2))
    assert one.findings == two.findings
    assert (one.carries_interval, one.holds_probability) == (two.carries_interval, two.holds_probability)
    assert one.carries_interval != other.carries_interval
    assert one.carries_interval.median == pytest.approx(other.carries_interval.median, rel=0.02)
    assert [f.ceiling for f in one.findings] == [f.ceiling for f in other.findings]


def test_without_samples_every_probability_is_nought_or_one(garage):
    report = check(*garage("car-a"), KINDS, samples=0)
    assert {f.weakest_probability for f in report.findings} <= {0.0, 1.0}
    assert report.carries_interval.low == report.carries_interval.median == report.carries_interval.high


@pytest.mark.parametrize(
    ("meaning", "share"), [("nominal", 0.5), ("guaranteed", 0.05), ("survived", 0.0), ("failed", 1.0)]
)
def test_meaning_of_a_rating(meaning, share):
    """Share of true capacities below the stated one: nominal is the median, a guaranteed minimum the 5 % point."""
    rating = Rating(
        name="x",
        value=1.0,
        evidence=Evidence(kind=EvidenceKind.OWN_BENCH, source="sheet"),
        spread=0.1,
        meaning=next(m for m in Meaning if m.name == meaning.upper()),
    )
    drawn = sampled(rating, np.random.default_rng(3).standard_normal(40_000))
    assert (drawn < 0.0).mean() == pytest.approx(share, abs=0.005)


def test_percentiles_of_ceilings_that_are_seldom_reached():
    assert percentiles(np.array([1.0, np.inf, np.inf])) is None
    low, median, high = percentiles(np.array([1.0, 2.0, 3.0, np.inf, np.inf]))
    assert (low, median) == (1.0, 3.0)
    assert high == 3.0 or high is None


def solved_in_full(build, target, bench, row):
    """The power carried by one drawn build: every rating and model parameter moved, everything solved again."""
    places = []
    for place in build.places:
        part = place.part
        if part is not None:
            ratings = []
            for rating in part.ratings:
                mine = [v for v in bench.variations if (v.slot, v.rating) == (place.slot.name, rating.name)]
                for v in mine:
                    factor = v.factors(bench.draws[row, v.index])[rating.name]
                    value = rating.value
                    moved = (
                        replace(value, y=tuple(y * factor for y in value.y))
                        if isinstance(value, Curve)
                        else value * factor
                    )
                    rating = replace(rating, value=moved)
                ratings.append(rating)
            part = replace(part, ratings=tuple(ratings))
        places.append(replace(place, part=part))
    anatomy, question = examine(replace(build, places=tuple(places)), target, KINDS)
    path = anatomy.here()
    for v in bench.variations:
        if v.slot == MODEL:
            path[v.rating] = path.get(v.rating, 1.0) * v.factors(bench.draws[row, v.index])[v.rating]
    solved = solve_paths(prepare(build.platform, power_speed=question.power_speed), [path], question, [0])
    carried = float(solved.capped_power[0])
    for subject in anatomy.subjects:
        if subject.rule.no_ceiling is None and subject.rule.control is not Control.SPARK:
            worst = solved.worst(solved.utilisation(subject, 0))
            carried = min(carried, float(first_crossing(question.powers, worst, solved.last_power[0])))
    return carried


def test_surrogate_against_the_same_draws_solved_in_full(garage, name):
    """Carries sampled through the parabolas, against the whole model for the same 16 drawn builds, one by one."""
    build, target = garage(name)
    anatomy, question = examine(build, target, KINDS)
    bench = bench_of(build, KINDS, anatomy, question, 16, 11)
    engine = bench.last_power(bench.here, capped=True).sample(bench.draws)[:, 0]
    through = np.min([engine, *(judge(s, bench).here for s in anatomy.subjects)], axis=0)
    full = np.array([solved_in_full(build, target, bench, row) for row in range(16)])
    error = through / full - 1.0
    assert abs(error.mean()) < 0.005
    assert error.std() < 0.008
    assert np.abs(error).max() < 0.025
