"""Direct and port shares add up to the fuel of the engine (continuity)."""

import numpy as np
import pytest

from graph.physics import breathing, fuel_share


@pytest.mark.parametrize("shared", [{}, {"port share": 0.0}, {"port share": 0.3}, {"port share": 1.0}])
def test_shares_add_up(shared: dict[str, float]) -> None:
    flow = np.array([0.01, 0.03])
    assert fuel_share.direct(flow, shared) + fuel_share.port(flow, shared) == pytest.approx(flow)


def test_without_a_supplement_all_fuel_is_direct() -> None:
    assert fuel_share.direct(0.02, {}) == pytest.approx(0.02)


def test_deposits_take_their_share_of_the_air() -> None:
    assert breathing.after_loss(0.0) == 1.0
    assert np.all(np.diff(breathing.after_loss(np.linspace(0.0, 0.1, 5))) < 0.0)
