"""Friction: published points, order of old and current engines, signs."""

import numpy as np
import pytest

from graph.physics import friction


@pytest.mark.parametrize(("revolutions", "bar"), [(2000.0, 1.47), (4000.0, 2.37), (6000.0, 3.67)])
def test_motoring_pressure_of_older_engines(revolutions: float, bar: float) -> None:
    # Barnes-Moss, coefficients of Heywood 1988, eq. 13.6: 0.97 + 0.15 n + 0.05 n^2, by hand.
    assert friction.barnes_moss(revolutions / 60.0) == pytest.approx(bar * 1e5, rel=1e-9)


def test_a_current_engine_lies_below_engines_of_the_1970s() -> None:
    speed = np.array([2000.0, 4000.0, 6000.0]) / 60.0
    current = friction.chen_flynn(60e5, friction.piston_speed(0.086, speed)) + friction.pumping(1.05e5, 0.97e5, speed)
    assert np.all(current < friction.barnes_moss(speed))
    assert np.all(current > 0.4 * friction.barnes_moss(speed))


def test_mean_piston_speed_is_the_mean_of_the_speed_over_one_turn() -> None:
    # Slider-crank with a long rod, speed averaged over the angle.
    angle = np.linspace(0.0, 2.0 * np.pi, 200001)
    position = 0.0464 * np.cos(angle)
    mean = np.abs(np.diff(position)).sum() * 7000.0 / 60.0
    assert friction.piston_speed(0.0928, 7000.0 / 60.0) == pytest.approx(mean, rel=1e-6)


def test_friction_rises_with_load_and_speed() -> None:
    assert np.all(np.diff(friction.chen_flynn(np.linspace(40e5, 140e5, 6), 15.0)) > 0.0)
    assert np.all(np.diff(friction.chen_flynn(80e5, np.linspace(5.0, 25.0, 6))) > 0.0)


def test_pumping_is_the_loop_between_the_manifolds_with_rounded_corners() -> None:
    """The ideal loop is the pressure difference; valve timing leaves 0.8 to 0.9 of it (ideal-cycle gas exchange,
    Heywood 1988, sec. 5.8, from memory)."""
    slow = np.array([1.0])
    loop = friction.pumping(np.array([2.6e5]), np.array([2.0e5]), slow) - friction.pumping(2.0e5, 2.0e5, slow)
    assert 0.80 * 0.6e5 <= float(loop[0]) <= 0.90 * 0.6e5


def test_pumping_gains_where_the_manifold_is_above_the_turbine_inlet() -> None:
    slow = np.array([20.0])
    assert friction.pumping(np.array([1.6e5]), np.array([2.0e5]), slow) < 0.0
    assert friction.pumping(np.array([2.6e5]), np.array([2.0e5]), slow) > 0.0
