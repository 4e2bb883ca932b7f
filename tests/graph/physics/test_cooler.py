"""Charge cooler against the heat-exchanger library ht."""

import numpy as np
import pytest
from ht import LMTD, effectiveness_from_NTU

from graph.physics import cooler


@pytest.mark.parametrize(("units", "ratio"), [(2.0, 0.5), (2.5, 0.3), (1.5, 0.6), (1.0, 1.0), (5.0, 0.75)])
def test_crossflow_agrees_with_ht(units: float, ratio: float) -> None:
    expected = effectiveness_from_NTU(units, ratio, subtype="crossflow")
    assert cooler.effectiveness_crossflow(units, ratio) == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize(("units", "ratio"), [(2.0, 0.5), (5.0, 0.7), (3.0, 1.0), (2.0, 0.0)])
def test_counterflow_agrees_with_ht(units: float, ratio: float) -> None:
    expected = effectiveness_from_NTU(units, ratio, subtype="counterflow")
    assert cooler.effectiveness_counterflow(units, ratio) == pytest.approx(expected, rel=1e-6)


def test_crossflow_with_a_very_large_coolant_flow_agrees_with_ht() -> None:
    expected = effectiveness_from_NTU(2.0, 0.0, subtype="boiler")
    assert cooler.effectiveness_crossflow(2.0, 0.0) == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize("units", [0.5, 1.0, 2.0, 4.0])
def test_transfer_units_invert_the_effectiveness_of_ht(units: float) -> None:
    effectiveness = effectiveness_from_NTU(units, 0.0, subtype="boiler")
    assert cooler.transfer_units(effectiveness) == pytest.approx(units, rel=1e-9)


def test_counterflow_carries_the_heat_of_the_mean_temperature_difference() -> None:
    # Heat by effectiveness equals conductance times the logarithmic mean difference of ht (capacity flows 300, 600 W/K).
    hot, cold, small, large, conductance = 419.15, 303.15, 300.0, 600.0, 600.0
    outlet = float(cooler.outlet_temperature(hot, cold, cooler.effectiveness_counterflow(conductance / small, 0.5)))
    heat = small * (hot - outlet)
    assert heat == pytest.approx(conductance * LMTD(hot, outlet, cold, cold + heat / large), rel=1e-9)


def test_vectors_equal_their_elements() -> None:
    units = np.array([[0.5], [2.0], [4.0]])
    ratio = np.array([0.25, 1.0])
    table = cooler.effectiveness_crossflow(units, ratio)
    assert table.shape == (3, 2)
    assert table[1, 0] == pytest.approx(float(cooler.effectiveness_crossflow(2.0, 0.25)))


def test_the_order_of_arrangements() -> None:
    # Textbook order: counter flow is best, then cross flow, then (for comparison from ht) parallel flow.
    cross, counter = cooler.effectiveness_crossflow(2.0, 0.7), cooler.effectiveness_counterflow(2.0, 0.7)
    assert effectiveness_from_NTU(2.0, 0.7, subtype="parallel") < cross < counter


def test_a_rated_cooler_keeps_its_rating_and_falls_with_flow() -> None:
    flow = np.linspace(0.1, 0.5, 9)
    found = cooler.effectiveness_at_flow(0.72, 0.25, flow)
    assert cooler.effectiveness_at_flow(0.72, 0.25, 0.25) == pytest.approx(0.72)
    assert np.all(np.diff(found) < 0.0)
    assert np.all((found > 0.0) & (found < 1.0))


def test_flow_exponent_inverts() -> None:
    away = cooler.effectiveness_at_flow(0.72, 0.25, 0.40)
    assert cooler.effectiveness_at_flow(away, 0.40, 0.25) == pytest.approx(0.72)


def test_no_cooler_and_a_perfect_one() -> None:
    assert cooler.outlet_temperature(420.0, 300.0, 0.0) == pytest.approx(420.0)
    assert cooler.outlet_temperature(420.0, 300.0, 1.0) == pytest.approx(300.0)
