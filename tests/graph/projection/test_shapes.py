"""Shapes against the SHACL-SHACL of the W3C recommendation (as pyshacl ships it), and against the demo book."""

import pyshacl
import pytest
from rdflib import Graph, Literal, URIRef
from rdflib.namespace import RDFS, SDO, SH

from graph.kinds import discover
from graph.projection.shapes import shapes
from graph.projection.term import KIND, NS, QUDT, exact, named

PUMP = named("urn:pinchpoint:", "part", "PY-1110")


def validate(data: Graph, wanted: Graph, **options):
    conforms, report, _ = pyshacl.validate(data, shacl_graph=wanted, inference="none", **options)
    return conforms, report


@pytest.fixture(scope="module")
def wanted() -> Graph:
    return shapes()


def test_shapes_are_well_formed_by_the_recommendation() -> None:
    conforms, _ = validate(Graph(), shapes(), meta_shacl=True)
    assert conforms


def test_a_broken_shape_is_seen_by_the_same_means() -> None:
    few = shapes({"mounts": discover()["mounts"]})
    shape = next(few.subjects(SH.minCount))
    few.set((shape, SH.minCount, Literal("x")))
    with pytest.raises(pyshacl.errors.ReportableRuntimeError):
        validate(Graph(), few, meta_shacl=True)


def test_only_the_core_language_is_used(wanted) -> None:
    assert not list(wanted.subject_objects(SH.sparql))


def test_every_kind_and_rating_has_its_shape(wanted) -> None:
    ratings = sum(len(k.ratings) for k in discover().values())
    required = sum(any(s.required and s.default is None for s in k.ratings) for k in discover().values())
    targets = [str(t) for t in wanted.objects(None, SH.targetClass) if str(t).startswith(str(KIND))]
    assert len(targets) == ratings + required


def test_demo_book_conforms(graph_of_shop, wanted) -> None:
    conforms, report = validate(graph_of_shop, wanted)
    assert [str(m) for m in report.objects(None, SH.resultMessage)] == []
    assert conforms


def flow_of(graph: Graph) -> URIRef:
    return next(r for r in graph.objects(PUMP, NS.rating) if str(graph.value(r, RDFS.label)) == "flow")


@pytest.mark.parametrize(
    ("spoil", "message"),
    [
        (lambda g: g.remove((PUMP, NS.rating, flow_of(g))), "a tank pump states its flow"),
        (lambda g: g.set((flow_of(g), QUDT.numericValue, exact(240.0))), "flow at the stated pressure and voltage: "),
        (lambda g: g.remove((flow_of(g), QUDT.hasUnit, None)), "its unit is m3/s"),
        (lambda g: g.remove((flow_of(g), NS.knownBy, None)), "how a number is known is one of: own bench"),
        (lambda g: g.remove((flow_of(g), QUDT.numericValue, None)), "one number, or two points"),
        (lambda g: g.add((PUMP, SDO.name, Literal("another"))), "a part has one name"),
        (lambda g: g.remove((PUMP, NS.fits, None)), "a part fits at least one code"),
    ],
)
def test_a_broken_copy_does_not_conform_and_says_why(graph_of_shop, wanted, spoil, message) -> None:
    copy = Graph() + graph_of_shop
    spoil(copy)
    conforms, report = validate(copy, wanted)
    assert not conforms
    assert any(message in str(said) for said in report.objects(None, SH.resultMessage))
