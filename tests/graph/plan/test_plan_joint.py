"""The search where the joint samples decide: parts that are good alone do not carry the target together.

The oracle is every choice tried, as in the other tests of the search; here so many samples must hold that options are
set against each other by what they carry together, and a cheaper option may not displace one that is needed.
"""

import pytest

from graph.plan.search import Search


@pytest.mark.parametrize("least", [52, 56, 59])
@pytest.mark.parametrize("decade", range(0, 72, 24))
def test_same_cost_as_every_choice_tried_where_samples_bind(decade, least, small, trial):
    feasible = bound = 0
    for seed in range(decade, decade + 24):
        choices, tariff, table = small(seed)
        loose = trial(choices, tariff, table.good)
        table.least = least
        expected = trial(choices, tariff, table.good)
        found = Search(choices, table, tariff).run()
        assert found.ended
        if expected is None:
            assert found.selection is None, seed
        else:
            feasible += 1
            assert found.selection is not None, seed
            assert table.good(found.selection), seed
            assert found.net == pytest.approx(expected, abs=0.01), seed
        bound += expected != loose
    assert bound >= 1, "the samples must matter in some of the catalogues"
    assert feasible >= 2, "some catalogues must have an answer"


def test_every_option_may_be_the_one_that_holds(small, trial):
    """Without the engine's own samples and without the joint policy the search ends at other costs, never below."""
    compared = 0
    for seed in range(40):
        choices, tariff, table = small(seed)
        table.least = 60
        held = Search(choices, table, tariff).run()
        table.least = 0
        free = Search(choices, table, tariff).run()
        if held.selection is not None:
            assert free.net <= held.net + 0.01
            compared += free.net < held.net - 0.01
    assert compared >= 1
