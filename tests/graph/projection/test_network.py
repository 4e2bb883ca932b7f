"""The typed network and its walks. Expected relations are those that stand in the demo shop's sheets."""

from dataclasses import replace

import pytest

from graph.errors import UnknownName
from graph.model import Evidence, EvidenceKind, Part, Rating, Relation, RelationKind
from graph.projection import Facts, build_network
from graph.projection.network import Edge, Node, Place, edges, heads, part_node
from graph.projection.walk import breaks_if_withdrawn, cascade, cycles, orphans, why_needed

EVIDENCE = Evidence(kind=EvidenceKind.ESTIMATE, source="x.csv, row 2, column 'Rating' (F)")


def part(number, *relations, kind="mounts", **fields):
    return Part(id=number, kind=kind, name=number, fits=("X",), relations=relations, source=f"{number} row", **fields)


def states(kind, number):
    return Relation(kind=kind, part=number, text=f"{kind.value} {number}")


def needs(number):
    return states(RelationKind.REQUIRES, number)


def reach(amperes):
    return Relation(
        kind=RelationKind.REQUIRES, slot="pump_controller", rating="current", at_least=amperes, text=f">= {amperes:g} A"
    )


def controller(number, amperes, price, **fields):
    rating = Rating(name="current", value=amperes, evidence=EVIDENCE)
    return part(number, kind="pump_controller", ratings=(rating,), price=price, **fields)


def net(*parts):
    return build_network(Facts(parts=parts))


def test_pump_pulls_controller_wiring_and_plate(network) -> None:
    # fuel sheet, row 18: controller >= 16 A and PY-1113; only PY-1112 (25 A) reaches it; row 22: it requires PY-1119
    assert [s.needs for s in cascade(network, "PY-1110")] == ["PY-1112", "PY-1113", "PY-1119"]


def test_every_step_of_a_cascade_names_its_row(network) -> None:
    for step in cascade(network, "PY-1110"):
        assert "parts-fuel.ods, sheet 'Fuel', row" in step.source


def test_a_part_without_requirements_pulls_nothing(network) -> None:
    assert cascade(network, "PY-1113") == ()


def test_why_the_plate_is_needed(network) -> None:
    chain = why_needed(network, "PY-1119", "PY-1110")
    assert [(s.part, s.needs) for s in chain] == [("PY-1110", "PY-1112"), ("PY-1112", "PY-1119")]
    assert chain[0].text == "pump controller current >= 16 A"


def test_nothing_needs_the_part_and_a_part_does_not_need_itself(network) -> None:
    assert why_needed(network, "PY-1110", "PY-1119") == ()
    assert why_needed(network, "PY-1110", "PY-1110") == ()


@pytest.mark.parametrize("walk", [cascade, breaks_if_withdrawn])
def test_unknown_part_is_refused_with_the_known_ones(network, walk) -> None:
    with pytest.raises(UnknownName, match=r"no part is called 'PY-9'; known: .*PY-1010, .* and \d+ more"):
        walk(network, "PY-9")


def test_cheapest_part_that_reaches_the_rating_comes_along_and_the_others_are_named() -> None:
    network = net(
        part("P", reach(16.0)), controller("C1", 20.0, 90.0), controller("C2", 30.0, 50.0), controller("C3", 10.0, 5.0)
    )
    (step,) = cascade(network, "P")
    assert (step.needs, step.instead) == ("C2", ("C1",))


def test_requirement_that_the_factory_part_meets_pulls_nothing() -> None:
    network = net(part("P", reach(8.0)), controller("C1", 20.0, 90.0), controller("F", 12.0, 0.0, factory=True))
    assert cascade(network, "P") == ()
    assert orphans(network)[0].what == "fits nothing"  # no platform here; the requirement itself is met


def test_two_requirements_on_one_part_keep_both_reasons() -> None:
    network = net(part("P", reach(16.0), needs("C1")), controller("C1", 20.0, 9.0), controller("C2", 20.0, 90.0))
    (step,) = cascade(network, "P")
    assert step.text == ">= 16 A; requires C1"
    assert step.instead == ()


def test_circle_of_requirements_is_named_as_one_set() -> None:
    network = net(part("A", needs("B")), part("B", needs("C")), part("C", needs("A")), part("D", needs("A")))
    (circle,) = cycles(network)
    assert circle.parts == ("A", "B", "C")
    assert circle.sentence == "A requires B requires C requires A: they come together as one set"


def test_a_walk_ends_in_a_circle() -> None:
    network = net(part("A", needs("B")), part("B", needs("A")))
    assert [s.needs for s in cascade(network, "A")] == ["B"]


def test_circle_of_supersessions_is_a_defect() -> None:
    old = RelationKind.SUPERSEDES
    (circle,) = cycles(net(part("A", states(old, "B")), part("B", states(old, "A"))))
    assert circle.kind is Edge.SUPERSEDES
    assert "correct one" in circle.sentence


def test_demo_circles_are_the_turbochargers_and_the_forged_set(network) -> None:
    # sheets: PY-2113 <-> PY-3110, PY-2114 <-> PY-3111, PY-4112 <-> PY-4112R require each other
    assert [c.parts for c in cycles(network)] == [
        ("PY-2113", "PY-3110"),
        ("PY-2114", "PY-3111"),
        ("PY-4112", "PY-4112R"),
    ]


def test_demo_book_has_no_orphans(network) -> None:
    assert orphans(network) == ()


def test_orphans_are_named_with_what_names_them(facts) -> None:
    lost = [part("A", needs("GONE")), replace(part("B"), fits=()), part("C", reach(900.0))]
    found = {f.name: f for f in orphans(build_network(replace(facts, parts=(*facts.parts, *lost))))}
    assert found["GONE"].what == "not in the book"
    assert found["GONE"].why == "A requires it"
    assert found["GONE"].source == "A row"
    assert found["B"].why == "no code is stated"
    assert found["C"].why.startswith("requires >= 900 A")


def test_withdrawing_the_controller_breaks_both_pumps_and_leaves_the_factory_one(network) -> None:
    # PY-1112 is the only controller of the book above the factory's 12 A; both pumps ask for 16 and 21 A
    found = breaks_if_withdrawn(network, "PY-1112")
    assert {f.name for f in found if f.what == "part"} == {"PY-1110", "PY-1111"}
    (place,) = [f for f in found if f.what == "place"]
    assert place.why == "only PY-1011 would be left"


def test_withdrawing_breaks_along_the_chain_and_on_cars(network) -> None:
    # PY-3110 requires PY-3112 and is required by PY-2113; car C has PY-3112 fitted
    found = breaks_if_withdrawn(network, "PY-3112")
    assert {"PY-3110", "PY-3111", "PY-2113", "PY-2114"} == {f.name for f in found if f.what == "part"}
    assert [f.name for f in found if f.what == "car"] == ["car-c"]


def test_an_alternative_keeps_the_part_standing() -> None:
    either = Relation(kind=RelationKind.REQUIRES, part="B | C", text="B | C")
    network = net(part("A", either), part("B"), part("C"))
    assert [f.name for f in breaks_if_withdrawn(network, "B") if f.what == "part"] == []


@pytest.mark.parametrize(
    ("kind", "edge"),
    [
        (RelationKind.EXCLUDES, Edge.EXCLUDES),
        (RelationKind.SUPERSEDES, Edge.SUPERSEDES),
        (RelationKind.ADAPTS, Edge.ADAPTS),
        (RelationKind.MEMBER, Edge.MEMBER),
        (RelationKind.REQUIRES, Edge.REQUIRES),
    ],
)
def test_every_statement_becomes_an_edge_with_its_words(kind, edge) -> None:
    network = net(part("A", states(kind, "B")), part("B"))
    assert network.edges[part_node("A"), part_node("B"), edge]["text"] == f"{kind.value} B"


def test_kinds_feed_inputs_and_the_turbine_drives_the_compressor(network) -> None:
    pump, current = Node(Place.KIND, "tank_pump"), Node(Place.PARAMETER, "pump current")
    assert current in heads(network, pump, Edge.FEEDS)
    wiring = heads(network, Node(Place.KIND, "pump_wiring"), Edge.LIMITED_BY)
    assert any(current in heads(network, limit, Edge.NEEDS) for limit in wiring)
    assert [(t.name, h.name) for t, h, _ in edges(network, Edge.DRIVES)] == [("turbine", "compressor")]


def test_a_code_of_two_platforms_fills_places_on_both(facts) -> None:
    twin = replace(facts.platforms[0], id="twin")
    network = build_network(replace(facts, platforms=(*facts.platforms, twin)))
    places = {n.name for n in heads(network, part_node("PY-5110"), Edge.FILLS)}
    assert places == {"marrit-20t: clutch", "twin: clutch"}


def test_parts_fill_the_places_of_the_platforms_that_they_fit(network) -> None:
    slot = Node(Place.SLOT, "marrit-20t: clutch")
    fills = {t.name for t, h, _ in edges(network, Edge.FILLS) if h == slot}
    assert fills == {"PY-5010", "PY-5110"}  # drive sheet: the two parts for the slot "clutch", which fit HM6
