"""Taking statements out of an RDF graph: one value where one is allowed, words of closed lists, amounts in SI."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise
from typing import TypeVar

from rdflib import Graph, URIRef
from rdflib.namespace import DCTERMS, SDO
from rdflib.term import Node

from graph.errors import PinchpointError
from graph.kinds import discover
from graph.limit import Kind
from graph.model import Belief, Curve, EvidenceKind, Meaning, RelationKind
from graph.projection.statement import word
from graph.projection.term import KIND, NS, QUDT, name_of, to_si
from graph.quantity import Quantity

_Word = TypeVar("_Word", EvidenceKind, Meaning, Belief, RelationKind)


class Unclear(PinchpointError):
    """A statement of a graph that cannot be taken; the message says which and why."""


class Extract:
    """A graph that is read.

    Parameters
    ----------
    graph : rdflib.Graph
        Is not changed.
    """

    def __init__(self, graph: Graph) -> None:
        self.graph = graph

    def one(self, node: Node, predicate: URIRef) -> Node | None:
        """The one value at a predicate, or None."""
        values = sorted(set(self.graph.objects(node, predicate)), key=str)
        if len(values) > 1:
            what = str(predicate).replace("#", "/").rpartition("/")[2]
            said = " and ".join(repr(str(v)) for v in values[:4])
            raise Unclear(f"{what} is stated as {said}; import the books one after the other")
        return values[0] if values else None

    def text(self, node: Node, predicate: URIRef) -> str | None:
        """The one value as text, or None."""
        value = self.one(node, predicate)
        return None if value is None else str(value)

    def number(self, node: Node, predicate: URIRef) -> float | None:
        """The one value as a finite number, or None."""
        value = self.one(node, predicate)
        if value is None:
            return None
        number = float(str(value))
        if not math.isfinite(number):
            raise Unclear(f"{value} is no finite number; leave an unknown value out")
        return number

    def needed(self, node: Node, predicate: URIRef) -> Node:
        """The one value that must be there."""
        value = self.one(node, predicate)
        if value is None:
            raise Unclear(f"no {str(predicate).replace('#', '/').rpartition('/')[2]} is stated; add it")
        return value

    def ordered(self, node: Node, predicate: URIRef) -> Iterator[Node]:
        """Values in the order of their positions."""
        yield from sorted(
            self.graph.objects(node, predicate), key=lambda item: (self.number(item, SDO.position) or 0.0, str(item))
        )

    def items(self, node: Node, predicate: URIRef) -> list[Node]:
        """Members of a list."""
        head = self.one(node, predicate)
        return [] if head is None else list(self.graph.items(head))

    def codes(self, node: Node, predicate: URIRef) -> tuple[str, ...]:
        """Codes in the order in which they were stated."""
        listed = self.items(node, NS.codes)
        found = [*listed, *sorted(set(self.graph.objects(node, predicate)) - set(listed), key=str)]
        return tuple(self.text(code, SDO.identifier) or name_of(code) for code in found)

    def word(self, node: Node, predicate: URIRef, members: type[_Word]) -> _Word:
        """A word of a closed list."""
        said = self.needed(node, predicate)
        for member in members:
            if word(member.value) == said:
                return member
        raise Unclear(f"{said} is none of {', '.join(m.value for m in members)}")

    def kind(self, node: Node, predicate: URIRef) -> Kind:
        """A part kind of this program."""
        said = self.needed(node, predicate)
        name = str(said).removeprefix(str(KIND))
        if name not in discover():
            raise Unclear(f"{said} is no part kind of this program; it may come from a newer one")
        return discover()[name]

    def cited(self, node: Node) -> str:
        """Where a fact stands, in words."""
        return self.text(node, DCTERMS.bibliographicCitation) or ""

    def part_number(self, node: Node) -> str:
        """Number of a part."""
        return self.text(node, SDO.sku) or name_of(node)

    def amount(self, node: Node, predicate: URIRef) -> float | None:
        """The number of an amount, or None."""
        found = self.one(node, predicate)
        return None if found is None else self.number(found, SDO.value)

    def value(self, node: Node, quantity: Quantity, over: Quantity | None) -> float | Curve:
        """A number or a curve [SI]."""
        points = list(self.ordered(node, NS.point))
        if not points:
            return self.in_si(node, quantity)
        x = tuple(float(str(self.needed(p, NS.at))) for p in points)
        y = tuple(self.in_si(p, quantity) for p in points)
        if over is None or len(x) < 2 or any(b <= a for a, b in pairwise(x)):
            raise Unclear(f"points at {x}: a curve needs two or more in rising order, and a rating that may be one")
        return Curve(x=x, y=y)

    def in_si(self, node: Node, quantity: Quantity) -> float:
        """A number in its unit as an SI value."""
        self.needed(node, QUDT.numericValue)
        unit = self.one(node, QUDT.hasUnit)
        return to_si(self.number(node, QUDT.numericValue) or 0.0, None if unit is None else URIRef(str(unit)), quantity)
