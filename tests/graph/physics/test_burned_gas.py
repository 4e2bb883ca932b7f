"""Burned gas in equilibrium, and the charge before it, against Cantera with two sources of thermodynamic data."""

import cantera as ct
import numpy as np
import pytest

from graph.errors import OutOfRange
from graph.physics import air, species
from graph.physics.burned_gas import FREEZING, Charge
from graph.physics.species import ISO_OCTANE, SPECIES, Vapour

#: Nitrogen with argon as this project counts it: 3.773 mol per mol of oxygen (Heywood 1988, sec. 3.2, from memory).
AIR = "O2:1,N2:3.773"
MIXTURES = (1.2, 1.05, 1.0, 0.95, 0.85, 0.75, 0.70)


def reference(file):
    return ct.Solution(thermo="ideal-gas", species=[s for s in ct.Species.list_from_file(file) if s.name in SPECIES])


@pytest.fixture(scope="module", params=["nasa_gas.yaml", "gri30.yaml"])
def gas(request):
    """The same species with the data of NASA TM-4513, and with those of the methane mechanism GRI 3.0."""
    return reference(request.param)


def set_burned(gas, mixture, temperature, density):
    """Complete the state from atoms alone, so that no fuel need be among the species."""
    needed = 8.0 + 18.0 / 4.0
    gas.TPX = temperature, 1e5, {"CO": 8.0, "H2": 9.0, "O2": needed * mixture - 4.0, "N2": 3.773 * needed * mixture}
    gas.TD = temperature, density
    gas.equilibrate("TV")


@pytest.mark.parametrize("mixture", MIXTURES)
@pytest.mark.parametrize("temperature", [1750.0, 2200.0, 2600.0, 3000.0, 3300.0])
@pytest.mark.parametrize("density", [0.5, 5.0, 25.0])
def test_composition_and_energy_in_equilibrium(gas, mixture, temperature, density):
    charge = Charge(ISO_OCTANE, mixture)
    found = charge.burned(np.array(temperature), density)
    root, pressures = charge._balanced(
        *(np.array(v) for v in (temperature, density * 8.314462618e-5 * temperature, -4.0))
    )
    assert float(found.oxygen) == pytest.approx(float(root), abs=1e-6)
    shares = dict(zip(SPECIES, pressures / pressures.sum(), strict=True))
    set_burned(gas, mixture, temperature, density * gas_mass(gas, charge))
    for name in ("CO", "CO2", "H2", "H2O", "N2"):
        assert float(shares[name]) == pytest.approx(float(gas[name].X[0]), rel=0.03, abs=2e-4)
    for name in ("O2", "OH", "NO", "O", "H"):
        assert float(shares[name]) == pytest.approx(float(gas[name].X[0]), rel=0.06, abs=1e-4)


def gas_mass(gas, charge):
    """Mass of Cantera's gas of pure nitrogen over ours, in which argon counts as nitrogen of greater mass."""
    atoms = {"C": charge.carbon, "H": charge.hydrogen, "O": charge.oxygen, "N": charge.nitrogen}
    return float(sum(n * gas.atomic_weight(name) for name, n in atoms.items())) / 1e3


@pytest.mark.parametrize("mixture", MIXTURES)
@pytest.mark.parametrize("density", [0.5, 25.0])
def test_energy_between_two_temperatures(gas, mixture, density):
    """The energy that the gas takes up on warming, dissociation included, per kg of the same atoms."""
    charge = Charge(ISO_OCTANE, mixture)
    mass = gas_mass(gas, charge)

    def reference_energy(temperature):
        set_burned(gas, mixture, temperature, density * mass)
        return gas.int_energy_mass * mass

    cold, hot = 1800.0, np.array([2200.0, 2600.0, 3000.0])
    ours = charge.burned(hot, density).energy - charge.burned(np.array(cold), density).energy
    theirs = np.array([reference_energy(t) for t in hot]) - reference_energy(cold)
    assert ours == pytest.approx(theirs, rel=4e-3)


@pytest.mark.parametrize("mixture", [1.1, 1.0, 0.9, 0.8])
def test_every_atom_is_there_again(mixture):
    """Carbon, hydrogen, oxygen and nitrogen counted over the species."""
    charge = Charge(ISO_OCTANE, mixture)
    scale = np.array([0.3, 3.0, 300.0])
    _, p = charge._balanced(np.array([1740.0, 2500.0, 3200.0]), scale, np.array(-4.0))
    co, co2, h2, h2o, o2, n2, oh, o, h, no = p / scale
    assert co + co2 == pytest.approx(charge.carbon, rel=1e-9)
    assert 2 * h2 + 2 * h2o + oh + h == pytest.approx(charge.hydrogen, rel=1e-9)
    assert 2 * n2 + no == pytest.approx(charge.nitrogen, rel=1e-9)
    assert co + 2 * co2 + h2o + 2 * o2 + oh + o + no == pytest.approx(charge.oxygen, rel=1e-7)


def test_the_start_of_the_search_does_not_matter():
    charge = Charge(ISO_OCTANE, np.array(MIXTURES))
    starts = [charge.burned(np.array(2000.0), 4.0, oxygen).energy for oxygen in (-25.0, -4.0, 5.0)]
    assert starts[0] == pytest.approx(starts[1], rel=1e-9)
    assert starts[2] == pytest.approx(starts[1], rel=1e-9)


def test_unburned_charge_against_cantera():
    names = {"C8H18,isooctane", "O2", "N2"}
    gas = ct.Solution(
        thermo="ideal-gas", species=[s for s in ct.Species.list_from_file("nasa_gas.yaml") if s.name in names]
    )
    charge = Charge(ISO_OCTANE, 0.9)
    gas.set_equivalence_ratio(1.0 / 0.9, "C8H18,isooctane", AIR)
    mass = gas_mass(gas, charge)
    for temperature in (300.0, 600.0, 900.0, 1200.0):
        gas.TP = temperature, 1e6
        energy, constant = charge.unburned(np.array(temperature))
        assert float(energy) == pytest.approx(gas.int_energy_mass * mass, abs=300.0)
        assert float(constant) == pytest.approx(8314.4626 / gas.mean_molecular_weight * mass, rel=1e-4)


@pytest.mark.parametrize(("richness", "released"), [(1.0, 0.9975), (1.1, 0.8789), (1.2, 0.7789), (1.3, 0.6951)])
def test_heat_that_is_free_when_the_water_gas_has_frozen(richness, released):
    """Chemical energy of charge less that of the frozen products at 298.15 K, over the fuel's (Cantera's table)."""
    charge = Charge(ISO_OCTANE, 1.0 / richness)
    cold = np.array(298.15)
    burned, fresh = charge.burned(cold, 0.3), charge.unburned(cold)
    moles = (burned.gas_constant - fresh[1]) * 298.15
    freed = (fresh[0] - burned.energy - moles) / (charge.fuel * ISO_OCTANE.heating_value)
    assert float(freed) == pytest.approx(released, abs=0.004)
    assert float(freed) == pytest.approx(float(air.heat_release_fraction(richness)), abs=0.004)


@pytest.mark.parametrize(
    ("name", "formation"),
    [("CO", -110.53), ("CO2", -393.51), ("H2O", -241.826), ("OH", 37.36), ("O", 249.18), ("H", 217.998), ("N2", 0.0)],
)
def test_enthalpies_of_formation(name, formation):
    """CODATA key values, 1989 [kJ/mol] (from memory); hydroxyl in them is 39.0 by the older, 37.4 by the newer value."""
    enthalpy, _ = species.properties(298.15)
    found = float(enthalpy[SPECIES.index(name)]) * species.GAS_CONSTANT * 298.15 / 1e3
    assert found == pytest.approx(formation, abs=2.0 if name == "OH" else 0.1)


def test_both_halves_of_a_polynomial_meet():
    below, above = (species.properties(t)[0] for t in (999.999, 1000.001))
    assert below == pytest.approx(above, rel=1e-4, abs=1e-4)


def test_a_vapour_carries_its_heating_value():
    """Complete combustion at 298.15 K frees the lower heating value at constant pressure, whatever the fuel."""
    ethanol = Vapour(hydrogen=3.0, oxygen=0.5, molar_mass=0.04607, heating_value=27.73e6)
    for vapour in (ISO_OCTANE, ethanol):
        carbon = 1.0 / (0.012011 + 0.001008 * vapour.hydrogen + 0.015999 * vapour.oxygen)
        formed = float(vapour.energy(np.array(298.15))) + 8.314462618 * 298.15 / vapour.molar_mass
        burned = carbon * (-393510.0 - 241826.0 * vapour.hydrogen / 2.0)
        assert formed - burned == pytest.approx(vapour.heating_value, rel=1e-4)


def test_nothing_changes_below_the_freezing_temperature():
    charge = Charge(ISO_OCTANE, 0.8)
    frozen = [float(charge.burned(np.array(t), 2.0).gas_constant) for t in (400.0, 1000.0, FREEZING)]
    assert frozen[0] == pytest.approx(frozen[2], rel=1e-3)
    assert frozen[1] == pytest.approx(frozen[2], rel=1e-3)


def test_a_mixture_that_would_make_soot_is_refused():
    """C8H18 with 4 O2 has just the oxygen for 8 CO: lambda 4 / 12.5 = 0.32."""
    with pytest.raises(OutOfRange, match=r"lambda 0\.33"):
        Charge(ISO_OCTANE, np.array([0.9, 0.33]))
    assert float(Charge(ISO_OCTANE, 0.35).burned(np.array(2000.0), 2.0).gas_constant) > 300.0
