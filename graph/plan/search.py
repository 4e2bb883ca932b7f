"""The cheapest choice, proven: best first over lower bounds of cost, with the physics asked for but never assumed."""

from __future__ import annotations

import heapq
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from graph.model import RelationKind
from graph.plan.bound import Bounds
from graph.plan.choice import Choices, Domains
from graph.plan.labour import Tariff
from graph.plan.terms import Model, Settled

#: Most cores solved side by side, and how far above the cheapest one they may lie [currency, net].
BATCH = 64
AHEAD = 400.0
#: Cents are the grain of cost.
GRAIN = 1e-6


#: Names of reasons that are not bonds or wishes.
ENGINE, HOLDS = "engine", "holds"


def limit_of(slot: str) -> str:
    """Name of the reason "the limits of a slot"."""
    return f"limit:{slot}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What a search found.

    Parameters
    ----------
    selection : tuple of int or None
        Option of each slot.
    net : float or None
        Its net cost [currency].
    bound : float
        No accepted choice costs less, net [currency]; infinity where none exists.
    ended : bool
        True if the search came to its end before the time did.
    effort : dict of str to int
        Nodes, engine states, full checks.
    """

    selection: tuple[int, ...] | None
    net: float | None
    bound: float
    ended: bool
    effort: dict[str, int] = field(default_factory=dict)


@dataclass(order=True, slots=True)
class _Node:
    bound: float
    changes: int
    serial: int
    domains: Domains = field(compare=False)
    asked: bool = field(compare=False, default=False)
    car: Settled | None = field(compare=False, default=None)
    exact: bool = field(compare=False, default=False)


class Search:
    """Best-first search over the choices of one car.

    Every node is a set of options still possible in each slot. Its bound holds the prices and the labour that no
    completion can avoid; physics only ever strikes options out. The first complete choice that passes the full check
    is therefore the cheapest of all.

    Parameters
    ----------
    choices : Choices
        Options and bonds.
    model : Model
        Verdicts.
    tariff : Tariff
        Prices and shared labour.
    confirm : bool
        False to take a choice without the full check.
    """

    def __init__(self, choices: Choices, model: Model, tariff: Tariff, *, confirm: bool = True) -> None:
        self.choices, self.model, self.tariff = choices, model, tariff
        self.free_slots = frozenset(s for s, name in enumerate(choices.names) if limit_of(name) in choices.relaxed)
        self.no_engine, self.no_holds = ENGINE in choices.relaxed, HOLDS in choices.relaxed
        self.confirm = confirm
        self.bounds = Bounds(choices, tariff)
        self.least, self.operations = self.bounds.least, self.bounds.operations
        order = [*model.context, *(s for s in model.core if s not in model.context)]
        rest = [s for s in range(len(choices.options)) if s not in order]
        self.order = (*order, *rest)
        self.effort = {"nodes": 0, "states": 0, "checks": 0}
        self._heap: list[_Node] = []
        self._serial = 0
        self._full = (1 << (8 * ((model.samples + 7) // 8))) - 1

    def run(self, *, budget: float = float("inf"), deadline: float | None = None) -> Outcome:
        """Search to the end, to the budget or to the deadline.

        Parameters
        ----------
        budget : float
            Largest net cost of interest [currency].
        deadline : float or None
            Reading of :func:`time.monotonic` at which to stop [s].

        Returns
        -------
        Outcome
            The cheapest accepted choice with its proof, or the best so far with its bound.
        """
        root = self.choices.narrowed(self.choices.all())
        if root is not None:
            self._push(root)
        while self._heap:
            node = heapq.heappop(self._heap)
            if node.bound > budget + GRAIN:
                return Outcome(selection=None, net=None, bound=node.bound, ended=True, effort=self.effort)
            if deadline is not None and time.monotonic() > deadline:
                heapq.heappush(self._heap, node)
                return self._dive(node.bound, budget)
            found = self._step(node)
            if found is not None:
                return Outcome(selection=found, net=node.bound, bound=node.bound, ended=True, effort=self.effort)
        return Outcome(selection=None, net=None, bound=float("inf"), ended=True, effort=self.effort)

    def _dive(self, bound: float, budget: float, nodes: int = 400) -> Outcome:
        """Out of time: go down from the most settled nodes to any accepted choice."""
        waiting = sorted(self._heap, key=lambda n: (n.car is None, self._open(n.domains), n.bound))
        for start in waiting[:8]:
            self._heap = [start]
            while self._heap and nodes > 0:
                nodes -= 1
                node = min(self._heap, key=lambda n: (self._open(n.domains), n.bound))
                self._heap.remove(node)
                found = self._step(node) if node.bound <= budget else None
                if found is not None:
                    return Outcome(selection=found, net=node.bound, bound=bound, ended=False, effort=self.effort)
        return Outcome(selection=None, net=None, bound=bound, ended=False, effort=self.effort)

    @staticmethod
    def _open(domains: Domains) -> int:
        return sum(len(d) > 1 for d in domains)

    def _step(self, node: _Node) -> tuple[int, ...] | None:
        """Take one node further; the choice if it is complete and accepted."""
        self.effort["nodes"] += 1
        if node.car is not None and self._refused(node.domains):
            return None
        slot = next((s for s in self.order if len(node.domains[s]) > 1), None)
        context_open = slot in self.model.context
        if not node.asked and not context_open:
            self._ask(node)
        elif node.car is None and slot not in self.model.core and not context_open:
            self._settle(node)
        elif slot is not None:
            self._branch(node, slot)
        elif not node.exact:
            self._push(node.domains, asked=True, car=node.car, exact=True)
        elif self._accepted(tuple(d[0] for d in node.domains)):
            return tuple(d[0] for d in node.domains)
        return None

    def _refused(self, domains: Domains) -> bool:
        """True if a full check has meanwhile found a chosen option not clear."""
        context = {s: domains[s][0] for s in self.model.context}
        return any(
            len(d) == 1 and s not in self.free_slots and not self.model.clear(context, s, d[0])
            for s, d in enumerate(domains)
        )

    def _accepted(self, selection: tuple[int, ...]) -> bool:
        if not self.choices.sound(selection):
            return False
        if not self.confirm:
            return True
        self.effort["checks"] += 1
        return self.model.confirm(selection)

    def _branch(self, node: _Node, slot: int) -> None:
        for option in node.domains[slot]:
            tried = (*node.domains[:slot], (option,), *node.domains[slot + 1 :])
            left = self.choices.narrowed(tried)
            if left is not None:
                self._push(left, asked=node.asked, car=node.car)

    def _ask(self, node: _Node) -> None:
        """Strike out what is not clear alone, now that the context is settled."""
        context = {s: node.domains[s][0] for s in self.model.context}
        if not self.no_engine and not self.model.engine(context):
            return
        left = self._kept(node.domains, lambda s, i: self.model.clear(context, s, i))
        if left is not None:
            self._push(left, asked=True)

    def _kept(self, domains: Domains, good: Callable[[int, int], bool]) -> Domains | None:
        kept = tuple(d if s in self.free_slots else tuple(i for i in d if good(s, i)) for s, d in enumerate(domains))
        return self.choices.narrowed(kept)

    def _settle(self, node: _Node) -> None:
        """Solve the engine's state of this core and of the next cheapest that wait for theirs."""
        batch: list[_Node] = [node]
        aside: list[_Node] = []
        while self._heap and len(batch) < BATCH and len(aside) < 4 * BATCH:
            other = heapq.heappop(self._heap)
            if other.bound > node.bound + AHEAD:
                aside.append(other)
                break
            ready = other.asked and other.car is None and all(len(other.domains[s]) == 1 for s in self.model.core)
            (batch if ready else aside).append(other)
        for other in aside:
            heapq.heappush(self._heap, other)
        cores = [{s: n.domains[s][0] for s in self.model.core} for n in batch]
        self.effort["states"] += len(cores)
        for waiting, car in zip(batch, self.model.settle(cores), strict=True):
            if not car.engine and not self.no_engine:
                continue
            left = self._kept(waiting.domains, car.allowed)
            if left is not None:
                self._push(self._undominated(left, car), asked=True, car=car)

    def _undominated(self, domains: Domains, car: Settled) -> Domains:
        """Leave out options that another one of the slot beats in price and in every sample, and that nothing needs."""
        needed = {key for found in self.choices.needs.values() for need in found for key in need.by}
        return tuple(
            d
            if len(d) == 1
            else tuple(b for b in d if not any(self._beaten(s, b, a, car, needed) for a in d if a != b))
            for s, d in enumerate(domains)
        )

    def _beaten(self, s: int, b: int, a: int, car: Settled, needed: set[tuple[int, int]]) -> bool:
        one, other = self.choices.options[s][a].bought, self.choices.options[s][b].bought
        if other is None or (s, b) in needed:
            return False
        brings = any(r.kind in (RelationKind.ADAPTS, RelationKind.MEMBER) for r in other.relations)
        if brings or any(row.does for row in self.operations[s][b]):
            return False
        most = 0.0 if one is None else self.tariff.alone(one)
        if (most, a) >= (self.least[s][b], b):
            return False
        if self.choices.needs_of((s, a)) or self.choices.clashes_of((s, a)):
            bonds = self.choices
            mine = {need.by for need in bonds.needs_of((s, b))}
            if any(not any(n <= need.by for n in mine) for need in bonds.needs_of((s, a))):
                return False
            theirs = {_far(c.pair, (s, b)) for c in bonds.clashes_of((s, b)) if not c.bridges}
            if any(_far(c.pair, (s, a)) not in theirs for c in bonds.clashes_of((s, a))):
                return False
        if s in self.free_slots or self.no_holds:
            return True
        return car.survival(s, b) & ~car.survival(s, a) == 0

    def _push(self, domains: Domains, *, asked: bool = False, car: Settled | None = None, exact: bool = False) -> None:
        if car is not None and not self.no_holds and not self._may_hold(domains, car):
            return
        self._serial += 1
        bound = self.bounds.exact(domains) if exact else self.bounds.least_of(domains)
        changes = sum(not self.choices.options[s][d[0]].kept for s, d in enumerate(domains) if len(d) == 1)
        heapq.heappush(
            self._heap,
            _Node(
                bound=round(bound, 6),
                changes=changes,
                serial=self._serial,
                domains=domains,
                asked=asked,
                car=car,
                exact=exact,
            ),
        )

    def _may_hold(self, domains: Domains, car: Settled) -> bool:
        """False if no completion can carry the target in enough of the samples."""
        alive = self._full if self.no_engine else car.engine_survival
        for s, found in enumerate(domains):
            if s in self.free_slots:
                continue
            best = 0
            for option in found:
                best |= car.survival(s, option)
            alive &= best
            if alive.bit_count() < self.model.least:
                return False
        return True


def _far(pair: Sequence[tuple[int, int]], near: tuple[int, int]) -> tuple[int, int]:
    return pair[1] if pair[0] == near else pair[0]
