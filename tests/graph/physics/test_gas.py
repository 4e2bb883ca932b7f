"""Gas constants against reference libraries: CoolProp (real air) and Cantera (equilibrium burned gas)."""

import cantera as ct
import pytest
from CoolProp.CoolProp import PropsSI
from scipy.constants import R

from graph.physics import gas

FUEL = "C8H18,isooctane"


def mixture(equivalence_ratio: float) -> ct.Solution:
    names = {"CO2", "CO", "H2O", "H2", "O2", "N2", "Ar", "OH", FUEL}
    species = [s for s in ct.Species.list_from_file("nasa_gas.yaml") if s.name in names]
    found = ct.Solution(thermo="ideal-gas", species=species)
    found.TP = 300.0, ct.one_atm
    found.set_equivalence_ratio(equivalence_ratio, {FUEL: 1.0}, {"O2": 0.20946, "N2": 0.78084, "Ar": 0.00934})
    return found


def test_gas_constant_of_dry_air_is_that_of_its_molar_mass() -> None:
    expected = R / PropsSI("M", "Air")
    assert expected == pytest.approx(gas.R_AIR, rel=1e-4)


def test_heat_capacity_of_air_at_room_temperature() -> None:
    expected = PropsSI("C", "T", 298.15, "P", 101325.0, "Air")
    assert expected == pytest.approx(gas.CP_AIR, rel=2e-3)


def test_heat_ratio_of_air_at_room_temperature() -> None:
    cp, cv = (PropsSI(name, "T", 298.15, "P", 101325.0, "Air") for name in ("C", "O"))
    assert cp / cv == pytest.approx(gas.K_AIR, rel=3e-3)


def test_charge_lies_between_air_and_air_with_all_fuel_as_vapour() -> None:
    # Some of the fuel is still liquid while the intake valve is open.
    vapour = mixture(1.0 / 0.85)
    fresh = ct.gas_constant / vapour.mean_molecular_weight
    assert fresh < gas.R_CHARGE < gas.R_AIR


@pytest.mark.parametrize(("equivalence_ratio", "tolerance"), [(1.0, 0.01), (1.15, 0.04)])
def test_gas_constant_of_burned_gas(equivalence_ratio: float, tolerance: float) -> None:
    # The constant is that of a stoichiometric mixture; a rich one holds hydrogen and carbon monoxide and is lighter.
    burned = mixture(equivalence_ratio)
    burned.TP = 1740.0, 3e5
    burned.equilibrate("TP")
    expected = ct.gas_constant / burned.mean_molecular_weight
    assert expected == pytest.approx(gas.R_EXHAUST, rel=tolerance)


def test_heat_capacity_of_burned_gas() -> None:
    burned = mixture(1.15)
    burned.TP = 1740.0, 3e5
    burned.equilibrate("TP")
    burned.TP = 1150.0, 3e5
    hot, cp, cv = burned.enthalpy_mass, burned.cp_mass, burned.cv_mass
    burned.TP = 298.15, 3e5
    assert cp / cv == pytest.approx(gas.K_EXHAUST, rel=0.05)
    mean = (hot - burned.enthalpy_mass) / (1150.0 - 298.15)
    assert mean == pytest.approx(gas.CP_EXHAUST, rel=0.05)
