"""Injectors against fluids (orifice law), CoolProp (test fluid) and unit libraries."""

import numpy as np
import pint
import pytest
from CoolProp.CoolProp import PropsSI
from fluids.flow_meter import flow_meter_discharge

from graph.physics import injector


def orifice(pressure: float, density: float) -> float:
    """Mass flow [kg/s] of a small sharp orifice at a pressure difference into ambient, from fluids."""
    return float(
        flow_meter_discharge(D=0.01, Do=0.0005, P1=1e5 + pressure, P2=1e5, rho=density, C=0.6, expansibility=1.0)
    )


@pytest.mark.parametrize(
    ("rated", "rated_density", "pressure", "density"),
    [(3e5, 750.0, 4e5, 750.0), (180e5, 745.0, 200e5, 745.0), (3e5, 683.8, 3e5, 745.0), (100e5, 683.8, 180e5, 782.7)],
)
def test_flow_scales_as_the_orifice_of_fluids(
    rated: float, rated_density: float, pressure: float, density: float
) -> None:
    expected = orifice(pressure, density) / orifice(rated, rated_density)
    assert injector.flow_at(1.0, rated, rated_density, pressure, density) == pytest.approx(expected, rel=1e-6)


def test_test_fluid_density_agrees_with_coolprop() -> None:
    expected = PropsSI("D", "T", 293.15, "P", 4e5, "n-Heptane")
    assert injector.fluid_density("n-heptane") == pytest.approx(expected, rel=1e-3)


def test_petrol_lies_in_the_density_band_of_the_standard() -> None:
    # EN 228: 720 to 775 kg/m3.
    assert 720.0 <= injector.fluid_density("petrol") <= 775.0


def test_trade_flow_unit_agrees_with_pint() -> None:
    # 1000 cm3/min of 750 kg/m3 for 8 ms: through pint's units.
    units = pint.UnitRegistry()
    flow = (1000.0 * units.centimeter**3 / units.minute * 750.0 * units.kilogram / units.meter**3).to("kg/s").magnitude
    assert flow / 0.45359237 * 3600.0 == pytest.approx(99.208, rel=1e-5)
    opened = injector.open_duration(4 * flow * 8e-3 * 50.0, 100.0, 4, flow, 0.0)
    assert opened == pytest.approx(8e-3)


def test_a_window_of_one_turn_lasts_one_turn() -> None:
    units = pint.UnitRegistry()
    turn = (1.0 / (6500.0 / units.minute)).to("second").magnitude
    assert injector.window_duration(2.0 * np.pi, 6500.0 / 60.0) == pytest.approx(turn)
    assert injector.window_duration(np.deg2rad(240.0), 6500.0 / 60.0) == pytest.approx(turn * 240.0 / 360.0)


def test_open_duration_inverts() -> None:
    opened = injector.open_duration(0.022, 110.0, 4, 0.016, 0.0004)
    assert (opened - 0.0004) * 0.016 == pytest.approx(injector.fuel_per_cycle(0.022, 110.0, 4))
    assert injector.fuel_per_cycle(0.022, 110.0, 4) * 4 * 110.0 / 2.0 == pytest.approx(0.022)


def test_speed_shortens_the_window_but_not_the_demand_at_equal_torque() -> None:
    speed = np.array([50.0, 75.0, 100.0, 120.0])
    fuel = 2e-4 * speed
    demand = injector.open_duration(fuel, speed, 4, 0.016, 0.0004)
    assert np.all(np.diff(injector.window_duration(4.2, speed)) < 0.0)
    assert demand == pytest.approx([float(demand[0])] * 4)


def test_port_injectors_close_between_openings() -> None:
    assert injector.port_flow(1.0) < 1.0
