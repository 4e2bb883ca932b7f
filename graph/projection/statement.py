"""Saying things in RDF: named nodes, amounts, curves, ordered lists, and where a fact stands."""

from __future__ import annotations

import re
from collections.abc import Iterable

from rdflib import Graph, Literal, URIRef
from rdflib.namespace import DCTERMS, PROV, RDF, RDFS, SDO, SKOS, SOSA, XSD
from rdflib.term import Node

from graph.model import Curve
from graph.projection.facts import Facts
from graph.projection.term import NS, QUANTITIES, QUDT, WORD, bind, exact, hashed, named, own_word
from graph.quantity import Quantity

#: Quantities of platform curves: name -> (over, of).
CURVES = {
    "volumetric efficiency": (Quantity.ROTATIONAL_SPEED, Quantity.RATIO),
    "lambda": (Quantity.ROTATIONAL_SPEED, Quantity.RATIO),
}


class Statements:
    """A graph that grows.

    Parameters
    ----------
    facts : Facts
        What is told.
    base : str
        Beginning of the IRIs of records.
    """

    def __init__(self, facts: Facts, base: str) -> None:
        self.facts = facts
        self.base = base
        self.graph = bind(Graph(), base)

    def say(self, subject: Node, *pairs: tuple[URIRef, Node | str | None]) -> None:
        """Add statements; an empty text and None say nothing."""
        for predicate, value in pairs:
            if value is not None and value != "":
                self.graph.add((subject, predicate, value if isinstance(value, Node) else Literal(value)))

    def reference(self, what: str, name: str) -> URIRef:
        """IRI of a record, with its name."""
        node = named(self.base, what, name)
        self.say(node, (SDO.sku if what == "part" else SDO.identifier, name))
        return node

    def codes(self, node: URIRef, predicate: URIRef, codes: Iterable[str]) -> None:
        """Codes, and their order where there are several."""
        found = [self.reference("code", code) for code in codes]
        for code in found:
            self.say(code, (RDF.type, SKOS.Concept))
            self.say(node, (predicate, code))
        if len(found) > 1:
            self.say(node, (NS.codes, self.listed(found)))

    def listed(self, items: Iterable[Node]) -> URIRef:
        """An ordered list whose cells have names, so that two equal lists are one."""
        cell = RDF.nil
        behind: list[str] = []
        for item in reversed(list(items)):
            behind.append(str(item))
            here = hashed(self.base, "list", "", behind)
            self.say(here, (RDF.first, item), (RDF.rest, cell))
            cell = here
        return cell

    def amount(self, node: URIRef, value: float, quantity: Quantity) -> None:
        """A number with its unit."""
        kind, units = QUANTITIES[quantity]
        self.say(
            node, (QUDT.hasQuantityKind, kind), (QUDT.hasUnit, units[0].iri), (QUDT.numericValue, exact(value))
        )  # fmt: skip

    def points(self, node: URIRef, name: str, curve: Curve, over: Quantity | None, quantity: Quantity) -> None:
        """A curve."""
        kind, units = QUANTITIES[quantity]
        self.say(node, (QUDT.hasQuantityKind, kind), (QUDT.hasUnit, units[0].iri))
        for i, (x, y) in enumerate(zip(curve.x, curve.y, strict=True)):
            point = hashed(self.base, "point", name, (str(node), i, x, y))
            self.say(point, (SDO.position, Literal(i)), (NS.at, exact(x)), (QUDT.numericValue, exact(y)))
            self.say(point, (QUDT.hasUnit, units[0].iri))
            if over is not None:
                self.say(point, (SOSA.observedProperty, QUANTITIES[over][0]))
            self.say(node, (NS.point, point))

    def derived(self, node: URIRef, source: str) -> None:
        """Where a fact stands: the cell in words, the row, the file, the load that brought it."""
        if not source:
            return
        self.say(node, (DCTERMS.bibliographicCitation, Literal(source)))
        place = re.sub(r", column '.*", "", source)
        origin = self.facts.origin(source)
        row = hashed(self.base, "row", place.partition(", ")[0], (place, None if origin is None else origin.sha256))
        self.say(node, (PROV.wasDerivedFrom, row))
        self.say(row, (RDF.type, PROV.Entity), (RDFS.label, Literal(place)))
        if origin is None:
            return
        file = named(self.base, "file", origin.sha256)
        load = hashed(self.base, "load", origin.name, (origin.sha256, origin.who, str(origin.at)))
        self.say(row, (PROV.hadPrimarySource, file), (PROV.wasGeneratedBy, load))
        self.say(file, (RDF.type, PROV.Entity), (SDO.name, origin.name), (SDO.sha256, Literal(origin.sha256)))
        self.say(load, (RDF.type, PROV.Activity), (PROV.used, file), (SDO.softwareVersion, origin.version))
        if origin.at is not None:
            self.say(load, (PROV.endedAtTime, Literal(origin.at)))
        if origin.who:
            person = named(self.base, "agent", origin.who)
            self.say(person, (RDF.type, PROV.Agent), (RDFS.label, Literal(origin.who)))
            self.say(load, (PROV.wasAssociatedWith, person))


def word(text: str) -> URIRef:
    """A word of a closed list, such as ``own bench``."""
    return WORD[own_word(text)]


def day(text: str | None) -> Literal | None:
    """A date, typed where it is a full one."""
    if text is None:
        return None
    return Literal(text, datatype=XSD.date) if re.fullmatch(r"\d{4}-\d\d-\d\d", text) else Literal(text)
