"""Pipe losses against fluids, CoolProp and the printed Fanno table."""

import fluids
import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI

from graph.physics import pipe
from graph.physics.gas import R_EXHAUST


@pytest.mark.parametrize(("reynolds", "roughness"), [(1e5, 1e-4), (1e4, 0.0), (1e6, 1e-3), (5e3, 1e-5), (1000.0, 0.0)])
def test_friction_factor_agrees_with_fluids(reynolds: float, roughness: float) -> None:
    expected = fluids.friction_factor(Re=reynolds, eD=roughness)
    assert pipe.friction_factor(reynolds, roughness) == pytest.approx(expected, rel=1e-5)


@pytest.mark.parametrize(
    ("flow", "viscosity", "diameter"),
    [
        (0.030, 4.5e-4, 0.006),
        (0.030, 4.5e-4, 0.008),
        (0.045, 4.5e-4, 0.006),
        (0.050, 5.0e-4, 0.008),
        (0.001, 2e-3, 0.008),
    ],
)
def test_liquid_line_agrees_with_fluids(flow: float, viscosity: float, diameter: float) -> None:
    expected = fluids.one_phase_dP(m=flow, rho=745.0, mu=viscosity, D=diameter, roughness=1.5e-6, L=4.0)
    assert pipe.liquid_line_loss(flow, 745.0, viscosity, diameter, 4.0) == pytest.approx(expected, rel=1e-4)


def test_no_flow_no_loss() -> None:
    assert pipe.liquid_line_loss(0.0, 745.0, 4.5e-4, 0.006, 4.0) == pytest.approx(0.0, abs=1e-9)


def test_one_measured_point_carries_to_another_density() -> None:
    # A rough charge pipe in fluids (fully rough: the factor does not move with Reynolds number).
    def loss(flow: float, density: float) -> float:
        return float(fluids.one_phase_dP(m=flow, rho=density, mu=1.9e-7, D=0.057, roughness=1e-4, L=3.0))

    coefficient = pipe.loss_coefficient(loss(0.3, 2.2), 0.3, 2.2)
    assert pipe.pressure_loss(coefficient, 0.2, 1.4) == pytest.approx(loss(0.2, 1.4), rel=2e-3)
    equivalent = pipe.equivalent_flow(0.2, 1.4)
    assert loss(float(equivalent), pipe.REFERENCE_DENSITY) == pytest.approx(loss(0.2, 1.4), rel=2e-3)


def test_reference_density_is_that_of_air_at_25_degrees() -> None:
    expected = PropsSI("D", "T", 298.15, "P", 101325.0, "Air")
    assert expected == pytest.approx(pipe.REFERENCE_DENSITY, rel=1e-3)


@pytest.mark.parametrize(("pressure", "temperature"), [(1e5, 293.15), (2.5e5, 330.0), (3.0e5, 420.0)])
def test_gas_density_of_real_air(pressure: float, temperature: float) -> None:
    expected = PropsSI("D", "T", temperature, "P", pressure, "Air")
    assert pipe.gas_density(pressure, temperature) == pytest.approx(expected, rel=2e-3)


def test_exhaust_is_a_little_lighter_than_air() -> None:
    assert pipe.gas_density(1e5, 1000.0, R_EXHAUST) < pipe.gas_density(1e5, 1000.0)


@pytest.mark.parametrize(
    ("mach", "length"), [(0.1, 66.9216), (0.3, 5.2993), (0.5, 1.0691), (0.7, 0.2081), (2.0, 0.3050)]
)
def test_fanno_table(mach: float, length: float) -> None:
    # White, Fluid Mechanics, 7th ed., table B.3 (k = 1.4).
    assert pipe.fanno(mach) == pytest.approx(length, rel=3e-4)


def test_losses_invert_and_grow_with_the_square_of_flow() -> None:
    flow = np.array([0.1, 0.2, 0.4])
    loss = pipe.pressure_loss(1.2e5, flow, 1.2)
    assert loss[1:] / loss[:-1] == pytest.approx([4.0, 4.0])
    assert pipe.loss_coefficient(loss, flow, 1.2) == pytest.approx([1.2e5] * 3)
    assert pipe.rated_gas_loss(12e3, 0.3, 0.3) == pytest.approx(12e3)
    assert pipe.rated_gas_loss(12e3, 0.3, 0.6) == pytest.approx(48e3)


def test_thin_gas_counts_as_more_flow() -> None:
    assert pipe.equivalent_flow(0.3, 1.0) > 0.3 > pipe.equivalent_flow(0.3, 1.4)
