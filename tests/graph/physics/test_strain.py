"""Overshoot, single cycles, pre-ignition, valve lift, rods, fade and soak against hand calculations and definitions."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from graph.physics import cooler, driveline, engine_load, overshoot, preignition


def test_overshoot_is_counted_on_the_gauge_pressure():
    # 2.0 bar of boost at 15 % peak at 2.3 bar, wherever the car stands.
    said = {"boost overshoot": 0.15}
    for ambient in (1.013e5, 0.845e5):
        assert float(overshoot.peak_gauge(ambient + 2.0e5, ambient, said)) == pytest.approx(2.3e5)
        assert float(overshoot.peak_absolute(ambient + 2.0e5, ambient, said)) == pytest.approx(ambient + 2.3e5)


def test_a_sensor_of_three_bar_sees_a_steady_boost_of_1_81_bar():
    # 3.0 - 1.01325 = 1.98675 bar gauge at the peak; over 1.10 that is 1.80614 bar.
    assert float(overshoot.peak_absolute(1.01325e5 + 1.806136e5, 1.01325e5, {})) == pytest.approx(3.0e5, rel=1e-6)


def test_a_rating_from_a_failure_contains_its_peak():
    assert float(overshoot.rated_peak(1.7e5, 0.10)) == pytest.approx(1.87e5)
    assert float(overshoot.rated_peak(1.7e5, 0.0)) == pytest.approx(1.7e5)


@given(boost=st.floats(0.2e5, 2.5e5), share=st.floats(0.0, 0.3))
def test_single_cycles_exceed_the_mean_by_their_spread(boost, share):
    peak = float(overshoot.single_cycle(100e5, 1e5 + boost, 1e5, {"boost overshoot": share}))
    assert peak >= 118e5 * (1.0 - 1e-12)
    # never more than if the whole absolute pressure overshot
    assert peak <= 118e5 * (1.0 + share) * (1.0 + 1e-12)


def test_mean_pressure_is_work_over_volume():
    # Work of two revolutions, 4 pi T, over 2 l: 400 N m make 25.13 bar.
    assert float(preignition.mean_pressure(400.0, 2.0e-3)) / 1e5 == pytest.approx(25.1327, abs=1e-4)


def test_only_low_speed_counts_for_pre_ignition():
    speed = np.array([1500.0, 2499.0, 2501.0, 6000.0]) / 60.0
    load = preignition.low_speed_load(300.0, speed, 0.0825, 0.0928, 4.0)
    assert np.all(load[:2] > 18e5)
    assert load[2:].tolist() == [0.0, 0.0]


def test_valves_are_lifted_by_back_pressure_and_held_by_the_charge():
    area = np.pi / 4.0 * 0.028**2
    assert float(engine_load.valve_lift_force(3.6e5, 2.8e5, 0.028)) == pytest.approx((1.3 * 3.6e5 - 2.8e5) * area)
    assert float(engine_load.valve_lift_force(1.5e5, 2.8e5, 0.028)) == 0.0


def test_inertia_relieves_a_rod_at_speed():
    slow, fast = (engine_load.rod_compression(0.0825, 0.0928, 0.144, 0.6, 100e5, n / 60.0) for n in (2000.0, 7000.0))
    # 0.6 * 0.0464 * (2 pi 2000 / 60)^2 * (1 + 0.0464 / 0.144) = 1614.7 N of 52.92 kN at 2000 1/min.
    assert float(slow) == pytest.approx(52.921e3 - 1.6147e3, rel=2e-4)
    assert float(slow) > float(fast)


def test_tension_grows_with_the_square_of_the_speed_and_not_with_boost():
    six, seven = (float(engine_load.rod_tension(0.0928, 0.144, 0.6, n / 60.0)) for n in (6000.0, 7000.0))
    assert seven / six == pytest.approx((7.0 / 6.0) ** 2)


def test_gears_and_shafts():
    # 500 N m in a second gear of 2.1 with 3.6 behind it: 500 * 7.56 * 0.95 / 2.
    assert float(driveline.hardest_gear(500.0, (5.4, 7.56, 3.9))) == pytest.approx(1795.5)
    assert driveline.weakest_gear((600.0, 540.0)) == 540.0


def test_a_short_pull_fades_no_clutch():
    warm = [float(driveline.faded_torque(470.0, 363.15, 423.15, 0.15, t, 400.0)) for t in (1.0, 15.0, 1200.0, 1e9)]
    # for ever: 60 K at 15 % per 100 K are 9 %: 427.7 N m
    assert warm[-1] == pytest.approx(427.7)
    assert warm[0] > 0.999 * 470.0
    assert all(a > b for a, b in pairwise(warm))
    # a colder clutch than at the rating is not credited
    assert float(driveline.faded_torque(470.0, 363.15, 343.15, 0.15, 1e9, 400.0)) == 470.0


def test_soak_is_a_cold_side_in_series():
    """A cooler whose cold side has warmed, by iteration of its two equations."""
    effectiveness, soak, flow = 0.8, 6e-4, 0.28
    cold = 0.0
    for _ in range(200):
        cold = soak * flow * 1005.0 * effectiveness * (130.0 - cold)
    left = 130.0 - effectiveness * (130.0 - cold)
    found = float(cooler.soaked_effectiveness(effectiveness, soak, flow))
    assert 130.0 - found * 130.0 == pytest.approx(left, rel=1e-6)


@given(tau=st.floats(10.0, 1000.0))
def test_a_cooler_soaks_by_63_per_cent_in_its_time(tau):
    assert float(cooler.soak_after(1e-3, tau, tau)) == pytest.approx(1e-3 * (1.0 - np.exp(-1.0)))
