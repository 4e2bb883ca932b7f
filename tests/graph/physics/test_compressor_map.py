"""Maps of speed lines against maps of which the answer is known by construction, SciPy's interpolation and refusals.

The lines of the first map follow the similarity laws: pressure rise with the square of the speed, flow with the speed.
"""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import LinearNDInterpolator

from graph.errors import OutOfRange
from graph.model import Curve
from graph.physics import compressor
from graph.physics.compressor_map import wheel_speed
from graph.physics.map_points import speed_map

SPEEDS = (1200.0, 1500.0, 1800.0, 2100.0, 2400.0, 2700.0)


def rise(speed, flow):
    """Pressure ratio less 1 of an ideal family of lines: a N^2 less b m^2, the same shape at every speed."""
    return 4.0e-7 * speed**2 - 18.0 * flow**2


def efficiency(flow, ratio):
    """An ellipse with its peak of 0.76 at 0.15 kg/s and ratio 2.25."""
    x, y = flow / 0.15 - 1.0, np.sqrt(ratio) - 1.5
    return 0.76 - 0.12 * x**2 + 2.0 * 0.05 * x * y - 0.25 * y**2


def curves(points):
    index = tuple(float(i) for i in range(len(points)))
    return [Curve(x=index, y=tuple(float(p[k]) for p in points)) for k in range(4)]


def similar(count=25):
    points = []
    for speed in SPEEDS:
        for flow in np.linspace(3.0e-5, 9.5e-5, count) * speed:
            ratio = 1.0 + rise(speed, flow)
            points.append((speed, flow, ratio, efficiency(flow, ratio)))
    return points


@pytest.fixture(scope="module")
def made():
    return speed_map(*curves(similar()))


def test_every_point_of_the_sheet_lies_on_its_line(made):
    for speed, flow, ratio, share in similar():
        assert float(made.speed_at(flow, ratio)) == pytest.approx(speed, rel=1e-9)
        assert float(made.efficiency_at(flow, ratio)) == pytest.approx(share, abs=1e-9)


@settings(max_examples=80, deadline=None)
@given(speed=st.floats(1250.0, 2650.0), along=st.floats(0.05, 0.95))
def test_between_the_lines_the_similarity_law_is_met(made, speed, along):
    # where both neighbours are drawn; the rise goes with the square of the speed, which is how the lines are joined
    lower = max(s for s in SPEEDS if s <= speed)
    upper = min(s for s in SPEEDS if s > speed)
    start, end = 3.0e-5 * upper, 9.5e-5 * lower
    flow = start + along * (end - start)
    assert float(made.speed_at(flow, 1.0 + rise(speed, flow))) == pytest.approx(speed, rel=2e-4)


def test_speed_agrees_with_scipy_over_the_whole_map(made):
    points = np.array(similar(60))
    reference = LinearNDInterpolator(points[:, 1:3] * np.array([10.0, 1.0]), points[:, 0] ** 2)
    rng = np.random.default_rng(3)
    compared = 0
    for _ in range(200):
        speed, flow = rng.uniform(1300.0, 2600.0), rng.uniform(0.09, 0.13)
        ratio = 1.0 + rise(speed, flow)
        square = float(reference(flow * 10.0, ratio))
        # the outermost end of the lowest lines is drawn differently by every method
        if np.isfinite(square) and flow < 9.2e-5 * speed:
            assert float(made.speed_at(flow, ratio)) == pytest.approx(np.sqrt(square), rel=5e-3)
            compared += 1
    assert compared > 50


def test_the_ellipse_is_found_from_the_points(made):
    found = made.ellipse()
    assert found.error < 1e-9
    assert (found.peak, found.best_flow, found.best_ratio) == pytest.approx((0.76, 0.15, 1.5))
    assert (found.flow_fall, found.cross, found.ratio_fall) == pytest.approx((0.12, -0.05, 0.25))
    for flow, ratio in ((0.10, 1.8), (0.20, 2.9)):
        read = compressor.efficiency_at(
            flow, ratio, found.peak, found.best_flow, found.best_ratio, found.flow_fall, found.cross, found.ratio_fall
        )
        assert float(read) == pytest.approx(efficiency(flow, ratio), abs=1e-9)


def test_a_map_without_a_peak_is_level():
    points = [(s, m, r, 0.70) for s, m, r, _ in similar(4)]
    found = speed_map(*curves(points)).ellipse()
    assert (found.peak, found.flow_fall, found.ratio_fall) == pytest.approx((0.70, 0.0, 0.0), abs=1e-9)


def test_surge_line_and_largest_flow_run_through_the_ends(made):
    for speed in SPEEDS:
        flow = 3.0e-5 * speed
        assert float(made.surge_flow(1.0 + rise(speed, flow))) == pytest.approx(flow)
    last = 9.5e-5 * SPEEDS[-1]
    assert float(made.largest_flow(1.0 + rise(SPEEDS[-1], last))) == pytest.approx(last)
    ratios = np.linspace(1.2, 3.9, 40)
    assert all(b <= a + 1e-12 for a, b in pairwise(made.largest_flow(ratios)))
    assert all(b >= a - 1e-12 for a, b in pairwise(made.surge_flow(ratios)))


def test_more_ratio_and_more_choke_take_more_speed(made):
    ratios = np.linspace(1.3, 3.6, 60)
    assert np.all(np.diff(made.speed_at(0.12, ratios)) > 0.0)
    # beyond the end of the low lines only the fast ones pass the flow
    assert float(made.speed_at(0.24, 1.6)) > 2400.0


def test_a_hot_day_turns_the_wheel_faster(made):
    # Same corrected point: real speed with the root of the temperature, sqrt(320 / 298) = 1.03626.
    flow, ratio = 0.13, 2.2
    cold = float(wheel_speed(made, flow, 298.0, 1e5, ratio, 298.0, 1e5))
    hot = float(wheel_speed(made, flow / np.sqrt(320.0 / 298.0), 320.0, 1e5, ratio, 298.0, 1e5))
    assert hot / cold == pytest.approx(1.03626, rel=1e-5)


def test_two_reference_states_of_one_map_say_the_same():
    # The same machine written down at 302.8 K, 96.2 kPa instead of 298 K, 100 kPa: flows 0.96200 / sqrt(302.8 / 298)
    # = 0.95434 times, speeds sqrt(302.8 / 298) = 1.00802 times.
    old = [(s * np.sqrt(302.8 / 298.0), m * 0.962 / np.sqrt(302.8 / 298.0), r, e) for s, m, r, e in similar()]
    first, second = speed_map(*curves(similar())), speed_map(*curves(old))
    for flow, pressure in ((0.12, 0.95e5), (0.17, 0.99e5)):
        one = wheel_speed(first, flow, 310.0, pressure, 2.3, 298.0, 100e3)
        two = wheel_speed(second, flow, 310.0, pressure, 2.3, 302.8, 96.2e3)
        assert float(one) == pytest.approx(float(two), rel=1e-9)


def moved(column, value, rows=slice(None)):
    points = [list(p) for p in similar(4)]
    for p in points[rows]:
        p[column] = value(p[column])
    return points


@pytest.mark.parametrize(
    ("points", "words"),
    [
        # the last point of the second line lifted above the third line
        (moved(2, lambda r: r + 1.2, slice(7, 8)), "crossing"),
        (moved(0, lambda s: s, slice(None))[:8], "3 or more"),
        (moved(2, lambda _: 0.9, slice(0, 1)), "pressure ratio"),
        (moved(2, lambda r: r + 8.0, slice(20, 24)), "pressure ratio"),
        (moved(3, lambda _: 0.95, slice(4, 5)), "efficiency"),
        (moved(1, lambda _: 0.1, slice(4, 8)), "two points at one flow"),
        ([p for i, p in enumerate(similar(4)) if i not in (4, 5)], "2 points"),
    ],
)
def test_a_map_that_cannot_be_one_is_refused(points, words):
    with pytest.raises(OutOfRange, match=words):
        speed_map(*curves(points))


def test_columns_of_unequal_length_are_refused():
    speed, flow, ratio, share = curves(similar(4))
    with pytest.raises(OutOfRange, match="24 flows"):
        speed_map(Curve(x=speed.x[:-1], y=speed.y[:-1]), flow, ratio, share)
