"""Labour in which every strip-down is paid once: the merges of the demo shop, and the rules by hand."""

from __future__ import annotations

from pathlib import Path

import pytest

from graph.model import Part
from graph.plan.labour import HOUR, Tariff
from graph.plan.wish import Shared, ShopTerms
from ingest.operation import read_operations

SHEET = Path(__file__).resolve().parents[3] / "seed_parts" / "labour" / "operations.csv"


@pytest.fixture(scope="module")
def tariff():
    rows, problems = read_operations(SHEET)
    assert problems == ()
    return Tariff(ShopTerms(), rows)


@pytest.mark.parametrize(
    ("operation", "numbers", "hours"),
    [
        # the three merges that the demo shop's reference account names: -1.5, -2.5 and -14 h
        ("bumper off", ("PY-2119", "PY-6110"), 1.5),
        ("intake manifold off", ("PY-2120", "PY-1120"), 2.5),
        ("engine out", ("PY-4112", "PY-2114", "PY-3114", "PY-4113", "PY-1115"), 14.0),
    ],
)
def test_merges_of_the_demo_shop(operation, numbers, hours, tariff, demo_book):
    parts = [p for p in demo_book.parts if p.id in numbers]
    saved = {s.operation: s for s in tariff.shared(parts)}
    assert saved[operation].saves == pytest.approx(hours * HOUR)
    assert saved[operation].jobs == tuple(sorted(numbers))


def test_whole_list_of_the_demo_shop_takes_18_hours_less(tariff, demo_book):
    """Reference account: 111.6 h one by one, 93.6 h together (18 h shared)."""
    numbers = {"PY-2119", "PY-6110", "PY-2120", "PY-1120", "PY-4112", "PY-2114", "PY-3114", "PY-4113", "PY-1115"}
    parts = [p for p in demo_book.parts if p.id in numbers]
    apart = sum(p.labour for p in parts)
    assert tariff.cost(parts).labour == pytest.approx(apart - 18.0 * HOUR)


def test_nothing_is_saved_where_no_job_does_the_strip_down(tariff, demo_book):
    parts = [p for p in demo_book.parts if p.id in {"PY-2114", "PY-3114"}]
    assert "engine out" not in {s.operation for s in tariff.shared(parts)}


def part(number, price, hours):
    return Part(id=number, kind="plugs", name=number, price=price, labour=hours * HOUR)


def test_cost_by_hand():
    """Two jobs of 3 h and 2 h that share 1.5 h and 1 h: 4 h at 100, parts 70, tax 10 %: 470 net, 517 in all."""
    rows = (
        Shared(operation="cover off", job="A", duration=1.5 * HOUR),
        Shared(operation="cover off", job="B", duration=1.0 * HOUR),
    )
    cost = Tariff(ShopTerms(hourly_rate=100.0, tax=0.1), rows).cost([part("A", 50.0, 3.0), part("B", 20.0, 2.0)])
    assert (cost.parts, cost.labour, cost.net) == (70.0, 4.0 * HOUR, pytest.approx(470.0))
    assert cost.total == pytest.approx(517.0)


def test_no_job_saves_more_than_it_takes():
    rows = (
        Shared(operation="cover off", job="A", duration=9.0 * HOUR),
        Shared(operation="cover off", job="B", duration=HOUR),
    )
    found = Tariff(ShopTerms(), rows).cost([part("A", 0.0, 2.0), part("B", 0.0, 2.0)])
    assert found.labour == pytest.approx(3.0 * HOUR)


def test_least_is_never_above_the_cost_together(tariff, demo_book):
    parts = [p for p in demo_book.parts if p.price is not None and not p.factory]
    assert sum(tariff.least(p, given=False) for p in parts) <= tariff.cost(parts).net + 1e-6
