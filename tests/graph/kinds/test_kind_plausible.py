"""A slip of one decimal in a rating of the demo shop is seen: ten times and a tenth of it lie outside the range.

The ratings come from the shop's own sheets; temperatures are slipped in degrees Celsius, as a person writes them.
"""

import pytest

from graph.kinds import discover
from graph.model import Curve
from graph.quantity import Quantity

KINDS = discover()
#: Ratings of which a tenth, or nothing at all, is as believable as the value itself; thin wire carries 3 A.
NEAR_NOTHING = {
    ("crankcase_vent", "crankcase pressure"),
    ("fuel_grade", "ethanol"),
    ("injectors", "dead time"),
    ("pump_wiring", "current"),
    ("valves", "air loss"),
}
#: Ratings of which ten times the value is believable: a fuel of 5 % ethanol or of 50 %.
WITHOUT_TOP = {("fuel_grade", "ethanol")}


@pytest.mark.parametrize("factor", [10.0, 0.1])
def test_a_slipped_decimal_is_caught(demo_book, factor) -> None:
    missed = []
    for part in demo_book.parts:
        for rating in part.ratings:
            spec = KINDS[part.kind].rating(rating.name)
            exempt = WITHOUT_TOP if factor > 1.0 else NEAR_NOTHING
            if (part.kind, rating.name) in exempt:
                continue
            values = rating.value.y if isinstance(rating.value, Curve) else (rating.value,)
            zero = 273.15 if spec.quantity is Quantity.TEMPERATURE else 0.0
            low, high = spec.plausible
            slipped = [zero + factor * (v - zero) for v in values]
            if any(values) and all(low <= s <= high for s in slipped):
                missed.append((part.id, rating.name))
    assert missed == []


def test_the_shop_s_own_ratings_are_plausible(demo_book) -> None:
    for part in demo_book.parts:
        for rating in part.ratings:
            low, high = KINDS[part.kind].rating(rating.name).plausible
            values = rating.value.y if isinstance(rating.value, Curve) else (rating.value,)
            assert all(low <= v <= high for v in values), (part.id, rating.name)
