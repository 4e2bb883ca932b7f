"""The fuel chain, the mist and time on whole cars: what moves with the car's own parts, and what stays when judged alone.

Expected ratios are worked out in the tests from the orifice law and from continuity; the rest are invariants.
"""

from dataclasses import replace
from types import MappingProxyType

import numpy as np
import pytest

from graph.check import check, examine
from graph.errors import OutOfRange
from graph.kinds import discover
from graph.model import Belief, Condition, Curve, Evidence, EvidenceKind, Part, Place, Rating, Slot, Weather
from graph.operation import REFERENCE, prepare, solve, stack_paths
from graph.physics import mist
from graph.physics.fuel_chain import Chain
from graph.service import Request, aim, assemble, assess

KINDS = discover()
SOURCE = Evidence(kind=EvidenceKind.MAKER_SHEET, source="by hand")


@pytest.fixture(scope="module")
def garage(demo_database):
    with demo_database.read() as view:
        cars = {c.id: c for c in view.cars()}
        parts = {p.id: p for p in view.parts()}
        return cars, parts, {p.id: p for p in view.platforms()}


def built(garage, car, request):
    cars, parts, platforms = garage
    build = assemble(cars[car], platforms[cars[car].platform], parts, request.install, request.fuel)
    return build, aim(request, cars[car], parts)


def with_rating(build, slot, name, factor):
    """The same build with one rating of one part scaled."""
    places = []
    for place in build.places:
        if place.slot.name == slot:
            ratings = tuple(replace(r, value=r.value * factor) if r.name == name else r for r in place.part.ratings)
            place = replace(place, part=replace(place.part, ratings=ratings))
        places.append(place)
    return replace(build, places=tuple(places))


def with_part(build, part):
    slot = Slot(name=part.kind, kind=part.kind)
    return replace(build, places=(*build.places, Place(slot=slot, part=part, belief=Belief.SEEN)))


def row(report, slot, rule):
    return next(f for f in report.findings if f.slot == slot and f.rule.startswith(rule))


def judged(build, target):
    return check(build, target, KINDS, samples=0)


# --- the fuel chain ---------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def car_c(garage):
    return built(garage, "car-c", Request(power=330e3))


def test_with_adequate_pumps_the_neighbours_say_nothing(car_c):
    build, target = car_c
    anatomy, question = examine(build, target, KINDS)
    assert anatomy.linked
    chain = Chain.of(replace(question.setting, linked=anatomy.linked))
    # 330 kW of car C on ethanol take 30 to 40 g/s at 110 turns a second, and its parts are bought for more.
    assert float(chain.rail_pressure(0.030, 110.0)) == pytest.approx(200e5, rel=1e-3)
    report = judged(build, target)
    window = row(report, "injectors", "time in the injection window")
    assert window.ceiling_here is None or window.ceiling_here > target.power


@pytest.mark.parametrize(
    ("slot", "rating", "factor"), [("high-pressure pump", "displacement", 0.45), ("tank pump", "flow", 0.45)]
)
def test_an_undersized_pump_takes_the_injectors_with_it(car_c, slot, rating, factor):
    build, target = car_c
    sound, weak = judged(build, target), judged(with_rating(build, slot, rating, factor), target)
    before, after = (row(r, "injectors", "time in the injection window") for r in (sound, weak))
    # judged alone, with adequate neighbours, nothing moves
    assert after.ceiling == before.ceiling
    assert after.utilisation == before.utilisation
    # here the rail sags, so that the same fuel takes longer
    assert after.ceiling_here is not None
    assert before.ceiling_here is None or after.ceiling_here < before.ceiling_here
    pump = row(weak, slot, "fuel per")
    assert pump.ceiling_here < target.power


def test_injection_time_grows_with_the_inverse_of_the_share_that_arrives(car_c):
    build, target = car_c
    anatomy, question = examine(build, target, KINDS)
    subject = next(
        s for s in anatomy.subjects if s.place.slot.name == "injectors" and s.rule.name.startswith("time in")
    )
    engine = prepare(build.platform)
    states = solve(engine, stack_paths([anatomy.here()]), target.fuel, target.weather, target.latest_phasing)
    point, _ = states.at(0.8 * states.highest_torque()[0][:, None])
    dead = float(subject.own.value("dead time"))
    # a cam pump of so little delivery that it is short at almost every speed
    said = replace(question.setting, linked=MappingProxyType({"cam pump delivery": 0.10e-6}))
    free, _ = subject.utilisation(point, question.setting)
    sagged, _ = subject.utilisation(point, said)
    share = Chain.of(said).arriving(point.fuel_flow, point.speed)
    assert np.mean(share < 1.0) > 0.9
    # orifice law: flow with the root of the pressure, pressure with the square of the share
    assert (sagged - dead) * share == pytest.approx(free - dead, rel=1e-9)


def test_what_a_part_says_never_raises_a_ceiling(garage):
    for car, request in (("car-a", Request(power=300e3, boost=2.2e5)), ("car-c", Request(power=330e3))):
        build, target = built(garage, car, request)
        anatomy, _ = examine(build, target, KINDS)
        whole = judged(build, target)
        silent = {
            name: replace(kind, links=tuple(f for f in kind.links if f.parameter == "boost overshoot"))
            for name, kind in KINDS.items()
        }
        alone = check(build, target, silent, samples=0)
        assert anatomy.linked
        for one, other in zip(whole.findings, alone.findings, strict=True):
            assert (one.slot, one.rule, one.ceiling) == (other.slot, other.rule, other.ceiling)
            if other.ceiling_here is not None and one.ceiling_here is not None:
                assert one.ceiling_here <= other.ceiling_here * (1.0 + 1e-9)


def test_a_wilder_actuator_lowers_pipe_and_sensor(garage):
    build, target = built(garage, "car-a", Request(power=300e3, boost=2.2e5))
    tame = judged(build, target)
    wild = []
    for place in build.places:
        if place.slot.name == "wastegate":
            stated = Rating(name="overshoot", value=0.15, evidence=SOURCE)
            place = replace(place, part=replace(place.part, ratings=(*place.part.ratings, stated)))
        wild.append(place)
    report = judged(replace(build, places=tuple(wild)), target)
    for slot, rule in (("charge pipe", "boost in"), ("pressure sensor", "peak of the boost")):
        assert row(report, slot, rule).ceiling_here < row(tame, slot, rule).ceiling_here
        assert row(report, slot, rule).ceiling == row(tame, slot, rule).ceiling


# --- the mist ---------------------------------------------------------------------------------------------------------


def spray(share, methanol=0.5, flow=60.0, tank=5.0e-3):
    def rated(name, value, *conditions):
        return Rating(name=name, value=value, conditions=conditions, evidence=SOURCE)

    return Part(
        id="PY-9100",
        kind="mist",
        name="sample mist",
        ratings=(
            rated("mist share", share, Condition(name="methanol", value=methanol)),
            rated("flow", flow / 3.6e6),
            rated("tank volume", tank),
        ),
    )


@pytest.fixture(scope="module")
def car_a(garage):
    return built(garage, "car-a", Request(power=300e3, boost=2.2e5))


def test_mist_lifts_the_knock_limit_and_its_absence_is_a_row(car_a):
    build, target = car_a
    dry = judged(build, target)
    wet = check(with_part(build, spray(0.2)), target, KINDS, samples=0, aside=True)
    assert wet.engine_alone > dry.engine_alone * 1.01
    (without,) = (c for c in wet.circumstances if c.circumstance == "without the mist")
    # with the tank empty it is the engine that it was
    assert without.ceiling == pytest.approx(dry.engine_alone, rel=1e-12)
    assert without.ceiling < wet.engine_alone
    assert without.ceiling_here == pytest.approx(dry.makes.at_cap, rel=1e-12)


def test_no_mist_is_exactly_no_mist(car_a):
    build, target = car_a
    engine = prepare(build.platform)
    paths = [{}, {"mist_share": 0.0, "mist_methanol": 0.7}]
    states = solve(engine, stack_paths(paths), target.fuel, target.weather, target.latest_phasing).states
    assert np.array_equal(states[0], states[1])
    assert float(np.asarray(REFERENCE.mist_share)) == 0.0


def test_mass_closes_with_mist(car_a):
    build, target = car_a
    engine = prepare(build.platform)
    paths = [{}, {"mist_share": 0.25, "mist_methanol": 0.5}]
    states = solve(engine, stack_paths(paths), target.fuel, target.weather, target.latest_phasing)
    point, _ = states.at(0.9 * states.highest_torque()[0].min(axis=0)[None, None])
    dry, wet = ({f: getattr(point, f)[i, 0] for f in ("air_flow", "fuel_flow", "exhaust_flow")} for i in (0, 1))
    assert dry["exhaust_flow"] == pytest.approx(dry["air_flow"] + dry["fuel_flow"], rel=1e-12)
    # the share is counted on the fuel that the mixture asks for: burned fuel and what the methanol replaces
    asked = wet["air_flow"] / (engine.mixture * target.fuel.stoichiometric_ratio)
    sprayed = 0.25 * asked
    assert wet["exhaust_flow"] == pytest.approx(wet["air_flow"] + wet["fuel_flow"] + sprayed, rel=1e-9)
    # oxygen: fuel and methanol take the same air as the mixture says
    taken = wet["fuel_flow"] * target.fuel.stoichiometric_ratio + 0.5 * sprayed * mist.METHANOL.stoichiometric_ratio
    assert wet["air_flow"] / taken == pytest.approx(engine.mixture, rel=1e-9)


def test_more_mist_never_lowers_the_knock_limited_torque(car_a):
    build, target = car_a
    engine = prepare(build.platform)
    shares = (0.0, 0.1, 0.2, 0.3)
    paths = [
        {
            "mist_share": s,
            "mist_methanol": 0.5,
            "octane_shift": float(mist.octane_gain(98.0, 88.0, s, 0.5)),
        }
        for s in shares
    ]
    states = solve(engine, stack_paths(paths), target.fuel, target.weather, target.latest_phasing)
    highest, _ = states.highest_torque()
    assert np.all(np.diff(highest, axis=0) >= -1e-6)


def test_the_tank_of_the_mist_lasts_as_long_as_it_holds(car_a):
    build, target = car_a
    long = replace(target, duration=1200.0)
    rule = "time until the mist tank is empty"
    short_row = row(judged(with_part(build, spray(0.2)), target), "mist", rule)
    long_row = row(judged(with_part(build, spray(0.2)), long), "mist", rule)
    # 20 minutes take 80 times what 15 seconds take
    assert long_row.demand / short_row.demand == pytest.approx(80.0)
    assert long_row.verdict.value == "exceeded"


# --- ethanol and time -------------------------------------------------------------------------------------------------


def test_ethanol_and_time_are_circumstances(garage):
    build, target = built(garage, "car-c", Request(power=330e3))
    report = check(build, target, KINDS, samples=0, aside=True)
    names = {(c.circumstance, c.slot) for c in report.circumstances}
    assert ("without the ethanol", "fuel grade") in names
    assert ("held for 20 min", "pump controller") in names
    (petrol,) = (c for c in report.circumstances if c.circumstance == "without the ethanol")
    assert petrol.ceiling < report.engine_alone
    # the same question asked for twenty minutes gives the number of the circumstance, and the pull beside it
    held = check(build, replace(target, duration=1200.0), KINDS, samples=0, aside=True)
    (controller,) = (c for c in report.circumstances if c.slot == "pump controller")
    assert row(held, "pump controller", "current").ceiling == pytest.approx(controller.ceiling)
    assert row(held, "pump controller", "current").ceiling_here == pytest.approx(controller.ceiling_here)
    assert ("in one pull", "pump controller") in {(c.circumstance, c.slot) for c in held.circumstances}


def test_circumstances_lower_nothing(garage):
    build, target = built(garage, "car-c", Request(power=330e3))
    with_, without = (check(build, target, KINDS, samples=0, aside=a) for a in (True, False))
    assert without.circumstances == ()
    assert (with_.carries, with_.makes.power, with_.tie) == (without.carries, without.makes.power, without.tie)


def test_petrol_has_no_ethanol_to_lose(car_a):
    build, target = car_a
    report = check(build, target, KINDS, samples=0, aside=True)
    assert "without the ethanol" not in {c.circumstance for c in report.circumstances}


def test_a_soaking_cooler_has_two_ceilings(car_a):
    build, target = car_a
    places = []
    for place in build.places:
        if place.slot.name == "intercooler":
            stated = Rating(name="soak", value=12.0, evidence=SOURCE)
            place = replace(place, part=replace(place.part, ratings=(*place.part.ratings, stated)))
        places.append(place)
    soaking = replace(build, places=tuple(places))
    pull = check(soaking, target, KINDS, samples=0, aside=True)
    (held,) = (c for c in pull.circumstances if c.slot == "intercooler")
    now = row(pull, "intercooler", "charge over the air")
    assert held.circumstance == "held for 20 min"
    assert held.ceiling < now.ceiling
    assert held.ceiling_here < now.ceiling_here
    # one pull on a cold cooler is close to a cooler that does not soak
    dry = row(judged(build, target), "intercooler", "charge over the air")
    assert now.ceiling < dry.ceiling
    assert held.ceiling < now.ceiling < dry.ceiling


def test_pre_ignition_shapes_the_torque_allowed_and_no_ceiling(car_a):
    build, target = car_a
    low = next(p for p in build.places if p.slot.name == "pistons")
    strict = Rating(name="low-speed load", value=12.0e5, evidence=SOURCE)
    part = replace(low.part, ratings=(*low.part.ratings, strict))
    places = tuple(replace(p, part=part) if p.slot.name == "pistons" else p for p in build.places)
    plain, capped = judged(build, target), judged(replace(build, places=places), target)
    finding = row(capped, "pistons", "pre-ignition")
    assert finding.ceiling is None
    assert finding.utilisation > 1.0
    assert finding.worst_speed * 60.0 < 2500.0
    assert capped.carries == plain.carries
    slow = capped.curve.speed * 60.0 <= 2500.0
    # 12 bar on the displacement of the platform, by the definition of the mean pressure
    c = build.platform.constants
    displacement = np.pi / 4.0 * c["bore"] ** 2 * c["stroke"] * c["cylinders"]
    allowed = 12.0e5 * displacement / (4.0 * np.pi)
    assert np.all(capped.torque_allowed[slow] <= allowed * 1.02)
    assert capped.torque_allowed[~slow] == pytest.approx(plain.torque_allowed[~slow])


def test_a_hot_day_takes_the_compressor_wheel_further(garage):
    """The wheel of a map turns faster for the same pressure ratio where the air is hot (similarity)."""
    build, target = built(garage, "car-a", Request(power=240e3, boost=2.2e5))
    points = tuple(float(i) for i in range(1, 10))
    state = (Condition(name="reference temperature", value=298.0), Condition(name="reference pressure", value=1.0e5))

    def curve(name, values, conditions=()):
        return Rating(name=name, value=Curve(x=points, y=values), conditions=conditions, evidence=SOURCE)

    lines = (
        curve("speed line speed", (1500.0,) * 3 + (2200.0,) * 3 + (2900.0,) * 3),
        curve("speed line flow", (0.04, 0.09, 0.14, 0.08, 0.16, 0.22, 0.12, 0.24, 0.31), state),
        curve("speed line pressure ratio", (1.6, 1.55, 1.3, 2.4, 2.3, 1.9, 3.6, 3.4, 2.8)),
        curve("speed line efficiency", (0.66, 0.72, 0.62, 0.69, 0.76, 0.66, 0.66, 0.73, 0.64)),
    )
    places = tuple(
        replace(p, part=replace(p.part, ratings=(*p.part.ratings, *lines))) if p.slot.name == "compressor" else p
        for p in build.places
    )
    mapped = replace(build, places=places)
    cool, hot = (
        row(judged(mapped, replace(target, weather=Weather(temperature=t, pressure=1.0e5))), "compressor", "wheel")
        for t in (283.15, 313.15)
    )
    assert hot.demand > cool.demand
    assert hot.capacity == cool.capacity == pytest.approx(2900.0)
    assert hot.ceiling < cool.ceiling


# --- ranges -----------------------------------------------------------------------------------------------------------


def test_a_compression_ratio_of_forty_is_refused(car_a):
    build, target = car_a
    constants = MappingProxyType({**build.platform.constants, "compression ratio": 40.0})
    with pytest.raises(OutOfRange, match="compression ratio: found 40, allowed is 6 to 16"):
        judged(replace(build, platform=replace(build.platform, constants=constants)), target)


@pytest.mark.parametrize("boost", [-0.5e5, 9.0e5])
def test_a_boost_that_cannot_be_is_refused(shop, boost):
    with pytest.raises(OutOfRange, match="boost: found"):
        assess(shop, "car-a", Request(power=300e3, boost=boost))


def test_what_lies_beyond_a_formula_is_said(car_a):
    """Octane index of 98 RON, 88 MON at K = -0.5 is 103; the delay was measured with reference fuels of 80 to 100."""
    build, target = car_a
    report = check(build, target, KINDS, samples=0, aside=True)
    assert [s for s in report.extrapolated if s.startswith("ignition delay")] == [
        "ignition delay: made for octane number 80 to 100, used at 103"
    ]
    # a fuel of 95 RON and 85 MON has 100: inside
    mild = replace(target, fuel=replace(target.fuel, research_octane=95.0, motor_octane=85.0))
    calm = check(build, mild, KINDS, samples=0, aside=True)
    assert [s for s in calm.extrapolated if s.startswith("ignition delay")] == []
    lean = MappingProxyType(
        {**build.platform.curves, "lambda": Curve(x=build.platform.curves["lambda"].x[:2], y=(0.70, 0.9))}
    )
    rich = check(replace(build, platform=replace(build.platform, curves=lean)), target, KINDS, samples=0, aside=True)
    assert "useful heat of a mixture: made for lambda 0.75 to 1.00, used at 0.70" in rich.extrapolated
