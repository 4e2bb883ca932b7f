"""Bounds of cost against every completion tried one by one, with the price of a set worked out anew in the test."""

from __future__ import annotations

import itertools
import random
from dataclasses import replace

import pytest

from graph.model import RelationKind
from graph.plan.bound import Bounds
from graph.plan.outcome import ENGINE, HOLDS
from graph.plan.search import Search

HOUR = 3600.0
RATE = 95.0  # what the terms of the small shops charge for an hour


def price(parts, tariff):
    """Net price of parts fitted together: what a kit holds is free, and each strip-down that some job does is paid once."""
    held = {
        number.strip()
        for part in parts
        for relation in part.relations
        if relation.kind is RelationKind.MEMBER
        for number in (relation.part or "").split("|")
    }
    paid = [part for part in parts if part.id not in held]
    rows = [row for part in paid for row in tariff.operations(part)]
    hours = sum(part.labour or 0.0 for part in paid) / HOUR
    for operation in {row.operation for row in rows}:
        together = [row for row in rows if row.operation == operation]
        done = [row.duration for row in together if row.does]
        if done:
            hours -= (sum(row.duration for row in together) - max(done)) / HOUR
    return sum(part.price or 0.0 for part in paid) + RATE * hours


def bought(choices, selection):
    parts = [choices.options[s][i].bought for s, i in enumerate(selection)]
    return [part for part in parts if part is not None]


@pytest.mark.parametrize("seed", range(40))
def test_the_bound_of_a_complete_choice_is_its_price(seed, small):
    choices, tariff, _ = small(seed)
    assert tariff.terms.hourly_rate == RATE
    bounds = Bounds(choices, tariff)
    every = list(itertools.product(*choices.all()))
    for selection in random.Random(seed).sample(every, min(len(every), 60)):
        expected = price(bought(choices, selection), tariff)
        assert bounds.exact(selection) == pytest.approx(expected, abs=1e-6)
        assert bounds.least_of(tuple((i,) for i in selection)) == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize("seed", range(30))
def test_no_completion_is_cheaper_than_the_bound(seed, small):
    choices, tariff, _ = small(seed)
    bounds, lot = Bounds(choices, tariff), random.Random(seed)
    for _ in range(12):
        domains = bounds.ordered(tuple(tuple(lot.sample(list(d), lot.randint(1, len(d)))) for d in choices.all()))
        completions = list(itertools.product(*domains))
        some = lot.sample(completions, min(len(completions), 150))
        cheapest = min(price(bought(choices, selection), tariff) for selection in some)
        assert bounds.least_of(domains) <= cheapest + 1e-6


def test_strip_downs_that_nobody_does_are_paid_in_full_and_the_longest_of_those_done(small):
    """The books above hold the cases that a bound can get wrong: jobs that do a strip-down and jobs that only need it."""
    kinds = set()
    for seed in range(40):
        choices, tariff, _ = small(seed)
        for options in choices.options:
            kinds |= {row.does for o in options if o.bought is not None for row in tariff.operations(o.bought)}
    assert kinds == {True, False}


def test_a_search_that_a_budget_stops_is_proven_and_one_that_time_stops_is_not(small, trial):
    choices, tariff, table = small(1)
    cost = trial(choices, tariff, table.good)
    refused = Search(choices, table, tariff).run(budget=cost - 1.0)
    assert refused.selection is None
    assert refused.ended
    assert refused.bound <= cost + 1e-6
    allowed = Search(choices, table, tariff).run(budget=cost)
    assert allowed.net == pytest.approx(cost, abs=1e-4)


def holds(table, selection, *, engine, samples):
    """Whether a choice is good, asked slot by slot, without the engine or the samples where they are left out."""
    context = {2: selection[2]}
    car = table.settle([{s: selection[s] for s in (*table.core, *table.linking)}])[0]
    alive = car.engine_survival if engine else table.full
    for s, i in enumerate(selection):
        if not table.clear(context, s, i) or not car.allowed(s, i):
            return False
        alive &= car.survival(s, i)
    if engine and not (table.engine(context) and car.engine):
        return False
    return not samples or alive.bit_count() >= table.least


@pytest.mark.parametrize("least", [58, 61])
@pytest.mark.parametrize("left_out", [(ENGINE,), (HOLDS,), (ENGINE, HOLDS)], ids="+".join)
def test_same_cost_as_every_choice_tried_where_something_is_left_out_of_account(left_out, least, small, trial):
    """What an explanation of a conflict leaves out must not count, and everything else must."""
    feasible = different = 0
    for seed in range(24):
        choices, tariff, table = small(seed)
        table.least = least
        whole = trial(choices, tariff, lambda s, t=table: holds(t, s, engine=True, samples=True))
        expected = trial(
            choices,
            tariff,
            lambda s, t=table: holds(t, s, engine=ENGINE not in left_out, samples=HOLDS not in left_out),
        )
        found = Search(replace(choices, relaxed=frozenset(left_out)), table, tariff).run()
        assert found.ended
        assert (found.selection is None) is (expected is None), seed
        feasible += expected is not None
        different += whole != expected
        if expected is not None:
            assert found.net == pytest.approx(expected, abs=1e-4), seed
    assert feasible >= 6
    assert different
