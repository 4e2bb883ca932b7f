"""The nodes of a search that are still open, each under its bound."""

from __future__ import annotations

import heapq
import math
from collections.abc import Container, Iterable

from graph.plan.bound import Bounds
from graph.plan.choice import Choices, Domains
from graph.plan.floor import Floors
from graph.plan.node import Node, Selection
from graph.plan.terms import Settled


class Fringe:
    """Open nodes, the one with the lowest bound first.

    Parameters
    ----------
    choices : Choices
        The options.
    bounds : Bounds
        Prices and labour that no completion avoids.
    floors : Floors
        What parts that are bound to one another cost at least.
    """

    def __init__(self, choices: Choices, bounds: Bounds, floors: Floors) -> None:
        self.choices, self.bounds, self.floors = choices, bounds, floors
        self._heap: list[Node] = []
        self._serial = 0

    def __len__(self) -> int:
        return len(self._heap)

    def push(
        self,
        domains: Domains,
        *,
        standing: bool = False,
        car: Settled | None = None,
        glanced: bool = False,
        placed: bool = False,
        joined: bool = False,
        passed: Selection = (),
    ) -> None:
        """Open a node, unless no choice of it is good; the arguments are fields of :class:`Node`."""
        self._serial += 1
        bound = self.bounds.least_of(domains) + (self.floors.added(domains) if standing else 0.0)
        if bound == math.inf:
            return
        if all(len(d) == 1 for d in domains):
            bound = max(bound, self.bounds.exact(tuple(d[0] for d in domains)))
        changes = sum(not self.choices.options[s][d[0]].kept for s, d in enumerate(domains))
        node = Node(
            bound=round(bound, 6),
            changes=changes,
            serial=-self._serial,
            domains=domains,
            car=car,
            glanced=glanced,
            placed=placed,
            joined=joined,
            standing=standing,
            passed=passed,
        )
        heapq.heappush(self._heap, node)

    def pop(self) -> Node:
        """Take the node with the lowest bound."""
        return heapq.heappop(self._heap)

    def back(self, nodes: Iterable[Node]) -> None:
        """Put back nodes that were taken."""
        for node in nodes:
            heapq.heappush(self._heap, node)

    def unsolved(self, count: int, but: Container[int]) -> list[Node]:
        """The lowest nodes that lack nothing but their engine state; they stay where they are.

        Parameters
        ----------
        count : int
            Most of them [1].
        but : container of int
            Serial numbers of those that are not wanted.
        """
        return heapq.nsmallest(count, (n for n in self._heap if n.glanced and n.car is None and n.serial not in but))

    def settled(self) -> list[Node]:
        """All nodes, those of which most is settled first."""
        return sorted(self._heap, key=lambda n: (n.car is None, not n.glanced, n.bound))

    def only(self, node: Node) -> None:
        """Close all nodes but one."""
        self._heap = [node]

    def latest(self) -> Node:
        """Take the node that was opened last."""
        node = min(self._heap, key=lambda n: n.serial)
        self._heap.remove(node)
        heapq.heapify(self._heap)
        return node
