"""Ceilings of samples: only the powers in question are sampled, and the answer is that of all of them."""

import numpy as np
import pytest

from graph.ceiling import first_crossing
from graph.check import check, examine
from graph.kinds import discover
from graph.sampling import THIN, Response, ceilings, percentiles
from graph.service import Request, aim, assemble

POWERS = np.linspace(100e3, 400e3, 49)


def drawn_response(random):
    """A utilisation that rises, dips or stays low, lost from some power on or used up there."""
    slope, start = random.uniform(0.2, 3.0), random.uniform(0.1, 1.3)
    nominal = start * (POWERS / POWERS[0]) ** slope * (1.0 + 0.2 * np.sin(random.uniform(0, 9) * POWERS / 1e5))
    lost = random.integers(0, 60)
    if lost < POWERS.size:
        nominal[lost:] = random.choice([np.nan, np.inf])
    count = random.integers(0, 5)
    linear, curved = (0.1 * random.standard_normal((count, POWERS.size)) * k for k in (1.0, 0.3))
    return Response(nominal=nominal, linear=linear, curved=curved, which=random.permutation(6)[:count])


@pytest.mark.parametrize("seed", range(60))
def test_powers_left_out_change_nothing(seed):
    """Brute force: every thinned power sampled, the first crossing looked for among all of them."""
    random = np.random.default_rng(seed)
    found, draws = drawn_response(random), random.standard_normal((300, 6))
    last = Response(
        nominal=np.array([350e3]), linear=np.full((1, 1), 0.1), curved=np.zeros((1, 1)), which=np.array([5])
    )
    chosen = np.unique(np.append(np.arange(0, POWERS.size, THIN), POWERS.size - 1))
    full = first_crossing(POWERS[chosen], found.thinned(chosen).sample(draws), last.sample(draws)[:, 0])
    np.testing.assert_allclose(ceilings(POWERS, found, last, draws), full, rtol=1e-9)


@pytest.mark.parametrize("count", [1, 2, 3, 7, 20, 21, 1999, 2000, 2001])
def test_percentiles_are_those_of_numpy(count):
    values = np.random.default_rng(count).permutation(np.arange(count, dtype=float))
    assert percentiles(values) == tuple(np.percentile(values, [5.0, 50.0, 95.0], method="lower"))


def test_a_row_judged_alone_is_moved_by_no_neighbour(demo_database):
    """With adequate neighbours the rail holds its pressure in every sample: the floor is passed in none."""
    with demo_database.read() as view:
        car = next(c for c in view.cars() if c.id == "car-a")
        parts = {p.id: p for p in view.parts()}
        build = assemble(car, view.platforms()[0], parts)
    target = aim(Request(power=340e3, boost=2.2e5), car, parts)
    anatomy, _ = examine(build, target, discover())
    assert anatomy.linked
    report = check(build, target, discover())
    floor = next(f for f in report.findings if f.rule == "rail pressure for a fine spray")
    assert floor.utilisation == pytest.approx(floor.demand / floor.capacity)
    assert floor.utilisation < 0.9
    assert floor.exceed_probability < 0.05
