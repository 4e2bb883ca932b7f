"""Forces and torques against numerical integration (scipy), kinematics and a published clutch problem."""

import numpy as np
import pytest
from scipy.constants import kmh
from scipy.integrate import quad

from graph.physics import mechanical


def test_gas_force_by_hand() -> None:
    # 82.5 mm: 53.456 cm2 times 99 bar = 52.92 kN.
    assert mechanical.gas_force(0.0825, 100e5) == pytest.approx(52.92e3, rel=1e-3)
    assert mechanical.gas_force(0.0825, 1e5) == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("revolutions", [6500.0, 7000.0, 8000.0])
def test_inertia_force_is_the_second_derivative_of_the_piston_position(revolutions: float) -> None:
    crank, rod, mass, omega = 0.0464, 0.144, 0.60, 2.0 * np.pi * revolutions / 60.0
    step = 1e-4

    def position(angle: float) -> float:
        return float(crank * np.cos(angle) + np.sqrt(rod**2 - (crank * np.sin(angle)) ** 2))

    second = (position(step) - 2.0 * position(0.0) + position(-step)) / step**2
    assert mechanical.inertia_force(mass, crank, rod, revolutions / 60.0) == pytest.approx(
        -mass * omega**2 * second, rel=1e-4
    )


def test_worn_clutch_of_a_published_problem() -> None:
    # University teaching page (D. J. Grieve): 140/200 mm, two faces, 0.5, 1 MPa at the inner edge, uniform wear.
    force = 2.0 * np.pi * 1e6 * 0.070 * (0.100 - 0.070)
    assert force == pytest.approx(13.195e3, rel=1e-3)
    assert mechanical.clutch_torque_uniform_wear(0.5, 2, force, 0.100, 0.070) == pytest.approx(1121.55, rel=1e-4)


@pytest.mark.parametrize(("outer", "inner"), [(0.120, 0.075), (0.100, 0.070)])
def test_clutch_torque_is_the_integral_of_friction_over_the_face(outer: float, inner: float) -> None:
    even = 9000.0 / (np.pi * (outer**2 - inner**2))
    expected = 2 * 0.35 * quad(lambda r: even * 2.0 * np.pi * r * r, inner, outer)[0]
    assert mechanical.clutch_torque_uniform_pressure(0.35, 2, 9000.0, outer, inner) == pytest.approx(expected)
    edge = 9000.0 / (2.0 * np.pi * (outer - inner))
    worn = 2 * 0.35 * quad(lambda r: edge / r * 2.0 * np.pi * r * r, inner, outer)[0]
    assert mechanical.clutch_torque_uniform_wear(0.35, 2, 9000.0, outer, inner) == pytest.approx(worn)


def test_a_worn_clutch_carries_less_than_a_new_one() -> None:
    arguments = (0.35, 2, 9000.0, 0.120, 0.075)
    assert mechanical.clutch_torque_uniform_wear(*arguments) < mechanical.clutch_torque_uniform_pressure(*arguments)


def test_shaft_torque_splits_over_two_shafts() -> None:
    # 530 N.m through 3.4 and 3.6 at 95 %: 6163 N.m on the axle, 3081 on each shaft (hand).
    assert mechanical.shaft_torque(530.0, 3.4 * 3.6) == pytest.approx(3081.4, rel=1e-3)


def test_shaft_stress_integrates_to_its_torque() -> None:
    stress, radius = float(mechanical.shaft_stress(3080.0, 0.028)), 0.014
    torque = quad(lambda r: stress * r / radius * r * 2.0 * np.pi * r, 0.0, radius)[0]
    assert torque == pytest.approx(3080.0)


def test_head_lift_force_by_hand() -> None:
    # Ring 84.5 mm: 56.08 cm2 times 120 bar = 67.3 kN.
    assert mechanical.head_lift_force(0.0845, 120e5) == pytest.approx(67.3e3, rel=1e-3)


def test_brake_energy_by_hand_with_scipy_units() -> None:
    # 1500 kg, 200 to 0 km/h: 2314.8 kJ; 250 to 100 km/h: 3038.2 kJ.
    assert mechanical.brake_energy(1500.0, 200.0 * kmh, 0.0) == pytest.approx(2314.8e3, rel=1e-4)
    assert mechanical.brake_energy(1500.0, 250.0 * kmh, 100.0 * kmh) == pytest.approx(3038.2e3, rel=1e-4)


def test_stops_follow_the_time_on_a_circuit() -> None:
    assert mechanical.stops_in(15.0) == 4.0
    assert mechanical.stops_in(1800.0) == 30.0
