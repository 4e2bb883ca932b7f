"""Where the power went: the account must close, and each cause must act as physics says.

Expected values are identities, invariants, or hand calculations named beside them.
"""

from dataclasses import replace

import numpy as np
import pytest

from graph.breakdown import Loss, breakdown, relaxed
from graph.check import check
from graph.kinds import discover
from graph.model import Curve
from graph.physics import friction
from graph.service import Request, aim, assemble

KINDS = discover()
ASKED = [("car-a", None, 2.2e5), ("car-a", "e85", 2.2e5), ("car-b", None, 1.5e5), ("car-c", None, 1.5e5)]


def question(view, car, fuel=None, boost=2.2e5, power=340e3):
    parts = {p.id: p for p in view.parts()}
    record = next(c for c in view.cars() if c.id == car)
    platform = next(p for p in view.platforms() if p.id == record.platform)
    build = assemble(record, platform, parts, (), fuel)
    return build, aim(Request(power=power, boost=boost, fuel=fuel), record, parts)


@pytest.fixture(scope="module")
def found(demo_database):
    with demo_database.read() as view:
        return {asked: breakdown(*question(view, *asked), KINDS) for asked in ASKED}


def share(answer, loss):
    return next(s for s in answer.shares if s.loss is loss)


@pytest.mark.parametrize("asked", ASKED)
def test_shares_interaction_and_remainder_add_up_to_the_shortfall(found, asked):
    answer = found[asked]
    total = sum(s.alone for s in answer.shares) + answer.interaction + answer.remainder
    assert total == pytest.approx(answer.target - answer.makes, abs=1e-3)
    assert sum(s.alone for s in answer.shares) + answer.interaction == pytest.approx(answer.together - answer.makes)


@pytest.mark.parametrize("asked", ASKED)
def test_every_cause_has_one_share_and_none_is_negative(found, asked):
    answer = found[asked]
    assert {s.loss for s in answer.shares} == set(Loss)
    assert min(s.alone for s in answer.shares) >= 0.0
    assert min(s.last for s in answer.shares) >= -0.5e3
    assert [s.alone for s in answer.shares] == sorted((s.alone for s in answer.shares), reverse=True)


def test_knock_costs_nothing_on_a_fuel_that_does_not_knock(found):
    assert share(found["car-a", "e85", 2.2e5], Loss.KNOCK).alone == 0.0
    assert share(found["car-a", None, 2.2e5], Loss.KNOCK).alone > 5e3


def test_makes_is_the_power_of_the_check_with_hard_limits_of_parts_ignored(shop, found):
    build, target = question(shop, "car-a")
    report = check(build, target, KINDS, samples=0)
    assert found["car-a", None, 2.2e5].makes == pytest.approx(report.makes.at_cap, rel=5e-3)


def test_friction_share_is_the_power_of_the_friction_pressure(found, shop):
    """At a cap that knock does not touch: Chen and Flynn at 110 1/s, 12.5 MPa at most, times displacement and speed."""
    build, _ = question(shop, "car-a")
    constants = build.platform.constants
    swept = np.pi / 4.0 * constants["bore"] ** 2 * constants["stroke"] * constants["cylinders"]
    speed = constants["power speed"]
    pressures = friction.chen_flynn(np.array([8.0e6, 12.5e6]), friction.piston_speed(constants["stroke"], speed))
    low, high = constants["friction factor"] * pressures * swept * speed / 2.0
    assert low <= share(found["car-b", None, 1.5e5], Loss.FRICTION).alone <= high


def test_clean_valves_have_no_breathing_share(shop):
    build, target = question(shop, "car-c", boost=1.5e5)
    assert share(breakdown(build, target, KINDS), Loss.BREATHING).alone == pytest.approx(0.0, abs=1.0)


def test_a_mixture_of_best_power_leaves_less_to_the_mixture(shop):
    """Useful energy is largest 5 % rich (fuel-air cycles): an engine that runs far too rich gains more."""
    build, target = question(shop, "car-c", boost=1.2e5)
    own = build.platform.curves["lambda"]
    rich = Curve(x=own.x, y=tuple(0.76 for _ in own.y))
    changed = replace(build, platform=replace(build.platform, curves={**build.platform.curves, "lambda": rich}))
    before = share(breakdown(build, target, KINDS), Loss.MIXTURE).alone
    assert share(breakdown(changed, target, KINDS), Loss.MIXTURE).alone > before


def test_without_a_cap_the_boost_that_is_reached_stands_for_it(shop):
    answer = breakdown(*question(shop, "car-a", boost=None), KINDS)
    assert not answer.cap_given
    assert 1.8e5 < answer.boost_cap < 2.4e5
    assert answer.shortfall == pytest.approx(answer.target - answer.makes)


def test_a_target_within_reach_has_no_shortfall(shop):
    assert breakdown(*question(shop, "car-c", power=300e3), KINDS).shortfall < 0.0


def test_relaxing_never_makes_a_good_part_worse():
    own = {"breathing": 1.05, "catalyst_loss": 10.0}
    path = relaxed(own, [Loss.BREATHING, Loss.BACK_PRESSURE])
    assert path["breathing"] == own["breathing"]
    assert path["catalyst_loss"] == own["catalyst_loss"]


def test_the_note_says_that_shares_do_not_add_up(found):
    for answer in found.values():
        assert "add up" in answer.note
