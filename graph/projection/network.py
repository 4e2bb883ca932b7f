"""The book as a typed network: what fits where, what pulls what along, what feeds and what limits.

The network is derived from the records and never written to. Nodes are :class:`Node`, every edge bears its
:class:`Edge` as key and the statement it comes from as ``text`` and ``source``.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from enum import StrEnum
from typing import Any, NamedTuple

import networkx as nx

from graph.kinds import discover
from graph.limit import Kind
from graph.model import Car, Curve, Part, Platform, Relation, RelationKind
from graph.projection.facts import Facts

#: Kinds that turn other kinds by a shaft: (driver, driven).
SHAFTS = (("turbine", "compressor"),)


class Place(StrEnum):
    """What a node stands for."""

    PART = "part"
    KIND = "kind"
    SLOT = "slot"
    CODE = "code"
    PLATFORM = "platform"
    CAR = "car"
    PARAMETER = "parameter"
    LIMIT = "limit"


class Edge(StrEnum):
    """What an edge states, read from its tail to its head."""

    FITS = "fits"
    FILLS = "fills"
    OF_KIND = "is a"
    HAS = "has"
    TAKES = "takes"
    FACTORY = "leaves the factory with"
    BUILT_ON = "is built on"
    FITTED = "has fitted"
    REQUIRES = "requires"
    COULD_MEET = "could also be met by"
    EXCLUDES = "excludes"
    SUPERSEDES = "supersedes"
    ADAPTS = "adapts"
    MEMBER = "includes"
    FEEDS = "feeds"
    NEEDS = "needs"
    DRIVES = "drives"
    LIMITED_BY = "is limited by"


class Node(NamedTuple):
    """A node: what it stands for and its name."""

    place: Place
    name: str


_STATED = {
    RelationKind.EXCLUDES: Edge.EXCLUDES,
    RelationKind.SUPERSEDES: Edge.SUPERSEDES,
    RelationKind.ADAPTS: Edge.ADAPTS,
    RelationKind.MEMBER: Edge.MEMBER,
}


def part_node(number: str) -> Node:
    """Node of a part."""
    return Node(Place.PART, number)


def build_network(facts: Facts, kinds: Mapping[str, Kind] | None = None) -> Any:
    """Derive the network from the records.

    Parameters
    ----------
    facts : Facts
        Current records.
    kinds : mapping of str to Kind or None
        Part kinds by name; None for the program's own.

    Returns
    -------
    networkx.MultiDiGraph
        A part that is named and not in the book is there with ``known=False``.
    """
    network = nx.MultiDiGraph()
    known = discover() if kinds is None else kinds
    _add_kinds(network, known)
    for platform in facts.platforms:
        _add_platform(network, platform)
    for part in facts.parts:
        network.add_node(part_node(part.id), known=True, record=part)
    places: dict[str, list[Platform]] = defaultdict(list)
    for platform in facts.platforms:
        for code in dict.fromkeys((platform.id, *platform.codes)):
            places[code].append(platform)
    book = {p.id: p for p in facts.parts}
    for part in facts.parts:
        _add_part(network, part, places)
        for relation in part.relations:
            _add_relation(network, part, relation, book)
    for car in facts.cars:
        _add_car(network, car)
    for node in network:
        if node.place is Place.PART:
            network.nodes[node].setdefault("known", False)
    return network


def _join(network: Any, tail: Node, edge: Edge, head: Node, text: str = "", source: str = "", **more: Any) -> None:
    network.add_edge(tail, head, key=edge, text=text or edge.value, source=source, **more)


def _add_kinds(network: Any, kinds: Mapping[str, Kind]) -> None:
    for kind in kinds.values():
        node = Node(Place.KIND, kind.name)
        network.add_node(node, record=kind)
        for feed in (*kind.feeds, *kind.offers):
            _join(network, node, Edge.FEEDS, Node(Place.PARAMETER, feed.parameter))
        for rule in kind.limits:
            limit = Node(Place.LIMIT, f"{kind.name}: {rule.name}")
            network.add_node(limit, record=rule)
            _join(network, node, Edge.LIMITED_BY, limit, rule.why, rule.source)
            for parameter in rule.needs:
                _join(network, limit, Edge.NEEDS, Node(Place.PARAMETER, parameter))
    for driver, driven in SHAFTS:
        if driver in kinds and driven in kinds:
            _join(network, Node(Place.KIND, driver), Edge.DRIVES, Node(Place.KIND, driven), "through the common shaft")


def _add_platform(network: Any, platform: Platform) -> None:
    node = Node(Place.PLATFORM, platform.id)
    network.add_node(node, record=platform)
    for slot in platform.slots:
        here = Node(Place.SLOT, f"{platform.id}: {slot.name}")
        network.add_node(here, record=slot)
        _join(network, node, Edge.HAS, here, source=platform.source)
        _join(network, here, Edge.TAKES, Node(Place.KIND, slot.kind), source=platform.source)
        if slot.factory_part is not None:
            _join(network, here, Edge.FACTORY, part_node(slot.factory_part), source=platform.source)
    for code in dict.fromkeys((platform.id, *platform.codes)):
        _join(network, node, Edge.HAS, Node(Place.CODE, code), source=platform.source)


def _add_part(network: Any, part: Part, places: Mapping[str, Iterable[Platform]]) -> None:
    node = part_node(part.id)
    _join(network, node, Edge.OF_KIND, Node(Place.KIND, part.kind), source=part.source)
    for code in part.fits:
        _join(network, node, Edge.FITS, Node(Place.CODE, code), source=part.source)
        for platform in places.get(code, ()):
            for slot in platform.slots:
                if slot.kind == part.kind:
                    where = Node(Place.SLOT, f"{platform.id}: {slot.name}")
                    _join(network, node, Edge.FILLS, where, f"fits {code}", part.source)


def _add_car(network: Any, car: Car) -> None:
    node = Node(Place.CAR, car.id)
    network.add_node(node, record=car)
    _join(network, node, Edge.BUILT_ON, Node(Place.PLATFORM, car.platform), source=car.source)
    for installed in car.installed:
        if installed.part is not None:
            text = f"{installed.slot}: {installed.belief.value}"
            _join(network, node, Edge.FITTED, part_node(installed.part), text, installed.source or car.source)


def _add_relation(network: Any, part: Part, relation: Relation, book: Mapping[str, Part]) -> None:
    node = part_node(part.id)
    source = part.source
    text = relation.text or relation.kind.value
    if relation.kind is not RelationKind.REQUIRES:
        for number in relation.numbers:
            _join(network, node, _STATED[relation.kind], part_node(number), text, source)
        return
    chosen, others = meet(part, relation, book)
    if chosen is not None:
        head, instead = part_node(chosen), tuple(others)
        if network.has_edge(node, head, Edge.REQUIRES):  # two requirements that one part meets
            before = network.edges[node, head, Edge.REQUIRES]
            text, instead = f"{before['text']}; {text}", tuple(n for n in instead if n in before["instead"])
        _join(network, node, Edge.REQUIRES, head, text, source, instead=instead)
    for other in others:
        _join(network, node, Edge.COULD_MEET, part_node(other), text, source)
    if chosen is None and not others:
        network.nodes[node].setdefault("unmet", []).append(text)


def meet(part: Part, relation: Relation, book: Mapping[str, Part]) -> tuple[str | None, list[str]]:
    """Which part a requirement pulls along, and which others would do.

    A named part is taken as named; of several that would do, the cheapest. A rating that a factory part of the same
    fitment reaches pulls nothing along.

    Parameters
    ----------
    part : Part
        Which requires.
    relation : Relation
        What it requires.
    book : mapping of str to Part
        By number.

    Returns
    -------
    chosen : str or None
        None where nothing has to come along, or nothing in the book would do.
    others : list of str
        Parts that would do as well.
    """
    named = relation.numbers
    if named:
        order = sorted((n for n in named if n in book), key=lambda n: _price(book[n])) or named
        return order[0], list(order[1:])
    if relation.slot is None or relation.rating is None or relation.at_least is None:
        return None, []
    able = sorted(
        (p for p in book.values() if p.kind == relation.slot and shares_fit(p, part) and reaches(p, relation)),
        key=_price,
    )
    if any(p.factory for p in able):
        return None, [p.id for p in able]
    return (able[0].id, [p.id for p in able[1:]]) if able else (None, [])


def reaches(part: Part, relation: Relation) -> bool:
    """True if a part's rating reaches what a requirement asks, for a curve at its lowest point."""
    found = part.rating(relation.rating or "")
    if found is None or relation.at_least is None:
        return False
    return (min(found.value.y) if isinstance(found.value, Curve) else found.value) >= relation.at_least


def shares_fit(one: Part, other: Part) -> bool:
    """True if two parts can be on one car by their codes; a part without a code goes anywhere."""
    return not one.fits or not other.fits or bool(set(one.fits) & set(other.fits))


def _price(part: Part) -> tuple[bool, float, str]:
    return part.price is None, part.price or 0.0, part.id


def edges(network: Any, *kinds: Edge) -> Iterator[tuple[Node, Node, Mapping[str, Any]]]:
    """Every edge of some types: tail, head, what is known about it."""
    for tail, head, key, data in network.edges(keys=True, data=True):
        if key in kinds:
            yield tail, head, data


def only(network: Any, *kinds: Edge) -> Any:
    """The network of parts that edges of some types join, with nothing else in it."""
    kept = nx.MultiDiGraph()
    kept.add_nodes_from((n, d) for n, d in network.nodes(data=True) if n.place is Place.PART)
    for tail, head, key, data in network.edges(keys=True, data=True):
        if key in kinds and tail.place is Place.PART and head.place is Place.PART:
            kept.add_edge(tail, head, key=key, **data)
    return kept


def heads(network: Any, node: Node, *kinds: Edge) -> Iterable[Node]:
    """Nodes that a node points to by edges of some types, in the order in which they were stated."""
    return [head for _, head, key in network.out_edges(node, keys=True) if key in kinds]
