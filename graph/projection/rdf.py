"""The records as an RDF graph: derived, one way, complete enough to be read back as equal records.

Products are told in schema.org, quantities in QUDT, evidence in PROV, measurements in SOSA, words in SKOS; only limits
and relations have terms of our own (:data:`graph.projection.term.TERMS`). A rating's IRI holds a digest of all that
it says, so that the ratings of two books stay apart when their graphs are put together.
"""

from __future__ import annotations

from rdflib import Graph, Literal, URIRef
from rdflib.namespace import DCTERMS, PROV, RDF, RDFS, SDO, SKOS, SOSA

from graph.kinds import discover
from graph.limit import RatingSpec
from graph.model import Car, Condition, Curve, EvidenceKind, Part, Platform, Rating, Relation
from graph.operation import PLATFORM_CONSTANTS
from graph.projection.facts import Facts
from graph.projection.glossary import describe_kinds, rating_term
from graph.projection.network import Edge, Place, build_network
from graph.projection.statement import CURVES, Statements, day, word
from graph.projection.term import BASE, KIND, NS, QUDT, exact, hashed, named
from graph.quantity import Quantity

#: Evidence that is a measurement of the shop's own.
MEASURED = (EvidenceKind.OWN_BENCH, EvidenceKind.OWN_DYNO, EvidenceKind.OWN_LOG)
_JOINS = {
    Edge.REQUIRES: NS.requires,
    Edge.COULD_MEET: NS.couldBeMetBy,
    Edge.EXCLUDES: NS.excludes,
    Edge.SUPERSEDES: NS.supersedes,
    Edge.ADAPTS: NS.adapts,
    Edge.MEMBER: NS.includes,
}


def describe(facts: Facts, *, base: str = BASE, vocabulary: bool = True) -> Graph:
    """The graph of a book.

    Parameters
    ----------
    facts : Facts
        Current records.
    base : str
        Beginning of the IRIs of records.
    vocabulary : bool
        True to add the part kinds, their limits and the meaning of our own terms.

    Returns
    -------
    rdflib.Graph
        Numbers as exact decimals in SI units.
    """
    writer = _Writer(facts, base)
    if vocabulary:
        describe_kinds(writer.graph)
    for part in facts.parts:
        writer.part(part)
    for platform in facts.platforms:
        writer.platform(platform)
    for car in facts.cars:
        writer.car(car)
    writer.network()
    return writer.graph


class _Writer(Statements):
    def part(self, part: Part) -> None:
        node = self.reference("part", part.id)
        self.say(
            node, (RDF.type, SDO.ProductModel), (RDF.type, PROV.Entity), (RDF.type, KIND[part.kind]),
            (SDO.category, KIND[part.kind]), (SDO.name, part.name), (SDO.description, part.note),
        )  # fmt: skip
        if part.maker:
            maker = named(self.base, "maker", part.maker)
            self.say(maker, (RDF.type, SDO.Organization), (SDO.name, part.maker))
            self.say(node, (SDO.manufacturer, maker))
        self.codes(node, NS.fits, part.fits)
        self.derived(node, part.source)
        self.offer(node, part)
        more = [("task", Literal(task)) for task in part.tasks] + ([("factory", Literal(True))] if part.factory else [])
        if part.labour is not None:
            more.append(("labour", exact(part.labour)))
        for i, (name, value) in enumerate(more):
            item = hashed(self.base, "property", part.id, (name, str(value), i))
            self.say(
                item, (RDF.type, SDO.PropertyValue), (SDO.propertyID, name), (SDO.value, value),
                (SDO.position, Literal(i)), (SDO.unitCode, "SEC" if name == "labour" else None),
            )  # fmt: skip
            self.say(node, (SDO.additionalProperty, item))
        for i, rating in enumerate(part.ratings):
            self.rating(node, part, rating, i)
        for i, interface in enumerate(part.interfaces):
            item = hashed(self.base, "interface", part.id, (interface, i))
            self.say(
                item, (SDO.name, interface.port), (NS.portType, Literal(interface.type)), (SDO.position, Literal(i))
            )
            self.say(node, (NS.interface, item))
        for i, relation in enumerate(part.relations):
            self.relation(node, part, relation, i)

    def offer(self, node: URIRef, part: Part) -> None:
        if part.price is None and part.lead_time is None and part.stock is None:
            return
        offer = hashed(self.base, "offer", part.id, (part.price, part.lead_time, part.stock))
        self.say(node, (SDO.offers, offer))
        self.say(offer, (RDF.type, SDO.Offer))
        if part.price is not None:
            self.say(offer, (SDO.price, exact(part.price)), (SDO.priceCurrency, "EUR"))
        for predicate, value, code in (
            (SDO.deliveryLeadTime, None if part.lead_time is None else exact(part.lead_time), "SEC"),
            (SDO.inventoryLevel, None if part.stock is None else Literal(part.stock), "C62"),
        ):
            if value is not None:
                amount = hashed(self.base, "amount", part.id, (predicate, str(value)))
                self.say(amount, (RDF.type, SDO.QuantitativeValue), (SDO.value, value), (SDO.unitCode, code))
                self.say(offer, (predicate, amount))

    def rating(self, owner: URIRef, part: Part, rating: Rating, i: int) -> None:
        origin = self.facts.origin(rating.evidence.source)
        node = hashed(
            self.base, "rating", part.id, (part.id, rating, None if origin is None else origin.sha256)
        )  # fmt: skip
        spec = next((s for s in discover()[part.kind].ratings if s.name == rating.name), None)
        term = rating_term(part.kind, rating.name)
        quantity = Quantity.RATIO if spec is None else spec.quantity
        evidence = rating.evidence
        self.say(owner, (NS.rating, node))
        self.say(
            node, (RDF.type, NS.Rating), (RDF.type, QUDT.Quantity), (RDF.type, PROV.Entity), (RDF.type, term),
            (NS.states, term), (RDFS.label, rating.name), (SDO.position, Literal(i)), (RDFS.comment, rating.text),
            (QUDT.relativeStandardUncertainty, exact(rating.spread)), (NS.meaning, word(rating.meaning.value)),
            (NS.knownBy, word(evidence.kind.value)), (SDO.description, evidence.detail), (DCTERMS.date, day(evidence.date)),
        )  # fmt: skip
        if isinstance(rating.value, Curve):
            self.points(node, part.id, rating.value, None if spec is None else spec.over, quantity)
        else:
            self.amount(node, rating.value, quantity)
        if evidence.kind in MEASURED:
            self.say(
                node, (RDF.type, SOSA.Observation), (SOSA.hasFeatureOfInterest, owner), (SOSA.observedProperty, term),
                (SOSA.usedProcedure, word(evidence.kind.value)),
            )  # fmt: skip
        if evidence.by is not None:
            person = named(self.base, "agent", evidence.by)
            self.say(person, (RDF.type, PROV.Agent), (RDFS.label, Literal(evidence.by)))
            self.say(node, (PROV.wasAttributedTo, person))
        self.derived(node, evidence.source)
        for j, condition in enumerate(rating.conditions):
            item = hashed(self.base, "condition", part.id, (str(node), condition, j))
            self.say(node, (NS.condition, item))
            self.condition(item, condition, spec, j)

    def condition(self, item: URIRef, condition: Condition, spec: RatingSpec | None, i: int) -> None:
        self.say(
            item, (RDFS.label, condition.name), (SDO.position, Literal(i)), (NS.assumed, Literal(condition.assumed))
        )
        if isinstance(condition.value, str):
            self.say(item, (RDF.value, Literal(condition.value)))
            return
        wanted = next((c for c in spec.conditions if c.name == condition.name), None) if spec is not None else None
        quantity = wanted.quantity if wanted is not None else None
        self.amount(item, condition.value, quantity or Quantity.RATIO)

    def relation(self, owner: URIRef, part: Part, relation: Relation, i: int) -> None:
        node = hashed(self.base, "statement", part.id, (relation, i))
        self.say(owner, (NS.statement, node))
        self.say(
            node, (RDF.type, NS.Relation), (SDO.position, Literal(i)), (NS.relationKind, word(relation.kind.value)),
            (RDFS.comment, relation.text), (SDO.identifier, relation.part),
            (NS.aboutKind, None if relation.slot is None else KIND[relation.slot]), (RDFS.label, relation.rating),
            (NS.atLeast, None if relation.at_least is None else exact(relation.at_least)),
        )  # fmt: skip
        for number in relation.numbers:
            self.say(node, (NS.about, self.reference("part", number)))

    def platform(self, platform: Platform) -> None:
        node = self.reference("platform", platform.id)
        self.say(node, (RDF.type, NS.Platform), (RDF.type, PROV.Entity), (SDO.name, platform.name))
        self.derived(node, platform.source)
        self.codes(node, NS.hasCode, platform.codes)
        for name, value in platform.constants.items():
            item = hashed(self.base, "constant", platform.id, (name, value))
            self.say(node, (NS.constant, item))
            self.say(item, (RDFS.label, name))
            self.amount(item, value, PLATFORM_CONSTANTS.get(name, Quantity.RATIO))
        for name, curve in platform.curves.items():
            item = hashed(self.base, "curve", platform.id, (name, curve))
            self.say(node, (NS.curve, item))
            self.say(item, (RDFS.label, name))
            over, quantity = CURVES.get(name, (None, Quantity.RATIO))
            self.points(item, platform.id, curve, over, quantity)
        for i, slot in enumerate(platform.slots):
            item = named(self.base, "slot", f"{platform.id}: {slot.name}")
            self.say(node, (NS.slot, item))
            self.say(
                item, (RDFS.label, slot.name), (SDO.position, Literal(i)), (NS.takes, KIND[slot.kind]),
                (NS.pieces, Literal(slot.count)),
                (NS.onlyWith, None if slot.only_with is None else self.reference("code", slot.only_with)),
                (NS.factoryPart, None if slot.factory_part is None else self.reference("part", slot.factory_part)),
            )  # fmt: skip

    def car(self, car: Car) -> None:
        node = self.reference("car", car.id)
        self.say(
            node, (RDF.type, SDO.Car), (RDF.type, PROV.Entity), (SDO.name, car.name), (SDO.fuelType, car.fuel),
            (NS.builtOn, self.reference("platform", car.platform)),
        )  # fmt: skip
        self.derived(node, car.source)
        self.codes(node, NS.hasCode, car.codes)
        if car.distance is not None:
            item = hashed(self.base, "amount", car.id, car.distance)
            self.say(item, (RDF.type, SDO.QuantitativeValue), (SDO.value, exact(car.distance)), (SDO.unitCode, "MTR"))
            self.say(node, (SDO.mileageFromOdometer, item))
        if car.notes:
            self.say(node, (SKOS.note, self.listed(Literal(note) for note in car.notes)))
        for i, said in enumerate(car.installed):
            item = hashed(self.base, "installed", car.id, (said, i))
            self.say(node, (NS.installed, item))
            self.say(
                item, (RDFS.label, said.slot), (SDO.position, Literal(i)), (NS.belief, word(said.belief.value)),
                (NS.fitted, None if said.part is None else self.reference("part", said.part)),
                (RDFS.comment, said.claim), (SDO.description, said.condition),
            )  # fmt: skip
            self.derived(item, said.source)

    def network(self) -> None:
        """What the network knows of the parts: requirements resolved, places filled."""
        for tail, head, key in build_network(self.facts).edges(keys=True):
            if key in _JOINS and head.place is Place.PART:
                self.say(self.reference("part", tail.name), (_JOINS[key], self.reference("part", head.name)))
            elif key is Edge.FILLS:
                self.say(self.reference("part", tail.name), (NS.fills, named(self.base, "slot", head.name)))
