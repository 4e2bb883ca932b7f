"""Fuels against Cantera (NASA polynomials), chemicals (formation enthalpies) and CoolProp (equations of state)."""

import cantera as ct
import numpy as np
import pytest
from chemicals import MW
from chemicals.combustion import combustion_data
from chemicals.reaction import Hfl
from CoolProp.CoolProp import PropsSI

from graph.errors import OutOfRange
from graph.physics import fuel

FUELS = {
    "C8H18,isooctane": (8, 18, 0, "540-84-1"),
    "C7H16,n-heptane": (7, 16, 0, "142-82-5"),
    "C2H5OH": (2, 6, 1, "64-17-5"),
    "CH3OH": (1, 4, 1, "67-56-1"),
    "C7H8": (7, 8, 0, "108-88-3"),
}
AIR = {"O2": 0.20946, "N2": 0.78084, "Ar": 0.00934}


def fuel_gas(name: str) -> ct.Solution:
    names = {name, "O2", "N2", "Ar", "CO2", "H2O"}
    species = [s for s in ct.Species.list_from_file("nasa_gas.yaml") if s.name in names]
    return ct.Solution(thermo="ideal-gas", species=species)


@pytest.mark.parametrize("name", FUELS)
def test_stoichiometric_ratio_agrees_with_cantera(name: str) -> None:
    carbon, hydrogen, oxygen, _ = FUELS[name]
    expected = fuel_gas(name).stoich_air_fuel_ratio({name: 1.0}, AIR)
    assert fuel.stoichiometric_ratio(carbon, hydrogen, oxygen) == pytest.approx(expected, rel=2e-3)


@pytest.mark.parametrize("name", FUELS)
def test_heating_value_agrees_with_chemicals(name: str) -> None:
    carbon, hydrogen, oxygen, number = FUELS[name]
    atoms = {"C": carbon, "H": hydrogen} | ({"O": oxygen} if oxygen else {})
    expected = -combustion_data(formula=atoms, Hf=Hfl(number), MW=MW(number)).LHV / MW(number) * 1e3
    assert fuel.heating_value(carbon, hydrogen, oxygen, Hfl(number)) == pytest.approx(expected, rel=1e-3)


@pytest.mark.parametrize(
    ("name", "fluid"), [("C7H16,n-heptane", "n-Heptane"), ("C2H5OH", "Ethanol"), ("CH3OH", "Methanol")]
)
def test_heating_value_agrees_with_cantera_less_latent_heat(name: str, fluid: str) -> None:
    carbon, hydrogen, oxygen, number = FUELS[name]
    gas = fuel_gas(name)
    gas.TP = 298.15, ct.one_atm
    gas.set_equivalence_ratio(1.0, {name: 1.0}, AIR)
    share, reactants = gas[name].Y[0], gas.enthalpy_mass
    gas.equilibrate("TP")
    vapour = (reactants - gas.enthalpy_mass) / share
    latent = PropsSI("H", "T", 298.15, "Q", 1, fluid) - PropsSI("H", "T", 298.15, "Q", 0, fluid)
    assert fuel.heating_value(carbon, hydrogen, oxygen, Hfl(number)) == pytest.approx(vapour - latent, rel=5e-3)


def test_ethanol_constants() -> None:
    latent = PropsSI("H", "T", 298.15, "Q", 1, "Ethanol") - PropsSI("H", "T", 298.15, "Q", 0, "Ethanol")
    assert fuel.ETHANOL.latent_heat == pytest.approx(latent, rel=1e-3)
    assert fuel.ETHANOL.density == pytest.approx(PropsSI("D", "T", 293.15, "P", 101325.0, "Ethanol"), rel=1e-3)
    expected = -combustion_data(formula={"C": 2, "H": 6, "O": 1}, Hf=Hfl("64-17-5"), MW=MW("64-17-5")).LHV
    assert fuel.ETHANOL.heating_value == pytest.approx(expected / MW("64-17-5") * 1e3, rel=1e-3)
    ratio = fuel_gas("C2H5OH").stoich_air_fuel_ratio({"C2H5OH": 1.0}, AIR)
    assert fuel.ETHANOL.stoichiometric_ratio == pytest.approx(ratio, rel=2e-3)
    molar_mass = MW("64-17-5")
    assert molar_mass == pytest.approx(fuel.ETHANOL_MOLAR_MASS, rel=1e-3)


def test_a_blend_carries_the_oxygen_and_energy_balance_of_its_parts() -> None:
    # One litre of 85 % ethanol: air and heat add up from 0.85 l and 0.15 l (conservation of mass and energy).
    mixed = fuel.blend(fuel.BASE_PETROL, 0.85)
    parts = [(0.85e-3, fuel.ETHANOL), (0.15e-3, fuel.BASE_PETROL)]
    mass = sum(v * f.density for v, f in parts)
    assert mixed.density * 1e-3 == pytest.approx(mass)
    assert mixed.heating_value * mass == pytest.approx(sum(v * f.density * f.heating_value for v, f in parts))
    assert mixed.stoichiometric_ratio * mass == pytest.approx(
        sum(v * f.density * f.stoichiometric_ratio for v, f in parts)
    )


def test_the_ends_of_a_blend_are_its_parts() -> None:
    for share, pure in ((0.0, fuel.BASE_PETROL), (1.0, fuel.ETHANOL)):
        mixed = fuel.blend(fuel.BASE_PETROL, share)
        for field in ("density", "heating_value", "stoichiometric_ratio", "latent_heat", "research_octane"):
            assert getattr(mixed, field) == pytest.approx(getattr(pure, field))


def test_pump_petrol_lies_in_the_density_band_of_the_standard() -> None:
    # EN 228: 720 to 775 kg/m3, up to 10 % ethanol.
    for share in (0.0, 0.05, 0.10):
        assert 720.0 <= fuel.blend(fuel.BASE_PETROL, share).density <= 775.0


def test_latent_heat_of_half_ethanol_against_calorimetry() -> None:
    # US national-laboratory calorimetry (OSTI 1242469): petrol 325 to 375, half ethanol 650 to 700 kJ/kg, +-8 %.
    assert 325e3 <= fuel.BASE_PETROL.latent_heat <= 375e3
    assert fuel.blend(fuel.BASE_PETROL, 0.5).latent_heat == pytest.approx(675e3, rel=0.08)


def test_octane_is_linear_in_moles() -> None:
    # Half a litre each, by hand: 394.7 g / 46.07 = 8.567 mol of ethanol and 372.5 g / 100 = 3.725 mol of petrol; share
    # 0.697. RON 98 + 0.697 * 10.6 = 105.4, MON 88 + 0.697 * 2 = 89.4.
    mixed = fuel.blend(fuel.BASE_PETROL, 0.5)
    assert mixed.research_octane == pytest.approx(105.39, abs=0.01)
    assert mixed.motor_octane == pytest.approx(89.39, abs=0.01)


def test_octane_rises_with_ethanol_faster_than_by_volume() -> None:
    # Molar blending is concave in volume (Anderson et al. 2010).
    share = np.linspace(0.0, 1.0, 11)
    octane = np.array([fuel.blend(fuel.BASE_PETROL, float(v)).research_octane for v in share])
    assert np.all(np.diff(octane) > 0.0)
    assert np.all(np.diff(octane, 2) < 0.0)


@pytest.mark.parametrize("share", [-0.1, 1.01])
def test_an_impossible_share_is_refused(share: float) -> None:
    with pytest.raises(OutOfRange, match="ethanol share"):
        fuel.blend(fuel.BASE_PETROL, share)


def test_octane_index_with_a_weight_of_one_half_is_the_anti_knock_index() -> None:
    # ASTM D4814: anti-knock index (R + M) / 2; 95 RON and 85 MON give 90. Weights 0 and 1 give RON and MON.
    assert fuel.octane_index(95.0, 85.0, 0.5) == pytest.approx(90.0)
    assert fuel.octane_index(95.0, 85.0, 0.0) == pytest.approx(95.0)
    assert fuel.octane_index(95.0, 85.0, 1.0) == pytest.approx(85.0)


@pytest.mark.parametrize(("fluid", "ratio"), [("Ethanol", 9.0), ("Methanol", 6.47), ("n-Heptane", 15.2)])
def test_charge_cooling_closes_the_enthalpy_balance_of_coolprop(fluid: str, ratio: float) -> None:
    # Liquid evaporates at 298.15 K; the heat comes from air and liquid cooled from a warmer start. The heat capacity of
    # the liquid is taken at the mean temperature: that of alcohols grows by a tenth over the range.
    latent = PropsSI("H", "T", 298.15, "Q", 1, fluid) - PropsSI("H", "T", 298.15, "Q", 0, fluid)
    liquid = PropsSI("C", "T", 298.15, "P", 2e5, fluid)
    half = float(fuel.charge_cooling(1.0 / ratio, latent, 1.0, liquid)) / 2.0
    liquid = PropsSI("C", "T", 298.15 + half, "P", 2e6, fluid)
    fall = float(fuel.charge_cooling(1.0 / ratio, latent, 1.0, liquid))
    warm = 298.15 + fall
    air = PropsSI("H", "T", warm, "P", 101325.0, "Air") - PropsSI("H", "T", 298.15, "P", 101325.0, "Air")
    drop = PropsSI("H", "T", warm, "P", 2e6, fluid) - PropsSI("H", "T", 298.15, "P", 2e6, fluid)
    assert air + drop / ratio == pytest.approx(latent / ratio, rel=0.02)


def test_volume_flow_factor_inverts_itself() -> None:
    mixed = fuel.blend(fuel.BASE_PETROL, 0.3)
    there = fuel.volume_flow_factor(fuel.BASE_PETROL, mixed)
    assert there * fuel.volume_flow_factor(mixed, fuel.BASE_PETROL) == pytest.approx(1.0)
    assert there > 1.0
