"""Bonds between parts, worked out by hand on four parts in two slots."""

import pytest

from graph.model import (
    Belief,
    Build,
    Evidence,
    EvidenceKind,
    Part,
    Place,
    Platform,
    Rating,
    Relation,
    RelationKind,
    Slot,
)
from graph.plan.bond import bonds

BOOK = Evidence(kind=EvidenceKind.ESTIMATE, source="by hand")
SLOTS = (Slot(name="pump", kind="tank_pump"), Slot(name="line", kind="fuel_line"))
PLATFORM = Platform(id="p", name="p", codes=("p",), constants={}, curves={}, slots=SLOTS)
BUILD = Build(
    car="c", platform=PLATFORM, places=tuple(Place(slot=s, part=None, belief=Belief.SEEN) for s in SLOTS), codes=("p",)
)


def part(number, kind, *relations, flow=None):
    ratings = () if flow is None else (Rating(name="flow", value=flow, evidence=BOOK),)
    return Part(id=number, kind=kind, name=number, fits=("p",), ratings=ratings, relations=relations)


def requires(**more):
    return Relation(kind=RelationKind.REQUIRES, **more)


def shelf(*relations):
    """Two pumps and three lines; the relations belong to the first pump."""
    return {
        (0, 0): part("P-0", "tank_pump", *relations),
        (0, 1): part("P-1", "tank_pump"),
        (1, 0): part("L-0", "fuel_line", flow=1.0),
        (1, 1): part("L-1", "fuel_line", flow=2.0),
        (1, 2): part("L-2", "fuel_line"),
    }


@pytest.mark.parametrize(
    ("least", "by"), [(0.5, {(1, 0), (1, 1)}), (1.0, {(1, 0), (1, 1)}), (1.5, {(1, 1)}), (9.0, set())]
)
def test_a_rating_that_is_required_is_met_by_every_part_that_reaches_it(least, by):
    needs, _ = bonds(BUILD, shelf(requires(slot="fuel_line", rating="flow", at_least=least)))
    ((need,),) = needs.values()
    assert need.of == (0, 0)
    assert need.by == by


@pytest.mark.parametrize(
    "stated", [{}, {"slot": "fuel_line"}, {"slot": "fuel_line", "rating": "flow"}, {"rating": "flow", "at_least": 1.0}]
)
def test_a_requirement_that_states_nothing_binds_nothing(stated):
    assert bonds(BUILD, shelf(requires(**stated)))[0] == {}


def test_any_of_the_alternatives_meets_a_requirement():
    needs, _ = bonds(BUILD, shelf(requires(part="L-0 | L-2")))
    assert needs[(0, 0)][0].by == {(1, 0), (1, 2)}


def test_an_exclusion_holds_between_slots_and_never_within_one():
    """Two parts of one slot never meet, whatever they say of each other."""
    excluded = (Relation(kind=RelationKind.EXCLUDES, part=number) for number in ("L-0", "L-1", "P-1"))
    _, clashes = bonds(BUILD, shelf(*excluded))
    assert set(clashes) == {(0, 0), (1, 0), (1, 1)}
    assert {c.pair for c in clashes[(0, 0)]} == {((0, 0), (1, 0)), ((0, 0), (1, 1))}
