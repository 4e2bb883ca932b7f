"""The program's own vocabulary as RDF: part kinds, ratings, limits, words of closed lists, the terms of the view."""

from __future__ import annotations

from collections.abc import Mapping

from rdflib import Graph, Literal, URIRef
from rdflib.namespace import DCTERMS, RDF, RDFS, SKOS, SOSA

from graph.kinds import discover
from graph.limit import Axis, Kind, LimitKind
from graph.model import Belief, EvidenceKind, Meaning, RelationKind
from graph.projection.network import SHAFTS
from graph.projection.term import KIND, NS, QUANTITIES, QUDT, TERMS, WORD, own_word

LISTS = {
    "evidence": EvidenceKind,
    "meaning": Meaning,
    "belief": Belief,
    "relation": RelationKind,
    "limit-kind": LimitKind,
    "axis": Axis,
}

#: Our own terms that are neither classes nor properties.
UNUSUAL = {"FlowParameter": QUDT.QuantityKind, "kilogramRootKelvinPerSecondPascal": QUDT.Unit}


def rating_term(kind: str, rating: str) -> URIRef:
    """IRI of a rating of a part kind."""
    return KIND[f"{kind}.{own_word(rating)}"]


def limit_term(kind: str, rule: str) -> URIRef:
    """IRI of a limit of a part kind."""
    return KIND[f"{kind}.limit.{own_word(rule)}"]


def describe_kinds(graph: Graph, kinds: Mapping[str, Kind] | None = None) -> None:
    """Add the vocabulary to a graph.

    Parameters
    ----------
    graph : rdflib.Graph
        Is added to.
    kinds : mapping of str to Kind or None
        Part kinds by name; None for the program's own.
    """
    for term, meaning in TERMS.items():
        usual = RDFS.Class if term[0].isupper() else RDF.Property
        graph.add((NS[term], RDF.type, UNUSUAL.get(term, usual)))
        graph.add((NS[term], RDFS.comment, Literal(meaning, lang="en")))
    for name, members in LISTS.items():
        scheme = WORD[f"list.{name}"]
        graph.add((scheme, RDF.type, SKOS.ConceptScheme))
        for member in members:
            _concept(graph, WORD[own_word(str(member.value))], str(member.value), scheme)
    kinds = discover() if kinds is None else kinds
    scheme = KIND["scheme"]
    graph.add((scheme, RDF.type, SKOS.ConceptScheme))
    for kind in kinds.values():
        _add_kind(graph, kind, scheme)
    for driver, driven in SHAFTS:
        if driver in kinds and driven in kinds:
            graph.add((KIND[driver], NS.drives, KIND[driven]))


def _concept(graph: Graph, node: URIRef, label: str, scheme: URIRef) -> None:
    graph.add((node, RDF.type, SKOS.Concept))
    graph.add((node, SKOS.inScheme, scheme))
    if (node, SKOS.prefLabel, None) not in graph:
        graph.add((node, SKOS.prefLabel, Literal(label, lang="en")))


def _add_kind(graph: Graph, kind: Kind, scheme: URIRef) -> None:
    node, area = KIND[kind.name], KIND[f"area.{own_word(kind.area)}"]
    _concept(graph, area, kind.area, scheme)
    _concept(graph, node, kind.label, scheme)
    graph.add((node, RDF.type, RDFS.Class))
    graph.add((node, SKOS.broader, area))
    graph.add((node, SKOS.definition, Literal(kind.does, lang="en")))
    for synonym in kind.synonyms:
        graph.add((node, SKOS.altLabel, Literal(synonym)))
    if kind.no_limit is not None:
        graph.add((node, SKOS.scopeNote, Literal(kind.no_limit, lang="en")))
    for spec in kind.ratings:
        term = rating_term(kind.name, spec.name)
        graph.add((term, RDF.type, RDFS.Class))
        graph.add((term, RDF.type, SOSA.ObservableProperty))
        graph.add((term, RDFS.subClassOf, NS.Rating))
        graph.add((term, RDFS.label, Literal(spec.name, lang="en")))
        graph.add((term, SKOS.definition, Literal(spec.label, lang="en")))
        graph.add((term, QUDT.hasQuantityKind, QUANTITIES[spec.quantity][0]))
    for rule in kind.limits:
        limit = limit_term(kind.name, rule.name)
        graph.add((node, NS.limitedBy, limit))
        graph.add((limit, RDF.type, NS.Limit))
        graph.add((limit, RDFS.label, Literal(rule.name, lang="en")))
        graph.add((limit, SKOS.definition, Literal(rule.why, lang="en")))
        graph.add((limit, NS.consequence, Literal(rule.consequence, lang="en")))
        graph.add((limit, DCTERMS.source, Literal(rule.source)))
        graph.add((limit, NS.onAxis, WORD[own_word(rule.axis.value)]))
        graph.add((limit, NS.limitKind, WORD[own_word(rule.kind.value)]))
        if any(s.name == rule.rating for s in kind.ratings):
            graph.add((limit, NS.states, rating_term(kind.name, rule.rating)))
        for parameter in rule.needs:
            graph.add((limit, NS.needs, WORD[f"input.{own_word(parameter)}"]))
    for feed in (*kind.feeds, *kind.offers):
        graph.add((node, NS.feeds, WORD[f"input.{own_word(feed.parameter)}"]))
