"""Two parts of one slot that each read what they offer themselves: each is judged by its own offer, not the other's.

A port kit takes a share of the fuel and must pass it. The full check of every build is the source of the expected cost.
"""

import itertools
from dataclasses import replace

import pytest

from graph.check import check
from graph.kinds import discover
from graph.plan.choice import gather
from graph.plan.labour import Tariff
from graph.plan.physics import Physics
from graph.plan.search import Search
from graph.plan.wish import MarginPolicy, ShopTerms, Wishes
from graph.service import Request, aim, assemble

KINDS = discover()
#: Parts of the book besides the two port kits.
OFFERED = ("PY-2110", "PY-2120", "PY-2113", "PY-3110", "PY-3112", "PY-1122")
POWER = 2.7e5


def kit(part, number, price, share):
    """The book's port kit with another share of the fuel [1] and a small flow [m3/s]."""
    told = {"fuel share": share, "flow": 8.0e-6}
    ratings = tuple(replace(r, value=told[r.name]) for r in part.ratings)
    return replace(part, id=number, name=number, price=price, ratings=ratings, relations=(), interfaces=())


@pytest.mark.parametrize("there", [None, "K-1"])
def test_port_kit_is_judged_by_its_own_share(there, demo_book):
    catalogue = {p.id: p for p in demo_book.parts}
    (port,) = (p for p in demo_book.parts if p.kind == "port_injection")
    kits = {number: kit(port, number, *what) for number, what in {"K-1": (100.0, 0.5), "K-2": (300.0, 0.2)}.items()}
    car = next(c for c in demo_book.cars if c.id == "car-a")
    build = assemble(car, demo_book.platforms[0], catalogue, (), "ron98")
    if there is not None:
        fitted = (replace(p, part=kits[there]) if p.slot.kind == port.kind else p for p in build.places)
        build = replace(build, places=tuple(fitted))
    target = aim(Request(power=POWER, boost=2.2e5, fuel="ron98"), car, catalogue)
    offered = [*(catalogue[n] for n in OFFERED), *kits.values()]
    choices = gather(build, offered, target.fuel, (), Wishes(calibrate=False), power=POWER, fuel_fixed=True)
    policy = MarginPolicy(harm=1.0, cost=1.0, holds=0.0)
    physics, tariff = Physics(choices, target, KINDS, policy, samples=8), Tariff(ShopTerms(), ())
    good = [
        s
        for s in itertools.product(*choices.all())
        if choices.sound(s) and check(physics.built(s), target, KINDS, samples=0).carries >= POWER
    ]
    assert good
    assert all("K-2" in {p.id for p in choices.bought(s)} for s in good)
    found = Search(choices, physics, tariff).run()
    assert found.net == pytest.approx(min(tariff.cost(choices.bought(s)).net for s in good))
