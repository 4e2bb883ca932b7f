"""The planner on the whole model: every build of a small book is checked in full, one after the other.

The full check of each build is the source of every expected number here. Targets lie a few watts below what some
build carries, which is where a planner that takes anything to be monotone goes wrong.
"""

from __future__ import annotations

import itertools
import random
from dataclasses import replace

import numpy as np
import pytest

from graph.check import check
from graph.kinds import discover
from graph.plan.account import carries, steps
from graph.plan.choice import gather
from graph.plan.labour import Tariff
from graph.plan.physics import Physics
from graph.plan.record import Because
from graph.plan.search import Search
from graph.plan.turn import scaled
from graph.plan.wish import MarginPolicy, Shared, ShopTerms, Wishes
from graph.proposal import Bureau, Terms
from graph.report import Verdict
from graph.service import Request, aim, assemble
from graph.staging import stages
from graph.sweep import answered, turning, whole_frontier

KINDS = discover()
TERMS = Tariff(ShopTerms(), (Shared(operation="bumper off", job="intercooler", duration=5400.0),))
#: What a build carries is read off a grid of powers that moves with the target by a few hundred watts: farther from the
#: target than this the check for another power settles it [W].
NEAR = 2.0e3
#: Everything that only costs a probability is allowed, so that the answer is one number: what a build carries.
NOMINAL = MarginPolicy(harm=1.0, cost=1.0, holds=0.0)
BOOKS = (
    ("PY-2110", "PY-2120", "PY-2113", "PY-3110", "PY-3112", "PY-1120", "PY-1122"),
    (
        "PY-2119",
        "PY-2115",
        "PY-2114",
        "PY-3111",
        "PY-3112",
        "PY-2111",
        "PY-3113",
        "PY-1110",
        "PY-1112",
        "PY-1113",
        "PY-1119",
    ),
    ("PY-2111", "PY-3112", "PY-3113", "PY-2120", "PY-2119", "PY-2115", "PY-1120", "PY-1122"),
)


def opened(book, numbers, power, policy=NOMINAL, samples=8):
    catalogue = {p.id: p for p in book.parts}
    car = next(c for c in book.cars if c.id == "car-a")
    build = assemble(car, book.platforms[0], catalogue, (), "ron98")
    target = aim(Request(power=power, boost=2.2e5, fuel="ron98"), car, catalogue)
    offered = [catalogue[n] for n in numbers]
    choices = gather(build, offered, target.fuel, (), Wishes(calibrate=False), power=power, fuel_fixed=True)
    return choices, Physics(choices, target, KINDS, policy, samples=samples)


@pytest.mark.parametrize("numbers", BOOKS, ids=("smaller turbo", "larger turbo", "no turbo"))
def test_cheapest_of_all_builds_checked_in_full(numbers, demo_book):
    choices, physics = opened(demo_book, numbers, 2.3e5)
    known = {}
    for selection in itertools.product(*choices.all()):
        if choices.sound(selection):
            report = check(physics.built(selection), physics.target, KINDS, samples=0)
            known[selection] = report.carries
    assert len(known) >= 8
    rng = random.Random(7)
    for reached in rng.sample(sorted(set(known.values())), 3):
        power = reached - rng.uniform(1.0, 50.0)
        choices, physics = opened(demo_book, numbers, power)
        found = Search(choices, physics, TERMS).run()
        near = {
            s: check(physics.built(s), physics.target, KINDS, samples=0).carries
            for s in known
            if abs(known[s] - power) < NEAR
        }
        good = [s for s, carried in {**known, **near}.items() if carried >= power]
        expected = min(TERMS.cost(choices.bought(s)).net for s in good)
        assert found.net == pytest.approx(expected, abs=1e-6), power
        assert found.selection in good
        assert carries(found.selection, physics) == pytest.approx(physics.reports[found.selection].carries, rel=1e-9)


@pytest.fixture(scope="module")
def plan(demo_database):
    with demo_database.read() as view:
        request = Request(power=280e3, boost=2.2e5, fuel="ron98")
        bureau = Bureau(view, "car-a", request, Terms(), Wishes())
        return bureau.plan(280e3).plan


def test_finished_build_meets_the_policy_in_the_full_check(plan):
    assert plan.reachable
    assert plan.proven
    assert plan.gap == 0.0
    assert plan.after.carries >= plan.target.power
    assert plan.after.holds_probability >= 0.80
    assert {f.verdict for f in plan.after.findings} == {Verdict.CLEAR}


def test_every_step_says_why_and_what_is_left_without_it(plan):
    """Each skip ceiling is what a check of the finished car with the old part in that slot carries."""
    assert all(step.why for step in plan.steps)
    before = {p.slot.name: p for p in plan.before.build.places}
    for step in plan.steps:
        places = tuple(before[step.slot] if p.slot.name == step.slot else p for p in plan.after.build.places)
        fuel = replace(plan.after.build, places=places)
        target = plan.before.target if step.slot == "fuel grade" else plan.target
        left = check(fuel, target, KINDS, samples=0)
        assert step.skip_ceiling == pytest.approx(left.carries, rel=1e-9), step.slot


def test_cascade_from_pump_to_plate(plan):
    fitted = {s.install: {r.because for r in s.why} for s in plan.steps}
    for number in ("PY-1112", "PY-1113", "PY-1119"):
        assert Because.REQUIRES in fitted[number]


def test_power_above_the_factory_brings_a_calibration(plan):
    assert "PY-8010" in {s.install for s in plan.steps}


def test_sum_of_cost_is_that_of_the_sheet(plan):
    """Hand sum: prices of the steps, own hours less what is shared, 95 an hour, 20 % tax."""
    parts = sum(s.price for s in plan.steps)
    hours = (sum(s.labour for s in plan.steps) - sum(s.saves for s in plan.shared_labour)) / 3600.0
    assert plan.cost.total == pytest.approx((parts + 95.0 * hours) * 1.2)


def test_glance_never_strikes_out_what_the_full_solution_lets_through(demo_book):
    """Every core of a book: where a glance says no, the solved engine or a ceiling of the core's parts says no."""
    choices, physics = opened(demo_book, BOOKS[1], 2.75e5)
    slots = (*physics.core, *physics.linking)
    seen = {tuple(s[t] for t in slots) for s in itertools.product(*choices.all())}
    cores = [dict(zip(slots, chosen, strict=True)) for chosen in sorted(seen)[::5]]
    passed = physics.glance(cores)
    assert any(failed is None or failed for failed in passed)
    for core, failed in zip(cores, passed, strict=True):
        car = physics.settle([core])[0]
        if failed is None:
            assert not car.engine
        else:
            assert all(car.ceiling(s, core[s]) < physics.target.power for s in failed)


def test_plan_beyond_the_margins_names_the_nearest_and_what_it_misses(demo_database):
    """340 kW: the sum of the steps by hand; every miss is a chance that the check of the finished car gives."""
    with demo_database.read() as view:
        bureau = Bureau(view, "car-a", Request(power=340e3, boost=2.2e5), Terms(), Wishes())
    plan = answered(bureau, 340e3, whole=False)
    if plan.reachable:
        assert plan.after.holds_probability >= 0.80
        return
    assert plan.conflict
    nearest = plan.nearest
    assert nearest.after.carries >= 340e3
    assert nearest.misses
    chances = {(f.slot, f.rule): f.exceed_probability for f in nearest.after.findings}
    for miss in nearest.misses:
        if miss.slot == "car":
            assert miss.chance == nearest.after.holds_probability < miss.allowed
        else:
            assert miss.chance == chances[miss.slot, miss.rule] > miss.allowed
    assert plan.instead.target.power < 340e3
    assert plan.instead.misses == ()


def test_no_petrol_of_98_octane_makes_340_kw(demo_database):
    with demo_database.read() as view:
        request = Request(power=340e3, boost=2.2e5, fuel="ron98")
        plan = Bureau(view, "car-a", request, Terms(), Wishes()).plan(340e3).plan
    assert not plan.reachable
    assert plan.proven
    assert any("engine" in r.text or "ron98" in r.text for r in plan.conflict)


def test_verdicts_alone_are_those_of_the_full_check(demo_book):
    """Both draw 2000 samples of their own: shares agree within five standard errors."""
    policy = MarginPolicy()
    choices, physics = opened(demo_book, BOOKS[0], 2.5e5, policy, samples=2000)
    selection = tuple(0 for _ in choices.options)
    report = check(physics.built(selection), physics.target, KINDS, samples=2000)
    context = dict.fromkeys(physics.context, 0)
    for finding in report.findings:
        if finding.slot == "engine" or finding.exceed_probability is None:
            continue
        share, limit = finding.exceed_probability, 0.05
        error = 5.0 * np.sqrt(max(share * (1.0 - share), limit * 0.95) / 2000.0)
        slot = choices.names.index(finding.slot)
        rule = next(r for r in KINDS[choices.build.places[slot].slot.kind].limits if r.name == finding.rule)
        limit = policy.cost if rule.costs_power_only else policy.harm
        if share > limit + error:
            assert physics.alone(context, (slot, 0)) is not True


def test_chance_of_the_planner_is_that_of_the_full_check(plan, demo_database):
    from graph.plan.account import chance

    with demo_database.read() as view:
        bureau = Bureau(view, "car-a", Request(power=280e3, boost=2.2e5, fuel="ron98"), Terms(), Wishes())
        choices, physics = bureau.open(280e3)
    fitted = {s.slot: s.install for s in plan.steps}
    selection = tuple(
        next(
            i
            for i, o in enumerate(options)
            if (o.kept and name not in fitted) or (o.part is not None and o.part.id == fitted.get(name))
        )
        for name, options in zip(choices.names, choices.options, strict=True)
    )
    share = plan.after.holds_probability
    error = 5.0 * np.sqrt(2.0 * share * (1.0 - share) / physics.samples)
    assert chance(selection, physics) == pytest.approx(share, abs=error)
    assert [s.install for s in steps(selection, choices, physics, explain=False)] == [s.install for s in plan.steps]


def test_second_stage_throws_nothing_of_the_first_away(demo_database):
    """290 then 340 kW on 102 octane without margins: every part of the first stage is still on the last car."""
    with demo_database.read() as view:
        request = Request(power=340e3, boost=2.2e5, fuel="ron102")
        bureau = Bureau(view, "car-a", request, Terms(policy=NOMINAL), Wishes())
    path = stages(bureau, 290e3, 340e3)
    assert path.thrown_away == ()
    fitted = {place.part.id for place in path.second.after.build.places if place.part is not None}
    assert {step.install for step in path.first.steps} <= fitted
    assert path.total >= path.direct - 0.01


def test_frontier_is_found_once_and_then_looked_up(demo_database):
    """A look-up between two points gives the dearer one; a second office of the same shop finds the same object."""
    with demo_database.read() as view:
        request = Request(power=1e5, boost=2.2e5, fuel="ron98")
        first, second = (Bureau(view, "car-a", request, Terms(policy=NOMINAL), Wishes()) for _ in range(2))
        other = Bureau(view, "car-a", request, Terms(), Wishes())
    found = whole_frontier(first, 5.0e4)
    assert whole_frontier(second, 5.0e4) is found
    assert other.fingerprint != first.fingerprint
    low, high = found.points[0], found.points[-1]
    assert found.at(low.power) is low
    assert found.at(low.power + 1.0) is found.points[min(1, len(found.points) - 1)]
    assert found.at(high.power + 1.0) is None


def test_numbers_that_turn_the_plan_turn_the_check(plan, demo_database):
    """Each part with its rating raised as said: clear in the check, and not with the smaller factor (5 std errors)."""
    with demo_database.read() as view:
        bureau = Bureau(view, "car-a", Request(power=280e3, boost=2.2e5, fuel="ron98"), Terms(), Wishes())
    found = turning(bureau, plan)
    assert found
    error = 5.0 * np.sqrt(0.05 * 0.95 / 2000.0)
    for turn in found[:3]:
        place = plan.before.build.place(turn.slot)
        shares = []
        for factor in (turn.enough, turn.short):
            better = replace(scaled(place.part, turn.rating, factor), factory=True)
            places = tuple(replace(p, part=better) if p is place else p for p in plan.before.build.places)
            report = check(replace(plan.before.build, places=places), plan.target, KINDS)
            rule = next(r for r in KINDS[place.slot.kind].limits if r.rating == turn.rating)
            row = next(f for f in report.findings if (f.slot, f.rule) == (turn.slot, rule.name))
            shares.append(row.exceed_probability - (0.20 if rule.costs_power_only else 0.05))
        assert shares[0] <= error, turn
        assert shares[1] >= -error, turn
