"""Gauge and absolute pressure at the heights of the standard atmosphere."""

import pytest
from ambiance import Atmosphere
from fluids import ATMOSPHERE_1976

from graph.physics import pressure


def test_a_three_bar_sensor_at_sea_level() -> None:
    assert pressure.gauge(3e5, ATMOSPHERE_1976(0.0).P) == pytest.approx(1.98675e5, rel=1e-6)


def test_the_same_absolute_pressure_is_more_boost_at_height() -> None:
    # 2.2456 bar absolute is 1.4 bar over the air of 1500 m.
    assert pressure.gauge(2.2456e5, Atmosphere(1500.0).pressure[0]) == pytest.approx(1.4e5, rel=1e-4)


def test_ratio_at_height() -> None:
    # 1.4 bar gauge: pressure ratio 2.38 at sea level, 2.66 at 1500 m.
    for altitude, expected in ((0.0, 2.382), (1500.0, 2.656)):
        ambient = Atmosphere(altitude).pressure[0]
        assert pressure.ratio(1.4e5 + ambient, ambient) == pytest.approx(expected, rel=1e-3)


def test_difference_inverts() -> None:
    assert 300.0 + pressure.over(340.0, 300.0) == pytest.approx(340.0)
