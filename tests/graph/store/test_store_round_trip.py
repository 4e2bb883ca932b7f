"""Every record comes back as it was written, on both engines."""

from __future__ import annotations

import string
from collections.abc import Callable
from types import MappingProxyType

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from graph.model import (
    Belief,
    Car,
    Condition,
    Curve,
    Evidence,
    EvidenceKind,
    Installed,
    Interface,
    Meaning,
    Part,
    Platform,
    Rating,
    Relation,
    RelationKind,
    Slot,
)
from graph.store import Database

MILD = settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])

# A spreadsheet cell holds neither a NUL nor half of a surrogate pair; both engines refuse them.
text = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\x00"), max_size=30)
names = st.text(string.ascii_letters + string.digits + "-_ .äß", min_size=1, max_size=30)
numbers = st.floats(allow_nan=False, allow_infinity=False)
maybe = st.one_of(st.none(), numbers)
curves = st.lists(st.tuples(numbers, numbers), min_size=1, max_size=5).map(
    lambda points: Curve(x=tuple(p[0] for p in points), y=tuple(p[1] for p in points))
)


def records(of: Callable[..., object], **fields: st.SearchStrategy) -> st.SearchStrategy:
    return st.builds(of, **fields)


def several(items: st.SearchStrategy) -> st.SearchStrategy:
    return st.lists(items, max_size=3).map(tuple)


evidence = records(
    Evidence,
    kind=st.sampled_from(EvidenceKind),
    source=text,
    detail=text,
    date=st.one_of(st.none(), st.dates().map(lambda day: day.isoformat())),
    by=st.one_of(st.none(), text),
)
ratings = records(
    Rating,
    name=names,
    value=st.one_of(numbers, curves),
    evidence=evidence,
    spread=numbers,
    meaning=st.sampled_from(Meaning),
    conditions=several(records(Condition, name=names, value=st.one_of(numbers, text), assumed=st.booleans())),
    text=text,
)
relations = records(
    Relation,
    kind=st.sampled_from(RelationKind),
    part=st.one_of(st.none(), names),
    slot=st.one_of(st.none(), names),
    rating=st.one_of(st.none(), names),
    at_least=maybe,
    text=text,
)
parts = records(
    Part,
    id=names,
    kind=names,
    name=text,
    maker=text,
    fits=several(names),
    ratings=several(ratings),
    interfaces=several(records(Interface, port=text, type=text)),
    relations=several(relations),
    tasks=several(text),
    price=maybe,
    labour=maybe,
    lead_time=maybe,
    stock=st.one_of(st.none(), st.integers(0, 2**31 - 1)),
    factory=st.booleans(),
    note=text,
    source=text,
)
platforms = records(
    Platform,
    id=names,
    name=text,
    codes=several(names),
    constants=st.dictionaries(names, numbers, max_size=3).map(MappingProxyType),
    curves=st.dictionaries(names, curves, max_size=2).map(MappingProxyType),
    slots=several(
        records(
            Slot,
            name=names,
            kind=names,
            count=st.integers(1, 12),
            only_with=st.one_of(st.none(), names),
            factory_part=st.one_of(st.none(), names),
        )
    ),
    source=text,
)
cars = records(
    Car,
    id=names,
    platform=names,
    name=text,
    codes=several(names),
    distance=maybe,
    fuel=st.one_of(st.none(), names),
    installed=several(
        records(
            Installed,
            slot=names,
            part=st.one_of(st.none(), names),
            belief=st.sampled_from(Belief),
            claim=text,
            condition=text,
            source=text,
        )
    ),
    notes=several(text),
    source=text,
)


def a_load(unit) -> int:
    return unit.record_load(name="parts.xlsx", sha256="0" * 64, who="bench", tool_version="0.1.0")


@MILD
@given(part=parts)
def test_any_part_comes_back_equal(database: Database, part: Part) -> None:
    with database.write() as unit:
        unit.add_parts(a_load(unit), [part])
    with database.read() as view:
        assert {p.id: p for p in view.parts()}[part.id] == part


@MILD
@given(platform=platforms)
def test_any_platform_comes_back_equal(database: Database, platform: Platform) -> None:
    with database.write() as unit:
        unit.add_platforms(a_load(unit), [platform])
    with database.read() as view:
        assert {p.id: p for p in view.platforms()}[platform.id] == platform


@MILD
@given(car=cars)
def test_any_car_comes_back_equal(database: Database, car: Car) -> None:
    with database.write() as unit:
        unit.add_cars(a_load(unit), [car])
    with database.read() as view:
        assert {c.id: c for c in view.cars()}[car.id] == car


def test_missing_numbers_stay_missing(database: Database) -> None:
    # Not 0: a part without a price is not free, and one without labour is not fitted in no time.
    bare = Part(id="PY-1", kind="rods", name="rod set")
    with database.write() as unit:
        unit.add_parts(a_load(unit), [bare])
    with database.read() as view:
        (part,) = view.parts()
    assert (part.price, part.labour, part.lead_time, part.stock) == (None, None, None, None)
