"""SHACL shapes of the RDF view, generated from the part kinds: what a book must say to be usable.

Only constraints of the core language are used, so that any SHACL processor takes them and a large book is checked in
seconds.

References
----------
W3C, Shapes Constraint Language (SHACL), Recommendation of 20 July 2017.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from rdflib import Graph, Literal, URIRef
from rdflib.collection import Collection
from rdflib.namespace import DCTERMS, PROV, RDF, RDFS, SDO, SH, XSD
from rdflib.term import BNode, Node

from graph.kinds import discover
from graph.limit import Kind, RatingSpec
from graph.model import Belief, EvidenceKind, Meaning, RelationKind
from graph.projection.glossary import rating_term
from graph.projection.statement import word
from graph.projection.term import KIND, NS, QUANTITIES, QUDT, bind, exact, own_word

SHAPE = "https://w3id.org/pinchpoint/shape#"


def shapes(kinds: Mapping[str, Kind] | None = None) -> Graph:
    """Shapes of parts, ratings, statements, platforms and cars.

    Parameters
    ----------
    kinds : mapping of str to Kind or None
        Part kinds by name; None for the program's own.

    Returns
    -------
    rdflib.Graph
        SHACL core, each constraint with a message that says what is wanted.
    """
    made = _Shapes()
    for kind in (discover() if kinds is None else kinds).values():
        made.part(kind)
        for spec in kind.ratings:
            made.rating(kind, spec)
    made.every_part()
    made.every_rating()
    made.condition()
    made.relation()
    made.platform()
    made.car()
    return made.graph


class _Shapes:
    def __init__(self) -> None:
        self.graph = bind(Graph())
        self.graph.bind("sh", SH)
        self.graph.bind("shape", SHAPE)

    def node(self, name: str, target: URIRef) -> URIRef:
        """A shape of everything of a class."""
        shape = URIRef(SHAPE + name)
        self.graph.add((shape, RDF.type, SH.NodeShape))
        self.graph.add((shape, SH.targetClass, target))
        return shape

    def rule(self, shape: Node, path: Node | Iterable[Node], message: str, **constraints: Node | int) -> BNode:
        """One constraint on the values at a path."""
        rule = BNode()
        self.graph.add((shape, SH.property, rule))
        self.graph.add((rule, SH.path, path if isinstance(path, Node) else self.listed(path)))
        self.graph.add((rule, SH.message, Literal(message, lang="en")))
        for name, value in constraints.items():
            self.graph.add((rule, SH[name], value if isinstance(value, Node) else Literal(value)))
        return rule

    def listed(self, items: Iterable[Node]) -> BNode:
        head = BNode()
        Collection(self.graph, head, list(items))
        return head

    def once(self, shape: Node, path: URIRef, message: str, **more: Node | int) -> BNode:
        """Exactly one value at a path."""
        return self.rule(shape, path, message, minCount=1, maxCount=1, **more)

    def words(self, shape: Node, path: URIRef, what: str, members: Iterable[str]) -> None:
        """Exactly one word of a closed list at a path."""
        names = list(members)
        rule = self.once(shape, path, f"{what} is one of: {', '.join(names)}")
        self.graph.add((rule, SH["in"], self.listed(word(name) for name in names)))

    def every_part(self) -> None:
        shape = self.node("part", SDO.ProductModel)
        self.once(shape, SDO.sku, "a part has one number", datatype=XSD.string)
        self.once(shape, SDO.name, "a part has one name", datatype=XSD.string)
        self.once(shape, SDO.category, "a part is of one kind", nodeKind=SH.IRI)
        self.rule(shape, NS.fits, "a part fits at least one code; without one no plan can use it", minCount=1)
        self.rule(shape, SDO.offers, "a part has one price at a time", maxCount=1)
        self.rule(shape, PROV.wasDerivedFrom, "a part names the row of the sheet that it comes from", minCount=1)
        self.rule(
            shape, (SDO.offers, SDO.price), "a price is a number from 0 on", datatype=XSD.decimal,
            minInclusive=exact(0.0),
        )  # fmt: skip

    def every_rating(self) -> None:
        shape = self.node("rating", NS.Rating)
        self.words(shape, NS.knownBy, "how a number is known", (k.value for k in EvidenceKind))
        self.words(shape, NS.meaning, "what a number means", (m.value for m in Meaning))
        self.once(shape, DCTERMS.bibliographicCitation, "a rating says in which cell it stands", datatype=XSD.string)
        self.rule(shape, PROV.wasDerivedFrom, "a rating is derived from a row of a sheet", minCount=1)
        self.once(
            shape, QUDT.relativeStandardUncertainty, "a rating has one relative spread from 0 on",
            datatype=XSD.decimal, minInclusive=exact(0.0),
        )  # fmt: skip
        self.rule(shape, (NS.point, NS.at), "a point stands at one number", datatype=XSD.decimal)
        number, curve = BNode(), BNode()
        self.rule(number, QUDT.numericValue, "one number", minCount=1, maxCount=1)
        self.rule(curve, NS.point, "two points", minCount=2)
        self.either(shape, (number, curve), "a rating has one number, or two points or more")

    def part(self, kind: Kind) -> None:
        required = [s for s in kind.ratings if s.required and s.default is None]
        if not required:
            return
        shape = self.node(kind.name, KIND[kind.name])
        for spec in required:
            message = f"a {kind.label} states its {spec.name}: {spec.label}"
            rule = self.rule(shape, NS.rating, message, qualifiedMinCount=1)
            wanted = BNode()
            self.graph.add((rule, SH.qualifiedValueShape, wanted))
            self.graph.add((wanted, SH["class"], rating_term(kind.name, spec.name)))

    def rating(self, kind: Kind, spec: RatingSpec) -> None:
        shape = self.node(f"{kind.name}.{own_word(spec.name)}", rating_term(kind.name, spec.name))
        quantity_kind, units = QUANTITIES[spec.quantity]
        low, high = (exact(bound) for bound in spec.plausible)
        self.once(shape, QUDT.hasQuantityKind, f"it is a {spec.quantity.label}", hasValue=quantity_kind)
        self.once(shape, QUDT.hasUnit, f"its unit is {spec.quantity.unit}", hasValue=units[0].iri)
        for path in (QUDT.numericValue, (NS.point, QUDT.numericValue))[: 1 if spec.over is None else 2]:
            self.rule(
                shape, path, f"{spec.label}: {spec.plausible[0]:g} to {spec.plausible[1]:g} {spec.quantity.unit}", datatype=XSD.decimal,
                minInclusive=low, maxInclusive=high,
            )  # fmt: skip
        needed = [c.name for c in spec.conditions if c.required]
        if needed:
            message = f"it cannot be used without {', '.join(needed)}"
            self.rule(shape, NS.condition, message, minCount=len(needed))

    def either(self, shape: Node, ways: Iterable[Node], message: str) -> None:
        """At least one of several ways to be right."""
        found = list(ways)
        for way in found:
            self.graph.add((way, RDF.type, SH.NodeShape))
        self.graph.add((shape, SH["or"], self.listed(found)))
        self.graph.add((shape, SH.message, Literal(message, lang="en")))

    def condition(self) -> None:
        shape = URIRef(SHAPE + "condition")
        self.graph.add((shape, RDF.type, SH.NodeShape))
        self.graph.add((shape, SH.targetObjectsOf, NS.condition))
        self.once(shape, RDFS.label, "a condition has one name", datatype=XSD.string)
        self.once(shape, NS.assumed, "a condition is stated or assumed", datatype=XSD.boolean)
        self.rule(shape, QUDT.numericValue, "a condition has one number", maxCount=1, datatype=XSD.decimal)

    def relation(self) -> None:
        shape = self.node("statement", NS.Relation)
        self.words(shape, NS.relationKind, "a statement", (k.value for k in RelationKind))
        about, reach = BNode(), BNode()
        self.rule(about, NS.about, "another part", minCount=1)
        self.rule(reach, NS.aboutKind, "a kind of part", minCount=1)
        self.rule(reach, NS.atLeast, "the value that it must reach", minCount=1, datatype=XSD.decimal)
        message = "a statement is about another part, or about a rating that a place must reach"
        self.either(shape, (about, reach), message)

    def platform(self) -> None:
        shape = self.node("platform", NS.Platform)
        self.once(shape, SDO.identifier, "a platform has one id", datatype=XSD.string)
        self.rule(shape, NS.hasCode, "a platform has codes that parts can fit", minCount=1)
        self.rule(shape, NS.slot, "a platform has places for parts", minCount=1)
        self.rule(shape, (NS.slot, NS.pieces), "a place takes one piece or more", minInclusive=Literal(1))

    def car(self) -> None:
        shape = self.node("car", SDO.Car)
        self.once(shape, SDO.identifier, "a car has one id", datatype=XSD.string)
        self.once(shape, NS.builtOn, "a car is of one platform")
        place = URIRef(SHAPE + "installed")
        self.graph.add((place, RDF.type, SH.NodeShape))
        self.graph.add((place, SH.targetObjectsOf, NS.installed))
        self.once(place, RDFS.label, "what is fitted is in one place", datatype=XSD.string)
        self.words(place, NS.belief, "how well it is known", (b.value for b in Belief))
