"""Heat over time against scipy and CoolProp."""

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from scipy.integrate import solve_ivp

from graph.physics import heat


@pytest.mark.parametrize("duration", [30.0, 300.0, 1200.0])
def test_warm_up_follows_first_order_heating_integrated_by_scipy(duration: float) -> None:
    found = solve_ivp(lambda _, y: (1.0 - y) / 300.0, (0.0, duration), [0.0], rtol=1e-10, atol=1e-12)
    assert heat.warm_up_share(duration, 300.0) == pytest.approx(found.y[0, -1], rel=1e-7)


def test_radiator_heat_is_carried_by_the_coolant_flow() -> None:
    # Half glycol (CoolProp) of 2.5 kg/s that cools by 10 K: the conductance that this takes against 30 degC air.
    capacity = PropsSI("C", "T", 363.15, "P", 2e5, "INCOMP::MEG[0.5]")
    carried = 2.5 * capacity * 10.0
    conductance = carried / (363.15 - 303.15)
    assert heat.rejected(conductance, 363.15, 303.15) == pytest.approx(carried)
    assert carried == pytest.approx(90.4e3, rel=1e-2)


def test_no_heat_flows_from_cold_to_hot() -> None:
    assert heat.rejected(1000.0, 300.0, 310.0) == 0.0


def test_shares_of_a_published_energy_balance() -> None:
    # Engineering-education page: coolant and oil together 27.5 % at full load, stoichiometric; rich boosted 15 to 22 %.
    fuel = 0.030 * 42.4e6
    together = float(heat.heat_to_coolant(0.030, 42.4e6) + heat.heat_to_oil(0.030, 42.4e6))
    assert 0.15 * fuel < together < 0.275 * fuel


def test_short_pulls_store_most_of_the_heat() -> None:
    stored = heat.stored(1.0, np.array([15.0, 60.0, 600.0, 1e6]), 300.0)
    assert np.all(np.diff(stored) > 0.0)
    assert stored[-1] == pytest.approx(1.0)
    assert stored[0] == pytest.approx(15.0 / 300.0, rel=0.03)  # short times: proportional to time
