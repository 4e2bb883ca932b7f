"""Turbine and wastegate against fluids, CoolProp and Cantera."""

import cantera as ct
import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from fluids import P_critical_flow
from scipy.optimize import minimize_scalar

from graph.physics import turbine
from graph.physics.gas import R_AIR


def exhaust() -> ct.Solution:
    """Frozen burned gas of iso-octane, phi 1.1, water-gas equilibrium of 1740 K, now at 1200 K."""
    fuel = "C8H18,isooctane"
    names = {"CO2", "CO", "H2O", "H2", "O2", "N2", "Ar", fuel}
    gas = ct.Solution(
        thermo="ideal-gas", species=[s for s in ct.Species.list_from_file("nasa_gas.yaml") if s.name in names]
    )
    gas.TP = 1740.0, 3e5
    gas.set_equivalence_ratio(1.1, {fuel: 1.0}, {"O2": 0.20946, "N2": 0.78084, "Ar": 0.00934})
    gas.TP = 1740.0, 3e5
    gas.equilibrate("TP")
    return gas


@pytest.mark.parametrize("k", [1.28, 1.33, 1.4])
def test_nozzle_chokes_where_fluids_says(k: float) -> None:
    critical = 1.0 / (P_critical_flow(1e5, k) / 1e5)
    at, beyond, before = (turbine.nozzle_function(critical * f, k) for f in (1.0, 1.5, 0.97))
    assert beyond == pytest.approx(at, rel=1e-9)
    assert before < at


@pytest.mark.parametrize("ratio", [1.05, 1.2, 1.6])
def test_nozzle_function_of_real_air(ratio: float) -> None:
    entropy = PropsSI("S", "T", 300.0, "P", 1e5, "Air")
    drop = PropsSI("H", "T", 300.0, "P", 1e5, "Air") - PropsSI("H", "S", entropy, "P", 1e5 / ratio, "Air")
    flux = PropsSI("D", "S", entropy, "P", 1e5 / ratio, "Air") * np.sqrt(2.0 * drop)
    assert turbine.nozzle_function(ratio, 1.4) == pytest.approx(flux * np.sqrt(R_AIR * 300.0) / 1e5, rel=2e-3)


def test_choked_exhaust_flow_agrees_with_cantera() -> None:
    gas = exhaust()
    gas.TP = 1200.0, 3.6e5
    entropy, enthalpy = gas.entropy_mass, gas.enthalpy_mass

    def flux(pressure: float) -> float:
        gas.SP = entropy, pressure
        return float(gas.density * np.sqrt(2.0 * (enthalpy - gas.enthalpy_mass)))

    # The constant ratio of heat capacities 1.33 (Cantera: 1.28 at 1200 K) overstates the flow by 2 %.
    best = minimize_scalar(lambda p: -flux(p), bounds=(1.5e5, 2.5e5), method="bounded")
    assert turbine.nozzle_flow(7e-4, 3.6e5, 1.3e5, 1200.0) == pytest.approx(-7e-4 * best.fun, rel=3e-2)


@pytest.mark.parametrize("ratio", [1.5, 2.0, 3.0])
def test_turbine_power_agrees_with_cantera(ratio: float) -> None:
    gas = exhaust()
    gas.TP = 1200.0, 1e5 * ratio
    start = gas.enthalpy_mass
    gas.SP = gas.entropy_mass, 1e5
    assert turbine.power(0.2, 1200.0, ratio, 0.65) == pytest.approx(0.2 * 0.65 * (start - gas.enthalpy_mass), rel=3e-2)


def test_ellipse_is_an_ellipse() -> None:
    # Stodola: the share of the largest flow and the ratio outlet over inlet pressure lie on a unit circle.
    outlet_over_inlet = np.array([0.9, 0.6, 0.5, 0.2])
    share = turbine.ellipse(1.0 / outlet_over_inlet)
    assert share**2 + outlet_over_inlet**2 == pytest.approx(np.ones(4))


def test_ellipse_saturates_later_than_a_nozzle() -> None:
    # Relative to a pressure ratio of 3 a nozzle reaches 0.963 at 1.5, a radial turbine (ellipse) well below it.
    ellipse = turbine.ellipse(np.array([1.5, 2.0, 2.5, 3.0]))
    assert np.all(np.diff(ellipse / ellipse[-1]) > 0.0)
    assert ellipse[0] / ellipse[-1] < turbine.nozzle_function(1.5) / turbine.nozzle_function(3.0)


def test_ellipse_lies_within_four_percent_of_a_measured_turbine() -> None:
    # Sivertsson and Eriksson 2014, 6.7 l diesel: exponent 2.3633 fitted to measurements; both scaled at a ratio of 2.
    ratio = np.array([1.5, 2.0, 2.5, 3.0])
    measured = np.sqrt(1.0 - ratio**-2.3633) / np.sqrt(1.0 - 2.0**-2.3633)
    assert turbine.ellipse(ratio) / turbine.ellipse(2.0) == pytest.approx(measured, rel=0.04)


def test_no_flow_without_a_pressure_difference() -> None:
    assert turbine.ellipse(1.0) == 0.0
    assert turbine.nozzle_function(1.0) == pytest.approx(0.0, abs=1e-12)
    assert turbine.power(0.2, 1200.0, 1.0, 0.65) == pytest.approx(0.0, abs=1e-9)


def test_flow_parameter_of_a_choked_housing_does_not_depend_on_its_state() -> None:
    states = [(2.6e5, 1000.0), (3.6e5, 1200.0), (4.0e5, 1250.0)]
    found = [float(turbine.flow_parameter(turbine.nozzle_flow(7e-4, p, 1.2e5, t), t, p)) for p, t in states]
    assert found == pytest.approx([found[0]] * 3, rel=1e-12)


def test_housing_ceiling_follows_area_and_pressure_and_falls_with_heat() -> None:
    def ceiling(area: float = 7e-4, pressure: float = 3.6e5, temperature: float = 1200.0) -> float:
        return float(turbine.housing_ceiling(area, pressure, 1.3e5, temperature, 0.84, 14.3, 285.0 / 3.6e9))

    assert ceiling(area=1.4e-3) == pytest.approx(2.0 * ceiling())
    assert ceiling(pressure=7.2e5) == pytest.approx(2.0 * ceiling())
    assert ceiling(temperature=1300.0) < ceiling()


def test_housing_ceiling_by_hand() -> None:
    # 700 mm2, 3.6 bar, 1200 K: 7e-4 * 3.6e5 * 0.67263 / sqrt(289 * 1200) = 0.28783 kg/s; / (1 + 0.84 * 14.3)
    # = 22.12 g/s fuel; / 79.17 g/MJ = 279.4 kW (slide-rule arithmetic with the critical ratio of k = 1.33).
    found = turbine.housing_ceiling(7e-4, 3.6e5, 1.3e5, 1200.0, 0.84, 14.3, 285.0 / 3.6e9)
    assert found == pytest.approx(279.4e3, rel=1e-3)
