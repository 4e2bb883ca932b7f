"""Walks over the network of parts: what comes along, why, what goes in circles, what hangs in the air, what breaks."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import networkx as nx

from graph.errors import UnknownName
from graph.model import Part
from graph.projection.network import Edge, Node, Place, edges, heads, only, part_node


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One requirement followed.

    Parameters
    ----------
    part : str
        Which requires.
    needs : str
        What it pulls along.
    text : str
        The requirement as written.
    source : str
        Where it stands.
    instead : tuple of str
        Parts that would do as well.
    """

    part: str
    needs: str
    text: str
    source: str
    instead: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Circle:
    """Parts whose statements lead back to where they began.

    Parameters
    ----------
    kind : Edge
        ``REQUIRES`` or ``SUPERSEDES``.
    parts : tuple of str
        In the order of the circle, the first named once.
    sentence : str
        What it means.
    """

    kind: Edge
    parts: tuple[str, ...]
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """Something about one part or place, in a sentence, with where it stands."""

    what: str
    name: str
    why: str
    source: str


def _known(network: Any, number: str) -> Node:
    node = part_node(number)
    if node not in network:
        names = sorted(n.name for n in network if n.place is Place.PART)
        raise UnknownName("part", number, names)
    return node


def cascade(network: Any, part: str) -> tuple[Step, ...]:
    """What a part pulls along, followed to the end.

    Parameters
    ----------
    network : networkx.MultiDiGraph
        Of :func:`graph.projection.network.build_network`.
    part : str
        Its number.

    Returns
    -------
    tuple of Step
        Each part that comes along once, with the requirement that first brings it, nearest first.

    Raises
    ------
    UnknownName
        No such part.
    """
    start = _known(network, part)
    seen = {start}
    queue = deque([start])
    steps: list[Step] = []
    while queue:
        node = queue.popleft()
        for _, head, key, data in network.out_edges(node, keys=True, data=True):
            if key is Edge.REQUIRES and head not in seen:
                seen.add(head)
                queue.append(head)
                steps.append(_step(node, head, data))
    return tuple(steps)


def _step(tail: Node, head: Node, data: Any) -> Step:
    return Step(
        part=tail.name, needs=head.name, text=data["text"], source=data["source"], instead=data.get("instead", ())
    )


def why_needed(network: Any, part: str, wanted: str) -> tuple[Step, ...]:
    """The shortest chain of requirements from a wanted part to one that comes along.

    Parameters
    ----------
    network : networkx.MultiDiGraph
        Of the book.
    part : str
        The part in question.
    wanted : str
        The part that somebody asked for.

    Returns
    -------
    tuple of Step
        Empty where nothing in the book makes `wanted` need `part`.

    Raises
    ------
    UnknownName
        No such part.
    """
    start, end = _known(network, wanted), _known(network, part)
    needs = only(network, Edge.REQUIRES)
    if start == end or not nx.has_path(needs, start, end):
        return ()
    path = nx.shortest_path(needs, start, end)
    return tuple(_step(tail, head, needs.edges[tail, head, Edge.REQUIRES]) for tail, head in pairwise(path))


def cycles(network: Any) -> tuple[Circle, ...]:
    """Every knot of requirements or of supersessions that leads back to itself, one circle of each.

    Parameters
    ----------
    network : networkx.MultiDiGraph
        Of the book.

    Returns
    -------
    tuple of Circle
        Beginning with the part whose number comes first, by the shortest way back to it.
    """
    found: list[Circle] = []
    for kind in (Edge.REQUIRES, Edge.SUPERSEDES):
        stated = nx.DiGraph((tail.name, head.name) for tail, head, _ in edges(only(network, kind), kind))
        for knot in nx.strongly_connected_components(stated):
            names = _shortest(stated.subgraph(knot), min(knot))
            if names:
                found.append(Circle(kind=kind, parts=tuple(names), sentence=_circle_sentence(kind, names)))
    return tuple(sorted(found, key=lambda c: (c.kind.value, c.parts)))


def _shortest(knot: Any, start: str) -> list[str]:
    """The shortest way from a part back to itself, by number where there are several; empty where there is none."""
    came: dict[str, str] = {}
    queue = deque([start])
    while queue:
        here = queue.popleft()
        for following in sorted(knot[here]):
            if following == start:
                way = [here]
                while way[-1] != start:
                    way.append(came[way[-1]])
                return way[::-1]
            if following not in came:
                came[following] = here
                queue.append(following)
    return []


def _circle_sentence(kind: Edge, names: list[str]) -> str:
    way = f" {kind.value} ".join([*names, names[0]])
    meaning = "they come together as one set" if kind is Edge.REQUIRES else "none of them is the newest; correct one"
    return f"{way}: {meaning}"


def orphans(network: Any) -> tuple[Finding, ...]:
    """What hangs in the air: parts that nothing takes, parts that are named and not in the book, unmet requirements.

    Parameters
    ----------
    network : networkx.MultiDiGraph
        Of the book.

    Returns
    -------
    tuple of Finding
        In the order of the part numbers.
    """
    codes = {head for _, head, _ in edges(network, Edge.HAS) if head.place is Place.CODE}
    found: list[Finding] = []
    for node in sorted((n for n in network if n.place is Place.PART), key=lambda n: n.name):
        data = network.nodes[node]
        if not data["known"]:
            said = [f"{tail.name} {edge.value} it" for tail, _, edge in network.in_edges(node, keys=True)]
            source = next((d["source"] for *_, d in network.in_edges(node, data=True) if d["source"]), "")
            found.append(Finding(what="not in the book", name=node.name, why="; ".join(said), source=source))
            continue
        part: Part = data["record"]
        fits = heads(network, node, Edge.FITS)
        if not fits:
            found.append(Finding(what="fits nothing", name=part.id, why="no code is stated", source=part.source))
        elif not codes & set(fits):
            why = f"no platform has the code {', '.join(c.name for c in fits)}"
            found.append(Finding(what="fits nothing", name=part.id, why=why, source=part.source))
        elif not heads(network, node, Edge.FILLS):
            why = f"no platform that it fits has a place for its kind, {part.kind}"
            found.append(Finding(what="fills no place", name=part.id, why=why, source=part.source))
        found.extend(
            Finding(
                what="unmet requirement",
                name=part.id,
                why=f"requires {text}, which no part reaches",
                source=part.source,
            )
            for text in data.get("unmet", ())
        )
    return tuple(found)


def breaks_if_withdrawn(network: Any, part: str) -> tuple[Finding, ...]:
    """What stands without support once a part can no longer be had.

    Parameters
    ----------
    network : networkx.MultiDiGraph
        Of the book.
    part : str
        Its number.

    Returns
    -------
    tuple of Finding
        Parts that need it and have nothing instead, places that it alone could fill, cars that have it fitted.

    Raises
    ------
    UnknownName
        No such part.
    """
    gone = _known(network, part)
    broken = {gone}
    queue = deque([gone])
    found: list[Finding] = []
    while queue:
        node = queue.popleft()
        for tail, _, key, data in network.in_edges(node, keys=True, data=True):
            instead = [n for n in data.get("instead", ()) if part_node(n) not in broken]
            if key is not Edge.REQUIRES or tail in broken or instead:
                continue
            broken.add(tail)
            queue.append(tail)
            why = f"requires {node.name} ({data['text']}) and the book holds nothing instead"
            found.append(Finding(what="part", name=tail.name, why=why, source=data["source"]))
    for slot in heads(network, gone, Edge.FILLS):
        others = {tail for tail, _, key in network.in_edges(slot, keys=True) if key is Edge.FILLS} - {gone}
        if not any(not network.nodes[o]["record"].factory for o in others):
            left = ", ".join(sorted(o.name for o in others))
            why = f"only {left} would be left" if left else "no other part of the book fills it"
            found.append(Finding(what="place", name=slot.name, why=why, source=network.nodes[gone]["record"].source))
    for tail, _, key, data in network.in_edges(gone, keys=True, data=True):
        if key is Edge.FITTED:
            why = f"has it fitted ({data['text']}); a replacement could not be had"
            found.append(Finding(what="car", name=tail.name, why=why, source=data["source"]))
    return tuple(found)
