"""Power correction: reference states and limits printed in the standards, and their order among each other."""

from collections.abc import Callable

import numpy as np
import pytest

from graph.model import Array
from graph.physics import correction


def test_iso_and_sae_are_one_at_their_reference_state() -> None:
    # ISO 1585 and SAE J1349: 99 kPa dry, 298 K.
    assert correction.iso_1585(99e3, 298.0) == pytest.approx(1.0, abs=1e-12)
    assert correction.sae_j1349_1990(99e3, 298.0) == pytest.approx(1.0, abs=1e-12)
    assert correction.iso_1585_compression_ignition(99e3, 298.0, 0.66) == pytest.approx(1.0, abs=1e-12)


def test_din_is_one_at_its_reference_state() -> None:
    # DIN 70020: 1013.25 hPa total, 20 degC taken as 293 K.
    assert correction.din_70020(101325.0, 293.0) == pytest.approx(1.0, abs=1e-12)


def test_sae_form_is_the_tangent_of_85_percent_mechanical_efficiency() -> None:
    # Brake power = indicated - friction, friction unchanged: factor = (D - 0.15) / 0.85 when D scales indicated power.
    for pressure, temperature in [(97e3, 293.0), (98e3, 300.0), (96e3, 305.0)]:
        indicated = 99e3 / pressure * np.sqrt(temperature / 298.0)
        expected = (indicated - 0.15) / 0.85
        assert correction.sae_j1349_1990(pressure, temperature) == pytest.approx(expected, abs=5e-4)


@pytest.mark.parametrize(
    ("fuel", "factor"),
    [(0.030, 0.2), (0.040, 0.30), (0.080, 1.2)],  # service manual; a dynamometer laboratory's worked cases of ISO 1585
)
def test_engine_factor(fuel: float, factor: float) -> None:
    assert correction.engine_factor(fuel) == pytest.approx(factor, abs=1e-9)


def test_engine_factor_is_nearly_continuous_at_its_printed_limits() -> None:
    # The printed limits 37.2 and 65 mg/(l.cycle) are where the straight line meets 0.2 and 1.2.
    for edge in (0.0372, 0.0650):
        below, above = correction.engine_factor(np.array([edge - 1e-9, edge + 1e-9]))
        assert below == pytest.approx(above, abs=2e-3)


def test_boost_lowers_the_corrected_fuel() -> None:
    assert correction.engine_factor(0.10, 2.0) == pytest.approx(float(correction.engine_factor(0.05)))


def test_thin_hot_air_corrects_upwards_and_thick_cold_air_downwards() -> None:
    for factor in (correction.iso_1585, correction.sae_j1349_1990, correction.din_70020):
        assert factor(93e3, 310.0) > 1.0 > factor(104e3, 285.0)
        assert np.all(np.diff(factor(np.linspace(80e3, 110e3, 7), 298.0)) < 0.0)
        assert np.all(np.diff(factor(98e3, np.linspace(288.0, 308.0, 5))) > 0.0)


@pytest.mark.parametrize(
    ("factor", "expected"),
    [(correction.iso_1585, 1.07175), (correction.sae_j1349_1990, 1.07015), (correction.din_70020, 1.09354)],
)
def test_a_hot_low_day_by_hand(factor: Callable[[float, float], Array], expected: float) -> None:
    # 950 hPa and 308 K with the exponents that secondary sources print: ISO 1585 1.04211^1.2 * 1.03356^0.6;
    # SAE 1.180 * 1.04211 * 1.01664 - 0.18; DIN 1.06658 * 1.02528.
    assert factor(95e3, 308.0) == pytest.approx(expected, rel=1e-4)


def test_a_bad_day_is_flagged() -> None:
    # 950 hPa dry and 35 degC lie outside the 0.93 to 1.07 of the standards.
    assert not correction.within_validity(correction.iso_1585(95e3, 308.0))
    assert correction.within_validity(correction.iso_1585(97e3, 300.0))


def test_a_turbocharged_diesel_depends_less_on_pressure() -> None:
    charged = correction.iso_1585_compression_ignition(90e3, 298.0, 1.0, True)
    aspirated = correction.iso_1585_compression_ignition(90e3, 298.0, 1.0, False)
    assert 1.0 < charged < aspirated
