"""Options that are taken for one another say the same to neighbours, nominally and with each rating off.

The expected answers are sums and spreads written in the test.
"""

from dataclasses import replace

import pytest

from graph.kinds import discover
from graph.limit import Feed
from graph.model import Belief, Place, Setting
from graph.plan.mark import said
from graph.service import Request, aim
from graph.variation import Variation

KINDS = discover()


@pytest.fixture
def told(demo_book):
    """What a tank pump of two ratings says that offers, or tells, their sum."""
    (pump, *_) = (p for p in demo_book.parts if {r.name for r in p.ratings} >= {"flow", "current"})
    platform = demo_book.platforms[0]
    slot = next(s for s in platform.slots if s.kind == pump.kind)
    car = next(c for c in demo_book.cars if c.id == "car-a")
    target = aim(Request(power=2.4e5, fuel="ron98"), car, {p.id: p for p in demo_book.parts})
    setting = Setting(platform=platform, fuel=target.fuel, weather=target.weather, duration=target.duration)

    def opened(flow, current, spread=0.1, means="offers", number="P-1", price=10.0):
        values = {"flow": flow, "current": current}
        ratings = tuple(replace(r, value=values[r.name], spread=spread) for r in pump.ratings if r.name in values)
        part = replace(pump, id=number, price=price, ratings=ratings)
        total = Feed(parameter="total", value=lambda own, _: own.value("flow") + own.value("current"))
        kind = replace(KINDS[pump.kind], **{"offers": (), "links": (), means: (total,)})
        spreads = [
            Variation(slot=slot.name, rating=r.name, index=n, sigma=r.spread, changes_state=False)
            for n, r in enumerate(ratings)
        ]
        return said(Place(slot=slot, part=part, belief=Belief.SEEN), kind, setting, {}, None, spreads)

    return opened


@pytest.mark.parametrize("means", ["offers", "links"])
def test_number_and_price_are_not_heard(told, means):
    assert told(2.0, 3.0, means=means) == told(2.0, 3.0, means=means, number="P-2", price=99.0)


@pytest.mark.parametrize("means", ["offers", "links"])
def test_another_sum_is_heard(told, means):
    assert told(2.0, 3.0, means=means) != told(2.0, 3.5, means=means)


@pytest.mark.parametrize("means", ["offers", "links"])
def test_another_spread_is_heard(told, means):
    assert told(2.0, 3.0, means=means) != told(2.0, 3.0, 0.2, means=means)


@pytest.mark.parametrize("means", ["offers", "links"])
def test_same_sum_that_moves_otherwise_is_heard(told, means):
    """2 + 3 = 3 + 2, but a tenth more of the first number makes 5.2 of the one and 5.3 of the other."""
    assert told(2.0, 3.0, means=means) != told(3.0, 2.0, means=means)
