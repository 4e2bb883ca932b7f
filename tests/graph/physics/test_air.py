"""Breathing, torque and mixture against pint, CoolProp and Cantera."""

import cantera as ct
import numpy as np
import pint
import pytest
from CoolProp.CoolProp import PropsSI
from scipy.constants import foot, hp, pound_force
from scipy.optimize import brentq

from graph.physics import air

FUEL = "C8H18,isooctane"
OXIDANT = {"O2": 0.20946, "N2": 0.78084, "Ar": 0.00934}


def burned_gas(names: set[str]) -> ct.Solution:
    species = [s for s in ct.Species.list_from_file("nasa_gas.yaml") if s.name in names | {FUEL, "N2", "Ar", "O2"}]
    return ct.Solution(thermo="ideal-gas", species=species)


def work_per_air(mixture: float) -> float:
    """Ideal fuel-air cycle (Heywood 1988, sec. 5.5): compression, burn at constant volume, expansion; J per kg air."""
    gas = burned_gas({"CO2", "CO", "H2O", "H2", "OH", "O", "H", "NO"})
    gas.TP = 340.0, 2.5e5
    gas.set_equivalence_ratio(1.0 / mixture, {FUEL: 1.0}, OXIDANT)
    ratio_of_air = gas.stoich_air_fuel_ratio({FUEL: 1.0}, OXIDANT) * mixture
    first, volume, entropy = gas.int_energy_mass, gas.volume_mass, gas.entropy_mass
    gas.SV = entropy, volume / 9.7
    gas.equilibrate("UV")
    gas.SV = gas.entropy_mass, volume
    gas.equilibrate("SV")
    return float((first - gas.int_energy_mass) * (1.0 + 1.0 / ratio_of_air))


def released(equivalence_ratio: float) -> float:
    """Heat released by water-gas equilibrium frozen at 1740 K over the heating value."""
    gas = burned_gas({"CO2", "CO", "H2O", "H2"})
    gas.TP = 298.15, ct.one_atm
    gas.set_equivalence_ratio(equivalence_ratio, {FUEL: 1.0}, OXIDANT)
    fuel_share = gas[FUEL].Y[0]
    reactants = gas.enthalpy_mass
    gas.TP = 1740.0, 3e5
    gas.equilibrate("TP")
    gas.TP = 298.15, ct.one_atm
    return float((reactants - gas.enthalpy_mass) / (fuel_share * 44.65e6))  # vapour heating value, Cantera


def test_torque_of_300_horsepower_agrees_with_pint_and_scipy() -> None:
    units = pint.UnitRegistry()
    angular = 6000.0 * units.revolution / units.minute
    expected = (300.0 * units.horsepower / angular).to("newton * meter / radian").magnitude
    found = air.torque(300.0 * hp, 100.0)
    assert found == pytest.approx(expected, rel=1e-9)
    assert found / (pound_force * foot) == pytest.approx(262.60566, rel=1e-7)  # pint, same quantity


def test_power_inverts_torque() -> None:
    speed = np.linspace(20.0, 130.0, 12)
    assert air.power(air.torque(3e5, speed), speed) == pytest.approx(np.full(12, 3e5))


def test_mean_effective_pressure_times_swept_volume_is_the_work_of_two_revolutions() -> None:
    # Definition (Heywood 1988, eq. 2.19): 530 N.m over two turns, 1.984 l; hand: 530 * 4 pi / 1.984e-3 = 33.569 bar.
    assert air.mean_effective_pressure(530.0, 1.984e-3) == pytest.approx(33.569e5, rel=1e-4)
    work = air.mean_effective_pressure(530.0, 1.984e-3) * 1.984e-3
    assert work * 75.0 / 2.0 == pytest.approx(air.power(530.0, 75.0))


@pytest.mark.parametrize(("pressure", "temperature"), [(101325.0, 298.15), (2.4e5, 322.5)])
def test_air_flow_is_real_density_times_swept_volume(pressure: float, temperature: float) -> None:
    density = PropsSI("D", "T", temperature, "P", pressure, "Air")
    expected = density * 1.984e-3 * 6500.0 / 120.0
    assert air.air_flow(1.0, pressure, temperature, 1.984e-3, 6500.0 / 60.0) == pytest.approx(expected, rel=1e-3)


def filling(pressure_ratio: float) -> float:
    """Air drawn in over manifold density times swept volume, compression ratio 9.7, with Cantera's air.

    Residual gas of 1150 K at the exhaust pressure fills the clearance volume 1; then the cylinder fills adiabatically
    from a manifold of 2 bar and 330 K (first law, real heat capacities).
    """
    gas = ct.Solution("air.yaml")
    manifold, clearance, total = 2e5, 1.0, 9.7
    gas.TP = 1150.0, manifold * pressure_ratio
    residual, residual_energy = gas.density * clearance, gas.int_energy_mass
    gas.TP = 330.0, manifold
    enthalpy, full = gas.enthalpy_mass, gas.density * (total - clearance)

    def imbalance(entered: float) -> float:
        gas.DP = (residual + entered) / total, manifold
        stored = (residual + entered) * gas.int_energy_mass - residual * residual_energy
        return float(stored - entered * enthalpy + manifold * (total - clearance))

    return float(brentq(imbalance, 0.5 * full, 1.5 * full) / full)


@pytest.mark.parametrize("pressure_ratio", [1.3, 1.5, 2.0])
def test_exhaust_pressure_factor_closes_the_energy_balance_with_real_heat_capacities(pressure_ratio: float) -> None:
    expected = filling(pressure_ratio) / filling(1.0)
    assert air.exhaust_pressure_factor(9.7, pressure_ratio) == pytest.approx(expected, rel=5e-3)


def test_exhaust_pressure_factor_lies_below_the_reversible_form() -> None:
    # Reversible expansion of the residual (ideal cycle of Taylor) is the upper bound.
    ratio = np.array([1.3, 1.5, 2.0])
    reversible = (9.7 - ratio ** (1.0 / 1.3)) / 8.7
    found = air.exhaust_pressure_factor(9.7, ratio)
    assert np.all(found < reversible)
    assert found == pytest.approx(reversible, rel=1e-2)
    assert air.exhaust_pressure_factor(9.7, 1.0) == pytest.approx(1.0)


def test_residual_fraction_rises_with_back_pressure_and_falls_with_compression() -> None:
    assert np.all(np.diff(air.residual_fraction(9.7, np.linspace(0.5, 2.0, 7), 340.0, 1150.0)) > 0.0)
    assert air.residual_fraction(12.0, 1.0, 340.0, 1150.0) < air.residual_fraction(9.0, 1.0, 340.0, 1150.0)


@pytest.mark.parametrize("mixture", [0.80, 0.85, 0.90])
def test_mixture_factor_agrees_with_an_equilibrium_fuel_air_cycle(mixture: float) -> None:
    expected = work_per_air(mixture) / work_per_air(1.0)
    assert air.mixture_factor(mixture) == pytest.approx(expected, rel=5e-3)


@pytest.mark.parametrize("equivalence_ratio", [1.1, 1.2, 1.3])
def test_heat_release_agrees_with_frozen_water_gas(equivalence_ratio: float) -> None:
    assert air.heat_release_fraction(equivalence_ratio) == pytest.approx(released(equivalence_ratio), rel=1e-2)


def test_a_richer_mixture_releases_a_smaller_share() -> None:
    assert np.all(np.diff(air.heat_release_fraction(np.linspace(1.0, 1.4, 9))) < 0.0)


def test_rated_power_is_proportional_to_displacement_and_speed() -> None:
    assert air.rated_power(4e-3, 100.0) == pytest.approx(4.0 * air.rated_power(2e-3, 50.0))
