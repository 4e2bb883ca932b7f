"""Throttle against CoolProp; load on the plate."""

import numpy as np
import pytest
from ambiance import Atmosphere
from CoolProp.CoolProp import PropsSI

from graph.physics import throttle


@pytest.mark.parametrize("ratio", [0.80, 0.90, 0.95])
def test_flow_of_real_air(ratio: float) -> None:
    area = np.pi / 4.0 * 0.06**2
    entropy = PropsSI("S", "T", 298.0, "P", 1e5, "Air")
    drop = PropsSI("H", "T", 298.0, "P", 1e5, "Air") - PropsSI("H", "S", entropy, "P", ratio * 1e5, "Air")
    expected = 0.8 * area * PropsSI("D", "S", entropy, "P", ratio * 1e5, "Air") * np.sqrt(2.0 * drop)
    assert throttle.flow(area, 0.8, 1e5, 298.0, ratio) == pytest.approx(expected, rel=2e-3)


def test_flow_stops_rising_at_choking() -> None:
    flow = throttle.flow(1e-3, 0.8, 1e5, 298.0, np.array([0.2, 0.4, 0.52, 0.7, 0.9, 1.0]))
    assert flow[0] == pytest.approx(flow[1]) == pytest.approx(flow[2])
    assert np.all(np.diff(flow[2:]) < 0.0)
    assert flow[-1] == pytest.approx(0.0, abs=1e-9)


def test_plate_force_by_hand() -> None:
    # 60 mm: 28.274 cm2 times 1.4 bar = 395.8 N.
    assert throttle.plate_force(0.060, 1.4e5) == pytest.approx(395.8, rel=1e-3)


def test_a_boost_rating_is_met_by_the_same_boost_at_sea_level() -> None:
    sea_level = Atmosphere(0.0).pressure[0]
    assert throttle.plate_pressure(1.9e5 + sea_level) == pytest.approx(float(throttle.rated_plate_pressure(1.9e5)))


def test_less_boost_loads_the_plate_less() -> None:
    assert np.all(np.diff(throttle.rated_plate_pressure(np.linspace(0.5e5, 2.5e5, 5))) > 0.0)
