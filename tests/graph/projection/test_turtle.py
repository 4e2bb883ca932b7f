"""Our Turtle against rdflib's parser and Oxigraph's: every statement comes back, no digit and no letter changed."""

import pyoxigraph
import pytest
from rdflib import RDF, XSD, BNode, Graph, Literal, URIRef
from rdflib.compare import isomorphic

from graph.projection.term import NS, bind
from graph.projection.turtle import turtle

ODD = ('"', "\\", "a\nb", "a\r\tb", "'''", '"""', "Ω漢𝄞", "\u00a0", "x.", "", "\u007f", "{}<>^`|", "@en", "\x01")


def test_the_demo_book_comes_back(graph_of_shop) -> None:
    again = Graph().parse(data=turtle(graph_of_shop), format="turtle")
    assert set(again) == set(graph_of_shop)
    store = pyoxigraph.Store()
    store.load(turtle(graph_of_shop).encode(), format=pyoxigraph.RdfFormat.TURTLE)
    assert len(store) == len(graph_of_shop)


@pytest.mark.parametrize("text", ODD)
def test_texts_and_names_of_any_kind(text: str) -> None:
    graph = bind(Graph())
    node = URIRef("urn:x:part:PY-1/2.3%20")
    for value in (Literal(text), Literal(text, lang="de"), Literal(text, datatype=NS.odd)):
        graph.add((node, NS.says, value))
    graph.add((node, RDF.type, NS["9lives"]))
    graph.add((node, NS["a.b"], URIRef("urn:ends.")))
    again = Graph().parse(data=turtle(graph), format="turtle")
    assert set(again) == set(graph)


@pytest.mark.parametrize(
    "value",
    [
        Literal("0.1", datatype=XSD.decimal), Literal("1e-7", datatype=XSD.double), Literal("007", datatype=XSD.integer),
        Literal("true", datatype=XSD.boolean), Literal("2026-01-15", datatype=XSD.date), Literal("a", datatype=XSD.string),
    ],
)  # fmt: skip
def test_typed_values(value: Literal) -> None:
    graph = Graph()
    graph.add((URIRef("urn:x"), NS.says, value))
    ((_, _, found),) = Graph().parse(data=turtle(graph), format="turtle")
    assert (str(found), found.datatype or XSD.string) == (str(value), value.datatype)


def test_nodes_without_a_name() -> None:
    graph = Graph()
    one, other = BNode(), BNode()
    graph.add((one, NS.says, other))
    graph.add((other, NS.says, Literal(1)))
    assert isomorphic(Graph().parse(data=turtle(graph), format="turtle"), graph)


def test_the_same_graph_is_the_same_text(graph_of_shop) -> None:
    other = bind(Graph())
    for triple in sorted(graph_of_shop, reverse=True):
        other.add(triple)
    assert turtle(other) == turtle(graph_of_shop)
