"""The text of which a part's hash is made is plain canonical JSON, whatever the part says."""

from __future__ import annotations

import hashlib
import json
from dataclasses import fields, is_dataclass
from enum import Enum
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from graph.model import (
    Condition,
    Curve,
    Evidence,
    EvidenceKind,
    Interface,
    Meaning,
    Part,
    Rating,
    Relation,
    RelationKind,
)
from graph.store.content import Canon, part_content

WORDS = st.text(alphabet=st.characters(codec="utf-8"), max_size=8) | st.sampled_from(
    ["", 'a "b"', "ü\n", "\u2028", "4 %", "%s"]
)
NUMBERS = st.floats(allow_nan=False, allow_infinity=False) | st.sampled_from([0.0, -0.0, 1.0, 1, True])
MAYBE = st.none() | NUMBERS
CURVES = st.builds(lambda x, y: Curve(x=(x, x + 1.0), y=(y, y)), NUMBERS, NUMBERS)
CONDITIONS = st.builds(Condition, name=WORDS, value=NUMBERS | WORDS, assumed=st.booleans())
EVIDENCE = st.builds(
    Evidence,
    kind=st.sampled_from(EvidenceKind),
    source=WORDS,
    detail=WORDS,
    date=st.none() | WORDS,
    by=st.none() | WORDS,
)
RATINGS = st.builds(
    Rating,
    name=WORDS,
    value=NUMBERS | CURVES,
    evidence=EVIDENCE,
    spread=NUMBERS,
    meaning=st.sampled_from(Meaning),
    conditions=st.lists(CONDITIONS, max_size=2).map(tuple),
    text=WORDS,
)
RELATIONS = st.builds(
    Relation, kind=st.sampled_from(RelationKind), part=st.none() | WORDS, slot=st.none() | WORDS, at_least=MAYBE, text=WORDS
)  # fmt: skip
PARTS = st.builds(
    Part,
    id=WORDS,
    kind=WORDS,
    name=WORDS,
    maker=WORDS,
    fits=st.lists(WORDS, max_size=2).map(tuple),
    ratings=st.lists(RATINGS, max_size=2).map(tuple),
    interfaces=st.lists(st.builds(Interface, port=WORDS, type=WORDS), max_size=2).map(tuple),
    relations=st.lists(RELATIONS, max_size=2).map(tuple),
    tasks=st.lists(WORDS, max_size=2).map(tuple),
    price=MAYBE,
    labour=MAYBE,
    lead_time=MAYBE,
    stock=st.none() | st.integers(0, 9),
    factory=st.booleans(),
    note=WORDS,
    source=WORDS,
)
OTHER = {"id": "part_id"}


def plain(record: Any) -> Any:
    """A record as dictionaries and lists, field by field."""
    if isinstance(record, Enum):
        return record.value
    if is_dataclass(record):
        return {OTHER.get(f.name, f.name): plain(getattr(record, f.name)) for f in fields(record)}
    return [plain(item) for item in record] if isinstance(record, tuple) else record


def said(part: Part) -> dict[str, Any]:
    """What a part says, in the layout of the hash."""
    own = plain(part)
    groups = {name: own.pop(name) for name in ("fits", "interfaces", "relations")}
    ratings = []
    for rating in own.pop("ratings"):
        evidence = rating.pop("evidence")
        curved = isinstance(rating["value"], dict)
        rating["curve"] = rating["value"] if curved else None
        rating["value"] = None if curved else rating["value"]
        ratings.append(rating | {f"evidence_{name}": value for name, value in evidence.items()})
    return {"part": own, "ratings": ratings, **groups}


@settings(max_examples=300, deadline=None)
@given(PARTS)
def test_the_text_is_canonical_json(part: Part) -> None:
    text = Canon().part(part)
    assert text == json.dumps(said(part), sort_keys=True)  # the standard library writes it
    assert part_content(part) == hashlib.sha256(text.encode()).hexdigest()


@settings(max_examples=50, deadline=None)
@given(st.lists(PARTS, max_size=5))
def test_one_run_over_a_book_says_the_same_as_each_part_alone(parts: list[Part]) -> None:
    canon = Canon()
    assert [part_content(p, canon) for p in parts] == [part_content(p) for p in parts]


@settings(max_examples=100, deadline=None)
@given(st.dictionaries(WORDS, WORDS, max_size=5))
def test_cells_come_back_as_they_were(cells: dict[str, str]) -> None:
    assert json.loads(Canon().cells(cells)) == cells


@pytest.mark.parametrize("value", [float("nan"), float("inf"), -float("inf")])
def test_what_is_no_number_is_refused(value: float) -> None:
    evidence = Evidence(kind=EvidenceKind.ESTIMATE, source="hand")
    with pytest.raises(ValueError, match="JSON compliant"):
        Canon().rating(Rating(name="flow", value=value, evidence=evidence))
