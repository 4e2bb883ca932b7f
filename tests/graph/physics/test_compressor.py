"""Compressor against CoolProp (real air), Cantera and fluids."""

import cantera as ct
import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from fluids import isentropic_T_rise_compression
from scipy.optimize import minimize_scalar

from graph.physics import compressor

RATIOS = [1.5, 2.0, 2.5, 3.0]


def real_work(ratio: float, efficiency: float = 0.70) -> tuple[float, float]:
    """Work [J/kg] and outlet temperature [K] of real air from 298.15 K and 101325 Pa."""
    start = PropsSI("H", "T", 298.15, "P", 101325.0, "Air")
    entropy = PropsSI("S", "T", 298.15, "P", 101325.0, "Air")
    work = (PropsSI("H", "S", entropy, "P", 101325.0 * ratio, "Air") - start) / efficiency
    return work, PropsSI("T", "H", start + work, "P", 101325.0 * ratio, "Air")


@pytest.mark.parametrize("ratio", RATIOS)
def test_outlet_temperature_of_real_air(ratio: float) -> None:
    assert compressor.outlet_temperature(298.15, ratio, 0.70) == pytest.approx(real_work(ratio)[1], rel=5e-3)


@pytest.mark.parametrize("ratio", RATIOS)
def test_power_of_real_air(ratio: float) -> None:
    outlet = compressor.outlet_temperature(298.15, ratio, 0.70)
    assert compressor.power(0.25, 298.15, outlet) == pytest.approx(0.25 * real_work(ratio)[0], rel=1e-2)


@pytest.mark.parametrize("ratio", [2.0, 3.0])
def test_outlet_temperature_agrees_with_cantera(ratio: float) -> None:
    gas = ct.Solution("air.yaml")
    gas.TPX = 298.15, 101325.0, "O2:0.20946,N2:0.78084,AR:0.00934"
    start = gas.enthalpy_mass
    gas.SP = gas.entropy_mass, 101325.0 * ratio
    gas.HP = start + (gas.enthalpy_mass - start) / 0.70, 101325.0 * ratio
    assert compressor.outlet_temperature(298.15, ratio, 0.70) == pytest.approx(gas.T, rel=5e-3)


@pytest.mark.parametrize(
    ("inlet", "ratio", "efficiency"), [(298.15, 3.0, 0.70), (298.0, 2.8, 0.72), (310.0, 1.6, 0.65)]
)
def test_outlet_temperature_agrees_with_fluids(inlet: float, ratio: float, efficiency: float) -> None:
    expected = isentropic_T_rise_compression(inlet, 1e5, ratio * 1e5, 1.4, eta=efficiency)
    assert compressor.outlet_temperature(inlet, ratio, efficiency) == pytest.approx(expected, rel=1e-9)


def real_flux(pressure: float) -> float:
    """Isentropic mass flux [kg/(s.m2)] of real air from 101325 Pa and 293.15 K to a throat pressure."""
    entropy = PropsSI("S", "T", 293.15, "P", 101325.0, "Air")
    drop = PropsSI("H", "T", 293.15, "P", 101325.0, "Air") - PropsSI("H", "S", entropy, "P", pressure, "Air")
    return float(PropsSI("D", "S", entropy, "P", pressure, "Air") * np.sqrt(2.0 * drop))


def test_choked_flux_is_the_largest_flux_of_real_air() -> None:
    best = minimize_scalar(lambda p: -real_flux(p), bounds=(40e3, 70e3), method="bounded")
    assert compressor.choked_flux(101325.0, 293.15) == pytest.approx(-best.fun, rel=5e-3)


@pytest.mark.parametrize("mach", [0.3, 0.6])
def test_mass_flux_of_real_air_at_a_mach_number(mach: float) -> None:
    throat = 101325.0 * (1.0 + 0.2 * mach**2) ** -3.5
    assert compressor.mass_flux(mach, 101325.0, 293.15) == pytest.approx(real_flux(throat), rel=2e-3)


def test_mass_flux_peaks_at_mach_one() -> None:
    mach = np.linspace(0.1, 1.9, 37)
    flux = compressor.mass_flux(mach, 1e5, 298.0)
    assert mach[np.argmax(flux)] == pytest.approx(1.0)


def test_corrected_flow_between_two_printed_reference_states() -> None:
    # 302.8 K and 96.2 kPa (545 R, 28.4 inHg) against 298 K and 100 kPa: 100/96.2 * sqrt(298/302.8) less by hand.
    first = compressor.corrected_flow(0.3, 305.0, 96e3, 298.0, 100e3)
    second = compressor.corrected_flow(0.3, 305.0, 96e3, 302.8, 96.2e3)
    assert second / first == pytest.approx(0.9543, rel=1e-4)


def test_corrected_flow_at_the_reference_state_is_the_flow() -> None:
    assert compressor.corrected_flow(0.3, 298.0, 100e3, 298.0, 100e3) == pytest.approx(0.3)


def test_inducer_flow_of_a_34_mm_bore_without_hub() -> None:
    # Choked 34 mm throat at 293.15 K, 101325 Pa: 0.217278 kg/s for real air (CoolProp, largest over throat pressure).
    assert compressor.inducer_flow(0.034, 0.0, 1.0, 101325.0, 293.15) == pytest.approx(0.217278, rel=5e-3)


def test_inducer_flow_grows_with_the_square_of_the_diameter() -> None:
    small, large = compressor.inducer_flow(np.array([0.045, 0.090]), 0.3, 0.6, 1e5, 298.0)
    assert large == pytest.approx(4.0 * small)


def test_a_hub_takes_away_its_own_area() -> None:
    whole, hub = compressor.inducer_flow(np.array([0.056, 0.3 * 0.056]), 0.0, 0.6, 1e5, 298.0)
    assert compressor.inducer_flow(0.056, 0.3, 0.6, 1e5, 298.0) == pytest.approx(whole - hub)


def test_tip_speed_gives_back_the_work_by_euler() -> None:
    speed = compressor.tip_speed(3.0, 298.0, 0.72, 0.70)
    work = compressor.power(1.0, 298.0, compressor.outlet_temperature(298.0, 3.0, 0.72))
    assert 0.70 * speed**2 == pytest.approx(work)


def test_heat_rises_with_ratio_and_falls_with_efficiency() -> None:
    assert np.all(np.diff(compressor.outlet_temperature(298.0, np.linspace(1.0, 3.5, 11), 0.7)) > 0.0)
    assert np.all(np.diff(compressor.outlet_temperature(298.0, 2.5, np.linspace(0.5, 0.8, 7))) < 0.0)
    assert compressor.outlet_temperature(298.0, 1.0, 0.7) == pytest.approx(298.0)
