"""What a conflict says of a limit: "no ... that fits carries more than", told only where it is true of every option."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import pytest

from graph.plan.conflict import describe
from graph.plan.outcome import limit_of
from graph.plan.record import Because

#: Slot that has more than one option in the small book of this seed.
SEED = 3


class Told:
    """What a model would say of the options of one slot: what each carries alone [W], None for one that is clear."""

    def __init__(self, carried, boost):
        self.carried = carried
        self.target = SimpleNamespace(power=3.0e5, boost_cap=boost)

    def shortfall(self, key):
        found = self.carried[key[1]]
        return None if found is None else f"option {key[1]} is short"

    def carries_alone(self, key):
        return self.carried[key[1]] or 4.0e5

    def judged_on(self):
        return {}

    def aimed(self, _):
        return SimpleNamespace(fuel=SimpleNamespace(name="ron98"))


@pytest.fixture
def said(small):
    """Opens the sentence about the slot with the most options."""
    choices = small(SEED)[0]
    slot = max(range(len(choices.options)), key=lambda s: len(choices.options[s]))
    name = choices.names[slot]
    assert len(choices.options[slot]) >= 2

    def tell(carried, boost=2.2e5, barred=()):
        every = [*carried, *[carried[-1]] * len(choices.options[slot])]
        found = tuple(replace(o, barred=frozenset(barred)) if i else o for i, o in enumerate(choices.options[slot]))
        asked = replace(choices, options=(*choices.options[:slot], found, *choices.options[slot + 1 :]))
        reason = describe(limit_of(name), asked, Told(every, boost))
        assert reason.because is Because.LIMIT
        return name, reason.text

    return tell


def test_where_every_option_is_short_the_strongest_one_is_named_with_fuel_and_boost(said):
    """Of 251 and 263 kW the higher one is what no part carries more than."""
    name, text = said([251.0e3, 263.0e3])
    fits = "fit carry" if name.endswith("s") else "fits carries"
    head = f"{name}: no {name} that {fits} more than 263 kW on ron98 at 2.2 bar boost, every spread left out; "
    assert text.startswith(head + "option 0 is short; option 1 is short")


def test_where_the_strongest_one_carries_the_power_but_not_surely_enough_both_powers_are_named(said):
    """300 kW are asked; 304 and 311 kW are the ceilings before their spread is counted."""
    text = said([304.0e3, 311.0e3])[1]
    assert "more than" not in text
    assert " 300 kW as surely as is asked, 311 kW at most on ron98 at 2.2 bar boost" in text


def test_without_a_cap_no_boost_is_named(said):
    assert "on ron98, every spread left out" in said([251.0e3, 263.0e3], None)[1]


def test_where_one_option_is_clear_alone_nothing_is_said_of_all(said):
    name, text = said([251.0e3, None])
    assert "more than" not in text
    assert text.startswith(f"{name}, judged on ron98: option 0 is short; ")
    assert "clear alone, but not together with the rest" in text


def test_limit_that_is_no_power_makes_no_power_of_it(said):
    """An option that fails a floor carries any power: there is no highest one to name."""
    assert "more than" not in said([float("inf"), 263.0e3])[1]


def test_where_a_wish_rules_out_other_options_nothing_is_said_of_all_that_fit(said):
    """The first option is to stay: what the others carry was not asked."""
    name, text = said([251.0e3, 263.0e3], barred=("keep:a slot",))
    assert "that fit" not in text
    assert text == f"{name}, judged on ron98: option 0 is short"
