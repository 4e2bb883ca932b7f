"""What is exported means the same in another RDF store: Oxigraph answers each query with the rows that we answer."""

import pyoxigraph
import pytest
from rdflib import Literal, URIRef

from graph.projection.sparql import query
from graph.projection.term import PREFIXES
from ingest.exchange import write_book

QUERIES = {
    "parts and kinds": "SELECT ?number ?name WHERE { ?p a schema:ProductModel ; schema:sku ?number ; schema:name ?name }",
    "cascade": "SELECT ?a ?b WHERE { ?p schema:sku ?a . ?p pp:requires+ ?q . ?q schema:sku ?b }",
    "evidence by row": "SELECT ?label ?cited WHERE { ?r a pp:Rating ; rdfs:label ?label ; dcterms:bibliographicCitation ?cited }",
    "count": "SELECT (COUNT(?r) AS ?n) WHERE { ?r a pp:Rating }",
    "optional and filter": "SELECT ?n ?price WHERE { ?p a schema:ProductModel ; schema:sku ?n OPTIONAL { ?p schema:offers/schema:price ?price } FILTER(STRSTARTS(?n, 'PY-11')) }",
    "not exists": "SELECT ?n WHERE { ?p a schema:ProductModel ; schema:sku ?n FILTER NOT EXISTS { ?p pp:rating ?r } }",
}  # fmt: skip


@pytest.fixture(scope="module", params=["ttl", "jsonld"])
def other(request, facts, tmp_path_factory):
    path = tmp_path_factory.mktemp("oxigraph") / f"book.{request.param}"
    write_book(facts, request.param, path)
    form = pyoxigraph.RdfFormat.TURTLE if request.param == "ttl" else pyoxigraph.RdfFormat.JSON_LD
    store = pyoxigraph.Store()
    store.load(path.read_bytes(), format=form)
    return store


@pytest.mark.parametrize("name", QUERIES)
def test_the_same_rows(name: str, other, graph_of_shop) -> None:
    prefixes = "".join(f"PREFIX {p}: <{iri}>\n" for p, iri in PREFIXES.items())
    found = other.query(prefixes + QUERIES[name])
    theirs = sorted([None if term is None else term.value for term in row] for row in found)
    ours = sorted([None if c is None else str(c) for c in row] for row in query(graph_of_shop, QUERIES[name]).rows)
    assert len(ours) > 0
    assert [[_plain(c) for c in row] for row in ours] == [[_plain(c) for c in row] for row in theirs]


def _plain(cell: str | None) -> str | float | None:
    """A number as a number: one store writes 215, the other 215.0."""
    try:
        return cell if cell is None else float(cell)
    except ValueError:
        return cell


def test_the_same_statements(other, graph_of_shop) -> None:
    ours = {(str(s), str(p), str(o)) for s, p, o in graph_of_shop if isinstance(o, URIRef | Literal)}
    theirs = {
        (q.subject.value, q.predicate.value, q.object.value)
        for q in other
        if not isinstance(q.object, pyoxigraph.BlankNode)
    }
    assert {t for t in ours if "http" in t[2]} == {t for t in theirs if "http" in t[2]}
    assert len(ours) == len(theirs)
