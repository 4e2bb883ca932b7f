"""Floors under the cost of groups of slots, against every choice tried: none that is sound and clear undercuts them.

Verdicts are lots drawn from what the parts say, so that nothing rises or falls with anything; the brute force over
every subset of the book is the source of what the choices of a group cost.
"""

from __future__ import annotations

import itertools
import random

import pytest

from graph.plan.bound import Bounds
from graph.plan.floor import Floors
from graph.plan.node import Rules
from graph.plan.verdict import Verdicts

#: The slots on which every verdict depends, and one whose offer some limits hear.
STANDING, LATE = (2,), (4,)


class Lots:
    """Options alone: clear by lot, some of them hearing the late slot."""

    context, late = (*STANDING, *LATE), LATE

    def __init__(self, seed):
        self.seed = seed

    def alike(self, slot, option):
        return option if slot in self.context else 0

    def hears(self, slot, _):
        return random.Random(f"{self.seed} hears {slot}").random() < 0.3

    def clear(self, context, slot, option):
        heard = context[4] if self.hears(slot, option) else None
        return random.Random(f"{self.seed} {context[2]} {heard} {slot} {option}").random() < 0.7


def opened(seed, small):
    choices, tariff, _ = small(seed)
    bounds, lots = Bounds(choices, tariff), Lots(seed)
    verdicts = Verdicts(choices, lots, no_engine=True)
    return choices, bounds, lots, Floors(choices, bounds, Rules(choices, bounds), verdicts, lots, frozenset())


def good(choices, lots, selection):
    context = {s: selection[s] for s in lots.context}
    return choices.sound(selection) and all(lots.clear(context, s, i) for s, i in enumerate(selection))


@pytest.mark.parametrize("part", range(6))
def test_no_good_choice_costs_less_than_the_floor_nor_than_bound_and_floor_together(part, small):
    """120 books, every option of the standing slot, and some narrower domains of each."""
    tight = raised = 0
    for seed in range(20 * part, 20 * part + 20):
        choices, bounds, lots, floors = opened(seed, small)
        found = [s for s in itertools.product(*choices.all()) if good(choices, lots, s)]
        lot = random.Random(seed)
        for standing in choices.all()[2]:
            for n in range(4):
                wide = (d if n == 0 else lot.sample(d, lot.randint(1, len(d))) for d in choices.all())
                domains = bounds.ordered(tuple((standing,) if s == 2 else tuple(d) for s, d in enumerate(wide)))
                left = [s for s in found if all(i in d for i, d in zip(s, domains, strict=True))]
                simple = bounds.least_of(domains)
                bound = simple + floors.added(domains)
                assert bound >= simple - 1e-9
                assert all(bounds.exact(selection) >= bound - 1e-6 for selection in left), seed
                raised += bound > simple + 1e-6
                tight += bool(left) and min(map(bounds.exact, left)) < bound + 1e-6
    assert raised >= 10
    assert tight >= 5


def test_a_group_in_which_nothing_is_clear_has_no_finite_floor(small):
    """A slot with an unclear option alone, bound to another: no choice is left, and the brute force finds none."""
    closed = 0
    for seed in range(120):
        choices, bounds, lots, floors = opened(seed, small)
        for standing in choices.all()[2]:
            domains = bounds.ordered(tuple((standing,) if s == 2 else d for s, d in enumerate(choices.all())))
            if floors.added(domains) == float("inf"):
                closed += 1
                tried = itertools.product(*domains)
                assert not any(good(choices, lots, selection) for selection in tried), seed
    assert closed >= 3
