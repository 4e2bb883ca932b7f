"""Standard atmosphere and humidity against ambiance, fluids and CoolProp."""

import numpy as np
import pytest
from ambiance import Atmosphere
from CoolProp.CoolProp import HAPropsSI, PropsSI
from fluids import ATMOSPHERE_1976

from graph.physics import atmosphere


@pytest.mark.parametrize("altitude", [0.0, 500.0, 1000.0, 1500.0, 2000.0, 3000.0])
def test_standard_atmosphere_agrees_with_ambiance(altitude: float) -> None:
    temperature, pressure = atmosphere.standard_atmosphere(altitude)
    reference = Atmosphere(altitude)
    assert temperature == pytest.approx(reference.temperature[0], rel=1e-6)
    assert pressure == pytest.approx(reference.pressure[0], rel=1e-5)
    assert atmosphere.density(pressure, temperature) == pytest.approx(reference.density[0], rel=1e-5)


@pytest.mark.parametrize("altitude", [1609.344, 2743.2])
def test_standard_atmosphere_agrees_with_fluids(altitude: float) -> None:
    temperature, pressure = atmosphere.standard_atmosphere(altitude)
    assert temperature == pytest.approx(ATMOSPHERE_1976(altitude).T, rel=1e-6)
    assert pressure == pytest.approx(ATMOSPHERE_1976(altitude).P, rel=1e-5)


@pytest.mark.parametrize("temperature", [278.15, 288.15, 298.15, 303.15, 313.15])
def test_saturation_pressure_agrees_with_coolprop(temperature: float) -> None:
    expected = PropsSI("P", "T", temperature, "Q", 0, "Water")
    assert atmosphere.saturation_pressure(temperature) == pytest.approx(expected, rel=5e-3)


@pytest.mark.parametrize(("temperature", "humidity"), [(298.15, 0.5), (303.15, 0.6), (308.15, 0.9)])
def test_humidity_ratio_agrees_with_coolprop(temperature: float, humidity: float) -> None:
    expected = HAPropsSI("W", "T", temperature, "P", 101325.0, "R", humidity)
    vapour = humidity * atmosphere.saturation_pressure(temperature)
    assert atmosphere.humidity_ratio(vapour, 101325.0) == pytest.approx(expected, rel=1e-2)


@pytest.mark.parametrize(("temperature", "humidity"), [(298.15, 0.0), (298.15, 0.5), (308.15, 0.8)])
def test_moist_density_agrees_with_coolprop(temperature: float, humidity: float) -> None:
    expected = 1.0 / HAPropsSI("Vha", "T", temperature, "P", 101325.0, "R", humidity)
    assert atmosphere.moist_density(101325.0, temperature, humidity) == pytest.approx(expected, rel=2e-3)


def test_dry_density_agrees_with_coolprop() -> None:
    expected = PropsSI("D", "T", 298.15, "P", 101325.0, "Air")
    assert atmosphere.density(101325.0, 298.15) == pytest.approx(expected, rel=1e-3)


def test_pressure_and_temperature_fall_with_height() -> None:
    temperature, pressure = atmosphere.standard_atmosphere(np.linspace(0.0, 11000.0, 23))
    assert np.all(np.diff(temperature) < 0.0)
    assert np.all(np.diff(pressure) < 0.0)


def test_moisture_makes_air_lighter() -> None:
    density = atmosphere.moist_density(101325.0, 303.15, np.linspace(0.0, 1.0, 5))
    assert np.all(np.diff(density) < 0.0)
