"""A graph as Turtle, one block for each subject, in a fixed order: the same graph is the same text.

References
----------
W3C, RDF 1.1 Turtle, Recommendation of 25 February 2014.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Callable

from rdflib import Graph, Literal, URIRef
from rdflib.namespace import RDF, XSD
from rdflib.term import Node

#: Local names that need no escape; the grammar allows more.
_LOCAL = re.compile(r"[A-Za-z_][\w-]*", re.ASCII)


def turtle(graph: Graph) -> str:
    """Write a graph.

    Parameters
    ----------
    graph : rdflib.Graph
        With its prefixes; blank nodes keep their labels.

    Returns
    -------
    str
        Turtle with the prefixes that are used.

    Examples
    --------
    >>> from rdflib import Graph, URIRef, Literal
    >>> from rdflib.namespace import RDFS
    >>> graph = Graph()
    >>> _ = graph.add((URIRef("urn:x"), RDFS.label, Literal("pump")))
    >>> print(turtle(graph))
    @prefix rdfs: <http://www.w3.org/2000/01/rdf-schema#> .
    <BLANKLINE>
    <urn:x> rdfs:label "pump" .
    <BLANKLINE>
    """
    prefixes = {str(space): prefix for prefix, space in graph.namespaces()}
    used: dict[str, str] = {}
    said: dict[str, list[tuple[bool, str, str]]] = defaultdict(list)
    term = _writer(prefixes, used)
    for subject, predicate, value in graph:
        verb = "a" if predicate == RDF.type else term(predicate)
        said[term(subject)].append((verb != "a", verb, term(value)))
    blocks = []
    for subject_text in sorted(said):
        lines = [f"{verb} {value}" for _, verb, value in sorted(said[subject_text])]
        blocks.append(f"{subject_text} " + " ;\n    ".join(lines) + " .\n")
    head = "".join(f"@prefix {prefix}: <{space}> .\n" for space, prefix in sorted(used.items(), key=lambda u: u[1]))
    return head + "\n" + "\n".join(blocks)


def _writer(prefixes: dict[str, str], used: dict[str, str]) -> Callable[[Node], str]:
    """A function that writes a term; it notes the prefixes that it uses."""
    known: dict[Node, str] = {}

    def name(iri: URIRef) -> str:
        for cut in (iri.rfind("#") + 1, iri.rfind("/") + 1, iri.rfind(":") + 1):
            space, local = iri[:cut], iri[cut:]
            if cut and space in prefixes and _LOCAL.fullmatch(local):
                used[space] = prefixes[space]
                return f"{prefixes[space]}:{local}"
        return iri.n3()

    def term(node: Node) -> str:
        text = known.get(node)
        if text is None:
            if isinstance(node, URIRef):
                text = name(node)
            elif isinstance(node, Literal) and node.datatype is not None and node.datatype != XSD.string:
                text = f"{Literal(str(node)).n3()}^^{name(node.datatype)}"
            else:
                text = node.n3()
            known[node] = text
        return text

    return term
