"""Water and methanol against CoolProp, Cantera and hand calculations."""

import cantera
import numpy as np
import pytest
from CoolProp.CoolProp import HAPropsSI, PropsSI

from graph.physics import fuel, mist, mist_supply


def latent(fluid):
    return PropsSI("H", "T", 298.15, "Q", 1, fluid) - PropsSI("H", "T", 298.15, "Q", 0, fluid)


def test_latent_heats_are_those_of_the_reference_equations():
    assert float(mist.latent_heat(0.0)) == pytest.approx(latent("Water"), rel=1e-3)
    assert float(mist.latent_heat(1.0)) == pytest.approx(latent("Methanol"), rel=5e-3)


def test_densities_are_those_of_the_reference_equations():
    assert float(mist.density(0.0)) == pytest.approx(PropsSI("D", "T", 293.15, "P", 101325.0, "Water"), rel=1e-3)
    assert float(mist.density(1.0)) == pytest.approx(PropsSI("D", "T", 293.15, "P", 101325.0, "Methanol"), rel=2e-3)


def test_methanol_burns_as_cantera_says():
    gas = cantera.Solution("gri30.yaml")
    ratio = gas.stoich_air_fuel_ratio("CH3OH:1", "O2:0.20946, N2:0.78084, AR:0.0097")
    assert ratio == pytest.approx(mist.METHANOL.stoichiometric_ratio, rel=1e-3)
    assert fuel.stoichiometric_ratio(1, 4, 1) == pytest.approx(mist.METHANOL.stoichiometric_ratio, rel=1e-3)
    # formation enthalpy of liquid methanol -238.4 to -239.2 kJ/mol (thermochemical tables)
    low, high = (fuel.heating_value(1, 4, 1, h) for h in (-239.2e3, -238.4e3))
    assert low * 0.999 <= mist.METHANOL.heating_value <= high * 1.001


def test_charge_cooling_closes_the_energy_balance_of_real_fluids():
    """Air with liquid water, brought to the temperature found: enthalpies of real air and water balance."""
    share = 0.004  # of the air, all evaporated
    drop = float(mist.charge_cooling(0.0, 0.0, 0.0, share, 0.0, mist_share=1.0))
    start, pressure = 330.0, 2.5e5
    air = PropsSI("H", "T", start, "P", pressure, "Air") - PropsSI("H", "T", start - drop, "P", pressure, "Air")
    vapour = PropsSI("H", "T", start - drop, "Q", 1, "Water") - PropsSI("H", "T", start, "Q", 0, "Water")
    assert air == pytest.approx(share * vapour, rel=0.04)


@pytest.mark.parametrize(
    ("share", "expected"),
    # 50:50 by mass at 10 and 20 % of the fuel mass, air to fuel 12.3, all evaporated: 0.1 / 12.3 * 1805 kJ/kg over
    # 1005 + 2200 / 12.3 + 0.1 / 12.3 * 3358 J/(kg K): 14.675 / 1.2112 and 29.35 / 1.2385.
    [(0.1, 12.12), (0.2, 23.70)],
)
def test_mist_and_fuel_share_one_charge(share, expected):
    assert float(mist.charge_cooling(1 / 12.3, 0.0, 0.0, share / 12.3, 0.5, 1.0)) == pytest.approx(expected, abs=0.02)


def test_half_of_the_mist_is_counted_unless_said_otherwise():
    """Half evaporates before the valve (stated assumption): 0.5 x 29.35 over 1.2385 of the sum worked out above."""
    assert float(mist.charge_cooling(1 / 12.3, 0.0, 0.0, 0.2 / 12.3, 0.5)) == pytest.approx(0.5 * 23.70, abs=0.02)


def test_nothing_is_counted_twice():
    """Fuel and mist together cool less than the sum of what each does alone: the charge is heavier."""
    ratio = 1.0 / 12.3
    fuel_alone = float(mist.charge_cooling(ratio, 350e3, 0.8, 0.0, 0.5))
    mist_alone = float(mist.charge_cooling(0.0, 350e3, 0.8, 0.2 * ratio, 0.5))
    both = float(mist.charge_cooling(ratio, 350e3, 0.8, 0.2 * ratio, 0.5))
    assert max(fuel_alone, mist_alone) < both < fuel_alone + mist_alone
    assert fuel_alone == pytest.approx(float(fuel.charge_cooling(ratio, 350e3, 0.8)), rel=1e-12)


def test_saturation_agrees_with_humid_air():
    for celsius in (5.0, 20.0, 40.0, 55.0):
        reference = HAPropsSI("W", "T", celsius + 273.15, "P", 101325.0, "R", 1.0)
        assert float(mist_supply.saturation(celsius + 273.15, 101325.0)) == pytest.approx(reference, rel=0.012)


def test_pressed_air_takes_up_less():
    # Dalton: at 2.5 bar the air is 2.5 times as much over nearly the same vapour.
    ratio = float(mist_supply.saturation(310.0, 1.0e5) / mist_supply.saturation(310.0, 2.5e5))
    assert 2.5 < ratio < 2.7


def test_methanol_replaces_fuel_by_its_air():
    # 4.32 g of mist, half methanol: 2.16 g take 13.98 g of air, as 0.978 g of petrol at 14.3 do.
    assert float(mist.fuel_replaced(4.32e-3, 0.5, 14.3)) == pytest.approx(0.9776e-3, rel=1e-3)


def test_octane_gain_grows_with_methanol_and_vanishes_with_water():
    gains = [float(mist.octane_gain(98.0, 88.0, 0.2, share)) for share in np.linspace(0.0, 1.0, 5)]
    assert gains[0] == 0.0
    assert np.all(np.diff(gains) > 0.0)
    # pure methanol for the whole fuel would be its own index, 117.5
    assert float(mist.octane_gain(98.0, 88.0, 1e9, 1.0)) == pytest.approx(14.5, rel=1e-6)
