"""Questions about one part, answered from a few look-ups: the same as from the whole book, for every part of it."""

from dataclasses import replace

import pytest

from graph.errors import UnknownName
from graph.kinds import discover
from graph.model import Evidence, EvidenceKind, Part, Rating, Relation, RelationKind
from graph.projection import question
from graph.projection.facts import gather
from graph.projection.nearby import ahead, behind, parts_for
from graph.projection.question import rated_by
from graph.store import open_database


def test_every_part_of_the_demo_shop(demo_database, facts) -> None:
    numbers = [p.id for p in facts.parts]
    with demo_database.read() as view:
        for number in numbers:
            assert question.pulls_along(ahead(view, number), number) == question.pulls_along(facts, number)
            near, whole = behind(view, number), facts
            assert set(question.breaks_if_withdrawn(near, number).rows) == set(
                question.breaks_if_withdrawn(whole, number).rows
            )
        for number in numbers[::7]:
            for other in numbers[::5]:
                near = question.why_needed(ahead(view, number, other), other, number)
                assert near == question.why_needed(facts, other, number)


@pytest.mark.parametrize("code", [None, "HM6", "marrit-20t"])
def test_every_kind_of_the_demo_shop(demo_database, facts, code) -> None:
    with demo_database.read() as view:
        for kind in discover().values():
            if not kind.ratings:
                continue
            spec = rated_by(kind)
            for amount in spec.plausible:
                near, left = parts_for(view, kind, spec, amount, code)
                assert left == 0
                assert question.fits_slot_and_carries(near, kind, amount, code=code) == question.fits_slot_and_carries(
                    facts, kind, amount, code=code
                )


def _part(
    number: str, *said: Relation, kind: str = "tank_pump", fits: tuple[str, ...] = ("C1",), amps: float = 0.0
) -> Part:
    evidence = Evidence(kind=EvidenceKind.OWN_BENCH, source="hand.csv, row 1")
    ratings = (Rating(name="current", value=amps, evidence=evidence),) if amps else ()
    return Part(id=number, kind=kind, name=number, fits=fits, relations=said, ratings=ratings, source="hand.csv, row 1")


def _requires(part: str) -> Relation:
    return Relation(kind=RelationKind.REQUIRES, part=part, text=part)


@pytest.fixture
def tangled(tmp_path):
    """Alternatives, a circle, a rating that a place must reach, parts without a code, a name that is in no book."""
    reach = Relation(kind=RelationKind.REQUIRES, slot="pump_controller", rating="current", at_least=16.0, text="16 A")
    parts = [
        _part("A1", _requires("B1 | B2")), _part("B1", _requires("A1")), _part("B2"),
        _part("A2", reach), _part("A3", reach, fits=()), _part("A4", _requires("Z9")),
        _part("K1", kind="pump_controller", amps=12.0), _part("K2", kind="pump_controller", amps=20.0),
        _part("K3", kind="pump_controller", amps=25.0, fits=()), _part("K4", kind="pump_controller", amps=30.0, fits=("C2",)),
        _part("A11", _requires("B11")), _part("B11", _requires("K2")),
        replace(_part("A5", Relation(kind=RelationKind.EXCLUDES, part="A1", text="not with A1")), price=1.0),
    ]  # fmt: skip
    database = open_database(f"sqlite:///{tmp_path}/tangled.sqlite")
    with database.write() as unit:
        load = unit.record_load(name="hand.csv", sha256="0" * 64, who="test", tool_version="0")
        unit.add_parts(load, parts)
    yield database
    database.engine.dispose()


def test_every_part_of_a_tangled_book(tangled) -> None:
    with tangled.read() as view:
        whole = gather(view)
        for number in [*(p.id for p in whole.parts), "Z9"]:
            assert question.pulls_along(ahead(view, number), number) == question.pulls_along(whole, number)
            assert set(question.breaks_if_withdrawn(behind(view, number), number).rows) == set(
                question.breaks_if_withdrawn(whole, number).rows
            )


@pytest.mark.parametrize("look", [ahead, behind])
def test_an_unknown_part_is_refused_with_the_known_ones(tangled, look) -> None:
    with tangled.read() as view, pytest.raises(UnknownName, match="B11"):
        look(view, "B12")


def test_an_unknown_code_is_refused(tangled) -> None:
    kind = discover()["tank_pump"]
    with tangled.read() as view, pytest.raises(UnknownName, match="code"):
        parts_for(view, kind, rated_by(kind), 0.0, "nowhere")
