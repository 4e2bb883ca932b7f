"""Records out of an RDF graph of :func:`graph.projection.rdf.describe`, with everything that does not hold together."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import TypeVar

from rdflib import Graph, URIRef
from rdflib.namespace import DCTERMS, PROV, RDF, RDFS, SDO, SKOS
from rdflib.term import Node

from graph.errors import PinchpointError
from graph.limit import Kind, RatingSpec
from graph.model import (
    Belief,
    Car,
    Condition,
    Curve,
    Evidence,
    EvidenceKind,
    Installed,
    Interface,
    Meaning,
    Part,
    Platform,
    Rating,
    Relation,
    RelationKind,
    Slot,
)
from graph.operation import PLATFORM_CONSTANTS
from graph.projection.extract import Extract, Unclear
from graph.projection.statement import CURVES
from graph.projection.term import NS, QUDT, name_of
from graph.quantity import Quantity

_Record = TypeVar("_Record", Part, Platform, Car)


@dataclass(frozen=True, slots=True, kw_only=True)
class Trouble:
    """One thing that is not taken: what it belongs to, and why."""

    name: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Records:
    """What a graph holds: records, and what was left out."""

    parts: tuple[Part, ...]
    platforms: tuple[Platform, ...]
    cars: tuple[Car, ...]
    troubles: tuple[Trouble, ...]


def read_records(graph: Graph) -> Records:
    """Read the records of a graph.

    Parameters
    ----------
    graph : rdflib.Graph
        Of this program, or of another one that uses the same terms; units of other programs are converted.

    Returns
    -------
    Records
        In the order of their ids. A rating that cannot be used is left out and named; a record that contradicts
        itself is left out whole and named. Ratings that two books state of one part are both kept, the stronger
        evidence first, and of equal evidence the newer.
    """
    reader = _Reader(graph)
    return Records(
        parts=reader.all(SDO.ProductModel, SDO.sku, reader.part),
        platforms=reader.all(NS.Platform, SDO.identifier, reader.platform),
        cars=reader.all(SDO.Car, SDO.identifier, reader.car),
        troubles=tuple(reader.troubles),
    )


class _Reader(Extract):
    def __init__(self, graph: Graph) -> None:
        super().__init__(graph)
        self.troubles: list[Trouble] = []

    def all(self, of: URIRef, key: URIRef, read: Callable[[Node, str], _Record]) -> tuple[_Record, ...]:
        found: list[_Record] = []
        for node in self.graph.subjects(RDF.type, of):
            name = name_of(node)
            try:
                name = self.text(node, key) or name
                found.append(read(node, name))
            except (PinchpointError, ValueError, ArithmeticError) as error:
                self.troubles.append(Trouble(name=name, why=f"left out: {error}"))
        return tuple(sorted(found, key=lambda record: record.id))

    def part(self, node: Node, name: str) -> Part:
        kind = self.kind(node, SDO.category)
        maker, offer = self.one(node, SDO.manufacturer), self.one(node, SDO.offers)
        labour, factory = None, False
        tasks: list[str] = []
        for item in self.ordered(node, SDO.additionalProperty):
            what = self.text(item, SDO.propertyID)
            if what == "task":
                tasks.append(str(self.needed(item, SDO.value)))
            elif what == "labour":
                labour = self.number(item, SDO.value)
            elif what == "factory":
                factory = str(self.needed(item, SDO.value)) in ("true", "1")
        stock = None if offer is None else self.amount(offer, SDO.inventoryLevel)
        return Part(
            id=name,
            kind=kind.name,
            name=str(self.needed(node, SDO.name)),
            maker="" if maker is None else self.text(maker, SDO.name) or "",
            fits=self.codes(node, NS.fits),
            ratings=self.ratings(node, name, kind),
            interfaces=tuple(
                Interface(port=str(self.needed(i, SDO.name)), type=str(self.needed(i, NS.portType)))
                for i in self.ordered(node, NS.interface)
            ),
            relations=tuple(self.relation(r) for r in self.ordered(node, NS.statement)),
            tasks=tuple(tasks),
            price=None if offer is None else self.number(offer, SDO.price),
            labour=labour,
            lead_time=None if offer is None else self.amount(offer, SDO.deliveryLeadTime),
            stock=None if stock is None else int(stock),
            factory=factory,
            note=self.text(node, SDO.description) or "",
            source=self.cited(node),
        )

    def ratings(self, owner: Node, name: str, kind: Kind) -> tuple[Rating, ...]:
        found: list[Rating] = []
        for node in self.ordered(owner, NS.rating):
            said = self.text(node, RDFS.label) or ""
            try:
                spec = next((s for s in kind.ratings if s.name == said), None)
                if spec is None:
                    raise Unclear(f"a {kind.label} has no such rating; it may come from a newer program")
                found.append(self.rating(node, spec))
            except (PinchpointError, ValueError, ArithmeticError) as error:
                self.troubles.append(Trouble(name=name, why=f"without its {said or 'rating'}: {error}"))
        found = list(dict.fromkeys(found))
        strength = list(EvidenceKind)
        if len({r.name for r in found}) < len(found):
            newest = sorted(found, key=lambda r: r.evidence.date or "", reverse=True)
            found = sorted(newest, key=lambda r: strength.index(r.evidence.kind))
        return tuple(found)

    def rating(self, node: Node, spec: RatingSpec) -> Rating:
        low, high = spec.plausible
        value = self.value(node, spec.quantity, spec.over)
        for number in value.y if isinstance(value, Curve) else (value,):
            if not low <= number <= high:
                raise Unclear(f"{number:.4g} {spec.quantity.unit}, allowed is {low:.4g} to {high:.4g}; check the unit")
        by = self.one(node, PROV.wasAttributedTo)
        evidence = Evidence(
            kind=self.word(node, NS.knownBy, EvidenceKind),
            source=self.cited(node),
            detail=self.text(node, SDO.description) or "",
            date=self.text(node, DCTERMS.date),
            by=None if by is None else self.text(by, RDFS.label),
        )
        if not evidence.source:
            raise Unclear("nothing says where the number stands; add a citation")
        return Rating(
            name=spec.name,
            value=value,
            evidence=evidence,
            spread=self.number(node, QUDT.relativeStandardUncertainty) or 0.0,
            meaning=self.word(node, NS.meaning, Meaning),
            conditions=tuple(self.condition(c, spec) for c in self.ordered(node, NS.condition)),
            text=self.text(node, RDFS.comment) or "",
        )

    def condition(self, node: Node, spec: RatingSpec) -> Condition:
        name = str(self.needed(node, RDFS.label))
        wanted = next((c for c in spec.conditions if c.name == name), None)
        if wanted is None:
            raise Unclear(f"it has no condition called {name!r}")
        said = self.text(node, RDF.value)
        value = (
            said
            if wanted.quantity is None and said is not None
            else self.in_si(node, wanted.quantity or Quantity.RATIO)
        )
        return Condition(name=name, value=value, assumed=self.text(node, NS.assumed) in ("true", "1"))

    def relation(self, node: Node) -> Relation:
        return Relation(
            kind=self.word(node, NS.relationKind, RelationKind),
            part=self.text(node, SDO.identifier),
            slot=None if self.one(node, NS.aboutKind) is None else self.kind(node, NS.aboutKind).name,
            rating=self.text(node, RDFS.label),
            at_least=self.number(node, NS.atLeast),
            text=self.text(node, RDFS.comment) or "",
        )

    def platform(self, node: Node, name: str) -> Platform:
        constants = {
            label: self.in_si(item, PLATFORM_CONSTANTS.get(label, Quantity.RATIO))
            for item in self.graph.objects(node, NS.constant)
            if (label := str(self.needed(item, RDFS.label)))
        }
        curves: dict[str, Curve] = {}
        for item in self.graph.objects(node, NS.curve):
            label = str(self.needed(item, RDFS.label))
            value = self.value(item, CURVES[label][1] if label in CURVES else Quantity.RATIO, Quantity.ROTATIONAL_SPEED)
            if isinstance(value, Curve):
                curves[label] = value
        for predicate, read in ((NS.constant, constants), (NS.curve, curves)):
            if len(read) < len(set(self.graph.objects(node, predicate))):
                raise Unclear("a constant or curve is stated twice; import the books one after the other")
        return Platform(
            id=name,
            name=self.text(node, SDO.name) or "",
            codes=self.codes(node, NS.hasCode),
            constants=MappingProxyType(constants),
            curves=MappingProxyType(curves),
            slots=tuple(self.slot(item) for item in self.ordered(node, NS.slot)),
            source=self.cited(node),
        )

    def slot(self, node: Node) -> Slot:
        only, factory = self.one(node, NS.onlyWith), self.one(node, NS.factoryPart)
        return Slot(
            name=str(self.needed(node, RDFS.label)),
            kind=self.kind(node, NS.takes).name,
            count=int(self.number(node, NS.pieces) or 1),
            only_with=None if only is None else self.text(only, SDO.identifier) or name_of(only),
            factory_part=None if factory is None else self.part_number(factory),
        )

    def car(self, node: Node, name: str) -> Car:
        platform = self.needed(node, NS.builtOn)
        car = Car(
            id=name,
            platform=self.text(platform, SDO.identifier) or name_of(platform),
            name=self.text(node, SDO.name) or "",
            codes=self.codes(node, NS.hasCode),
            distance=self.amount(node, SDO.mileageFromOdometer),
            fuel=self.text(node, SDO.fuelType),
            notes=tuple(str(note) for note in self.items(node, SKOS.note)),
            source=self.cited(node),
        )
        return replace(car, installed=tuple(self.installed(i) for i in self.ordered(node, NS.installed)))

    def installed(self, node: Node) -> Installed:
        part = self.one(node, NS.fitted)
        return Installed(
            slot=str(self.needed(node, RDFS.label)),
            part=None if part is None else self.part_number(part),
            belief=self.word(node, NS.belief, Belief),
            claim=self.text(node, RDFS.comment) or "",
            condition=self.text(node, SDO.description) or "",
            source=self.cited(node),
        )
