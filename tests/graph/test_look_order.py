"""The order of looking by value against the two orders that a workshop would use without it, on simulated arrivals."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest

from graph.diagnose import Observation
from graph.look import next_looks
from graph.symptom import Knowledge
from ingest.symptom import read_knowledge

TESTS = Path(__file__).resolve().parents[1]


@pytest.fixture(scope="module")
def shop_knowledge() -> Knowledge:
    return read_knowledge(TESTS.parent / "seed_parts" / "knowledge").knowledge


@pytest.fixture(scope="module")
def bench() -> ModuleType:
    """The simulation of the benchmark, on fewer cars."""
    spec = importlib.util.spec_from_file_location("bench_look", TESTS / "bench_look.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["bench_look"] = module
    spec.loader.exec_module(module)
    return module


def test_the_fault_is_found_in_a_fifth_less_time_than_by_habit_and_no_later_than_by_cost(
    bench: ModuleType, shop_knowledge: Knowledge
) -> None:
    found = bench.mean_minutes(shop_knowledge, 40, 11)
    value, cost, habit = (found[o].mean() for o in ("value", "cost over probability", "habit"))
    assert value <= 0.8 * habit
    assert value <= cost


def test_a_car_shows_what_its_faults_raise(bench: ModuleType, shop_knowledge: Knowledge) -> None:
    for car in bench.arrivals(bench.spot(shop_knowledge), 50, 3):
        assert all(car.shown[s] for s in car.said)
        assert 1 <= len(car.said) <= 3
        chances = shop_knowledge.faults[car.fault].chances
        assert any(s in chances for s in car.said)  # the fault to be found is behind a complaint


def test_first_looks_at_car_b_are_cheap_and_aim_at_its_complaints(shop_knowledge: Knowledge) -> None:
    # Complaints of the invented car B: flat, the warning light flickers (misfires), fuel smell, long hot crank. The
    # session's truth: rail decays in 40 s, oil 11 mm up, plugs worn, pump seat bad. The hour must hold the rail test
    # and the dipstick is told already; plugs come before any strip-down, and nothing that loads the engine.
    seen = Observation(present=("misfire-high-boost", "oil-level-up", "long-crank"))
    looks = next_looks(shop_knowledge, seen, 3600.0)
    first = [look.inspection for look in looks[:3]]
    assert "rail-decay" in first
    assert {"rail-decay", "codes-read", "coil-swap", "plugs-pull", "injector-balance", "oil-laboratory"} >= set(first)
    assert not {"roller-run", "leak-down", "borescope", "pump-removal"} & set(first)
    after = Observation(present=(*seen.present, "rail-decays"), done=("rail-decay",))
    everything = [x.inspection for x in next_looks(shop_knowledge, after, 9 * 3600.0)]
    assert everything.index("pump-removal") < everything.index("borescope")
