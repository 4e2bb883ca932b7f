"""Pumps against CoolProp (bulk modulus), scipy (heating over time) and a printed pump point."""

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from scipy.integrate import solve_ivp

from graph.physics import pump


def secant_modulus(fluid: str, temperature: float) -> float:
    """Isothermal secant bulk modulus [Pa] from 0.6 to 20 MPa."""
    low, high = (PropsSI("D", "T", temperature, "P", p, fluid) for p in (6e5, 200e5))
    return (200e5 - 6e5) / ((high - low) / low)


@pytest.mark.parametrize(("temperature", "modulus"), [(293.15, 0.9e9), (333.15, 0.7e9), (363.15, 0.6e9)])
def test_modulus_of_petrol_lies_between_its_parts(temperature: float, modulus: float) -> None:
    assert secant_modulus("n-Heptane", temperature) < modulus < secant_modulus("Toluene", temperature)


def test_compression_loss_of_two_pure_fuels_brackets_the_default() -> None:
    # Fraction of a stroke lost at 200 bar with a dead volume equal to the swept one: density ratio of CoolProp.
    def lost(fluid: str) -> float:
        low, high = (PropsSI("D", "T", 333.15, "P", p, fluid) for p in (6e5, 206e5))
        return float(2.0 * (high - low) / low)

    found = 0.96 - float(pump.cam_pump_efficiency(200e5, 5e-5))
    assert lost("Toluene") < found < lost("n-Heptane")


def test_leakage_hurts_at_low_speed() -> None:
    efficiency = pump.cam_pump_efficiency(150e5, np.array([2e-6, 1e-5, 5e-5]), leak=3e-14)
    assert np.all(np.diff(efficiency) > 0.0)
    assert pump.cam_pump_efficiency(150e5, 1e-9, leak=3e-14) == 0.0


def test_cam_pump_by_hand() -> None:
    # Plunger 10 mm, lift 3.5 mm: 0.27489 cm3; 4 lobes at half of 6500 1/min: 13000 strokes a minute = 59.56 cm3/s;
    # times 0.82 and 0.750 g/cm3 = 36.63 g/s.
    found = pump.cam_pump_flow(0.27489e-6, 4, 6500.0 / 60.0, 0.82, 750.0)
    assert found == pytest.approx(36.63e-3, rel=1e-3)


def test_voltage_gain_against_a_printed_pump() -> None:
    # A public pump page prints 700 lb/h at 12.0 V and 800 lb/h at 13.5 V.
    found = pump.flow_at(700.0, 3e5, 12.0, 3e5, 13.5)
    assert found == pytest.approx(800.0, rel=1e-2)


def test_flow_rises_with_voltage_and_falls_with_pressure() -> None:
    assert np.all(np.diff(pump.flow_at(1.0, 5e5, 13.0, 5e5, np.linspace(10.0, 14.5, 6))) > 0.0)
    assert np.all(np.diff(pump.flow_at(1.0, 5e5, 13.0, np.linspace(3e5, 9e5, 7), 13.0)) < 0.0)
    assert pump.flow_at(1.0, 5e5, 13.0, 100e5, 13.0) == 0.0


def test_motor_current_balances_power() -> None:
    # 0.03 kg/s of 745 kg/m3 against 6 bar is 24.16 W; at 30 % and 13.5 V that is 5.966 A (hand).
    assert pump.motor_current(6e5, 0.03 / 745.0, 13.5) == pytest.approx(5.966, rel=1e-3)


def test_current_is_rated_at_rated_flow_and_half_of_it_at_none() -> None:
    assert pump.current_at(18.0, np.array([0.0, 1.0]), 1.0) == pytest.approx([9.0, 18.0])


@pytest.mark.parametrize("duration", [15.0, 60.0, 540.0])
def test_allowed_current_heats_as_far_as_the_continuous_one(duration: float) -> None:
    # First-order heating integrated by scipy, loss proportional to current squared.
    current = float(pump.allowed_current(12.0, duration, 540.0))
    steady = pump.controller_rise(current, 0.012, 6.0)
    found = solve_ivp(lambda _, rise: (steady - rise) / 540.0, (0.0, duration), [0.0], rtol=1e-9, atol=1e-9)
    assert found.y[0, -1] == pytest.approx(float(pump.controller_rise(12.0, 0.012, 6.0)), rel=1e-6)


def test_heat_grows_with_the_square_of_current() -> None:
    # 22 % more current is 49 % more heat (1.22^2).
    assert pump.controller_rise(22.0, 0.012, 6.0) / pump.controller_rise(18.0, 0.012, 6.0) == pytest.approx(
        1.494, rel=1e-3
    )


def test_volume_flow_adds_the_jet_pump() -> None:
    assert pump.volume_flow(0.03, 750.0, 1e-5) == pytest.approx(5e-5)
