"""An option that another one beats is not tried: by the definition on sets of samples, and by brute force.

`a` beats `b` in a car where it costs no more in any set and carries the target in every sample in which `b` does, as
far as the engine makes it there. The sources are that definition, written out below, and every choice tried.
"""

from __future__ import annotations

import itertools
import random

import pytest

from graph.plan.outcome import HOLDS, limit_of
from graph.plan.search import Search

SAMPLES = 4


class Samples:
    """A car that knows in which samples each of two options of slot 0 carries the target."""

    engine = True

    def __init__(self, engine, survivals):
        self.engine_survival, self.survivals = engine, survivals

    def survival(self, _, option):
        return self.survivals[option]


@pytest.fixture
def search(small):
    """A search in which cost and bonds say nothing against leaving an option out, unless told otherwise."""
    choices, tariff, table = small(3)
    found = Search(choices, table, tariff)
    found.rules.replaceable = lambda *_: True
    return found


def test_beaten_is_what_the_samples_say_for_every_pattern_of_four(search):
    """All 16 x 16 x 16 patterns of engine, kept and other option."""
    patterns = range(1 << SAMPLES)
    seen = set()
    for engine, kept, other in itertools.product(patterns, repeat=3):
        car = Samples(engine, (kept, other))
        every_sample_of_other = all(kept >> n & 1 for n in range(SAMPLES) if other >> n & 1)
        every_sample_of_engine = all(kept >> n & 1 for n in range(SAMPLES) if engine >> n & 1)
        expected = every_sample_of_other or every_sample_of_engine
        assert search._beaten(0, 1, 0, car) is expected, (engine, kept, other)
        seen.add(expected)
    assert seen == {True, False}


def test_what_costs_or_bonds_speak_for_is_never_beaten(search):
    search.rules.replaceable = lambda *_: False
    assert not search._beaten(0, 1, 0, Samples(15, (15, 0)))


@pytest.mark.parametrize("relaxed", [limit_of("turbine"), HOLDS])
def test_without_the_limits_or_the_chance_only_cost_and_bonds_count(small, relaxed):
    choices, tariff, table = small(3)
    slot = choices.names.index("turbine")
    found = Search(choices, table, tariff)
    found.rules.replaceable = lambda *_: True
    car = Samples(15, (0, 15))
    assert not found._beaten(slot, 1, 0, car)
    found.free_slots = frozenset({slot}) if relaxed != HOLDS else frozenset()
    found.no_holds = relaxed == HOLDS
    assert found._beaten(slot, 1, 0, car)


def frail(table, seed):
    """Runs of samples lost, many of them inside one another: what is left together decides."""

    def bits(self, *what):
        rng = random.Random(f"{seed}{what}{self.key}")
        start, lost = rng.choice((0, 0, 20)), rng.choice((0, 5, 10, 15))
        return table.full & ~sum(1 << n for n in range(start, start + lost))

    return bits


def test_frail_options_cost_what_every_choice_tried_says_and_some_are_left_out(small, trial, monkeypatch):
    """Books in which the chance to hold decides: same cost as brute force, though options were struck out as beaten."""
    beaten, feasible, struck = Search._beaten, 0, []

    def told(search, *what):
        found = beaten(search, *what)
        struck.append(found)
        return found

    monkeypatch.setattr(Search, "_beaten", told)
    for seed in range(500, 540):
        choices, tariff, table = small(seed)
        table.least, table.openness = 40, 1.0
        car = type(table.settle([dict.fromkeys((*table.core, *table.linking), 0)])[0])
        monkeypatch.setattr(car, "_bits", frail(table, seed))
        expected = trial(choices, tariff, table.good)
        found = Search(choices, table, tariff).run()
        assert found.ended
        assert (found.net is None) == (expected is None), seed
        if expected is not None:
            assert found.net == pytest.approx(expected, abs=1e-4), seed
            feasible += 1
    assert 8 <= feasible <= 38
    assert {True, False} == set(struck)
