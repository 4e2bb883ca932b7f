"""The cheapest choice, proven: best first over lower bounds of cost, with the physics asked for but never assumed."""

from __future__ import annotations

import math
import time
from collections.abc import Sequence

from graph.plan.bond import Key
from graph.plan.bound import Bounds
from graph.plan.choice import Choices, Domains
from graph.plan.floor import Floors
from graph.plan.fringe import Fringe
from graph.plan.hold import Holds
from graph.plan.labour import Tariff
from graph.plan.node import CENT, Node, Rules, Selection, Split, firsts
from graph.plan.outcome import ENGINE, HOLDS, Outcome, limit_of
from graph.plan.terms import Model, Settled
from graph.plan.verdict import Verdicts

#: Cores looked at side by side: at first and at most; how far above the cheapest one they may lie [currency, net],
#: and how many nodes may be opened to find them.
FIRST_BATCH, BATCH = 8, 128
AHEAD = 400.0
REACH = 600
#: Longest that a choice is looked for once the time is up [s].
LAST = 5.0
#: Engine states solved side by side once a few have been refused.
TOGETHER = 12


class Search:
    """Best-first search over the choices of one car.

    Every node is a set of options still possible in each slot. Its bound holds the prices and the labour that no
    completion can avoid; physics only ever strikes options out, and is asked only about the cheapest option of a
    slot. The first complete choice that passes the full check is therefore the cheapest of all.

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
        self.choices, self.model = choices, model
        self.free_slots = frozenset(s for s, name in enumerate(choices.names) if limit_of(name) in choices.relaxed)
        self.no_engine, self.no_holds = ENGINE in choices.relaxed, HOLDS in choices.relaxed
        self.confirm = confirm
        self.bounds = Bounds(choices, tariff)
        self.rules = Rules(choices, self.bounds)
        #: With reasons left out no look at the core helps, and few limits are left: those that a state of the engine
        #: passes are passed with every late part, so the late slots come after it.
        self.relaxed = self.no_engine or bool(self.free_slots)
        self.holds = Holds(model, self.free_slots, no_engine=self.no_engine)
        self.late = model.late
        self.verdicts = Verdicts(choices, model, no_engine=self.no_engine)
        floors = Floors(choices, self.bounds, self.rules, self.verdicts, model, self.free_slots)
        self.fringe = Fringe(choices, self.bounds, floors)
        self.core = tuple(s for s in model.core if s not in model.context)
        self._stages: tuple[tuple[int, ...], tuple[int, ...]] = (), self.core
        self.effort = {"nodes": 0, "looks": 0, "states": 0, "checks": 0}
        self._batch = FIRST_BATCH
        self._order = list(range(len(choices.options)))
        self._refused: set[Selection] = set()
        self._fetched: set[int] = set()

    def run(self, *, budget: float = math.inf, deadline: float | None = None, nodes: float = math.inf) -> Outcome:
        """Search to the end, to the budget, to the deadline or until so many nodes are opened.

        Parameters
        ----------
        budget : float
            Largest net cost of interest [currency].
        deadline : float or None
            Reading of :func:`time.monotonic` at which to stop [s].
        nodes : float
            Most nodes to open [1].

        Returns
        -------
        Outcome
            The cheapest accepted choice with its proof, or the best so far with its bound.
        """
        root = self.choices.narrowed(self.choices.all())
        if root is not None:
            root = self.bounds.ordered(root)
            self._stages = self.bounds.staged(root, self.core)
            self.fringe.push(root, placed=not self.late)
        while self.fringe:
            node = self.fringe.pop()
            if node.bound > budget + CENT:
                return Outcome(selection=None, net=None, bound=node.bound, ended=True, effort=self.effort)
            if deadline is not None and time.monotonic() > deadline:
                self.fringe.back([node])
                return self._dive(node.bound, budget)
            if self.effort["nodes"] >= nodes:
                return Outcome(selection=None, net=None, bound=node.bound, ended=False, effort=self.effort)
            found = self._step(node)
            if found is not None:
                return Outcome(selection=found, net=node.bound, bound=node.bound, ended=True, effort=self.effort)
        return Outcome(selection=None, net=None, bound=math.inf, ended=True, effort=self.effort)

    def _dive(self, bound: float, budget: float, nodes: int = 400) -> Outcome:
        """Out of time: go down from the most settled nodes to any accepted choice, not for long."""
        until = time.monotonic() + LAST
        for start in self.fringe.settled()[:8]:
            self.fringe.only(start)
            while self.fringe and nodes > 0 and time.monotonic() < until:
                nodes -= 1
                node = self.fringe.latest()
                found = self._step(node) if node.bound <= budget else None
                if found is not None:
                    return Outcome(selection=found, net=node.bound, bound=bound, ended=False, effort=self.effort)
        return Outcome(selection=None, net=None, bound=bound, ended=False, effort=self.effort)

    def _step(self, node: Node) -> Selection | None:
        """Take one node further; the choice if it is complete and accepted."""
        self.effort["nodes"] += 1
        if node.car is None:
            if not self._advanced(node):
                self._settle(node)
            return None
        selection = node.cheapest
        split = self.rules.kept(node.domains, node.bound)
        if split is True and not self._freshened(node):
            return None
        if split is True and self._placed(node):
            return None
        if split is True and not self.no_holds:
            split = self.holds.short(node.domains, node.car)
        if split is True and not node.joined:
            self._join(node)
        elif split is True and selection not in self._refused:
            if not self.confirm or self._accepted(selection):
                return selection
            self._refused.add(selection)
            self.verdicts.forget()
            self.fringe.push(node.domains, standing=True, car=node.car, placed=True, joined=True)
        elif split is True:
            slot = next((s for s, d in enumerate(node.domains) if len(d) > 1), None)
            if slot is not None:
                self._part(node, (slot, frozenset({selection[slot]})))
        elif split is not False:
            self._part(node, split)
        return None

    def _join(self, node: Node) -> None:
        """Settle the next slot whose part says something to its neighbours; with all of them the car is whole."""
        if self._parted(node, self.model.linking):
            return
        car = self.model.settle([firsts(node.domains, (*self.model.core, *self.model.linking))])[0]
        self.fringe.push(node.domains, standing=True, car=car, placed=True, joined=True)

    def _advanced(self, node: Node) -> bool:
        """Settle one more slot of the core, or strike out what is not clear; False once the core is complete."""
        if self._parted(node, self.verdicts.standing):
            return True
        if not self.verdicts.engine(node.domains) or not self._freshened(node):
            return True
        if not node.standing:
            self.fringe.push(node.domains, standing=True, placed=node.placed, passed=node.passed)
            return True
        bringing, plain = self._stages
        return (
            self._parted(node, bringing)
            or self._costed(node)
            or (not self.relaxed and self._placed(node))
            or self._parted(node, plain)
            or self._costed(node)
        )

    def _placed(self, node: Node) -> bool:
        """Settle the late slots; with all of them what the parts offer to one another is known, and is asked anew."""
        if self._parted(node, self.late):
            return True
        if not node.placed:
            car = None if node.car is None else self.model.settle([firsts(node.domains, self.model.core)])[0]
            joined = car is not None and not self.model.linking
            self.fringe.push(node.domains, standing=True, car=car, placed=True, joined=joined)
        return not node.placed

    def _costed(self, node: Node) -> bool:
        """True if the cheapest options broke a bond or cost more than the bound, and the node was parted for it.

        Prices are asked before the engine's state: a split by price costs nothing, a state does.
        """
        split = self.rules.kept(node.domains, node.bound)
        if split is True:
            return False
        if split is not False:
            self._part(node, split)
        return True

    def _parted(self, node: Node, slots: tuple[int, ...]) -> bool:
        """True if a slot that held options of several kinds was parted: those like the cheapest, and the rest."""
        split = self.verdicts.mixed(node.domains, slots)
        if split is not None:
            self._part(node, split)
        return split is not None

    def _freshened(self, node: Node) -> bool:
        """True if the cheapest option of every slot is good; else the node is taken up again without the bad ones."""
        live: list[tuple[int, ...]] | None = None
        passed = node.passed or (-1,) * len(node.domains)
        for s in self._order:
            found = node.domains[s]
            if found[0] == passed[s] or s in self.free_slots:
                continue
            n = 0
            while n < len(found) and not self._good(node, (s, found[n])):
                n += 1
            if n:
                if self._order[0] != s:
                    self._order = [s, *(t for t in self._order if t != s)]
                if n == len(found):
                    return False
                live = live or list(node.domains)
                live[s] = found[n:]
        if live is None:
            node.passed = node.cheapest
            return True
        left = self.choices.narrowed(tuple(live))
        if left is not None:
            glanced = node.glanced and node.car is None and self._same_core(node, left)
            self.fringe.push(
                left, standing=node.standing, car=node.car, glanced=glanced, placed=node.placed, joined=node.joined
            )
        return False

    def _same_core(self, node: Node, domains: Domains) -> bool:
        return all(node.domains[s] == domains[s] for s in self.model.core)

    def _good(self, node: Node, key: Key) -> bool:
        clear = self.verdicts.clear(node.domains, node.placed, key)
        return clear and (node.car is None or self._unheard(node, key) or node.car.allowed(*key))

    def _unheard(self, node: Node, key: Key) -> bool:
        """True if what an option hears of the late slots is not settled."""
        return not node.placed and self.model.hears(*key)

    def _accepted(self, selection: Selection) -> bool:
        self.effort["checks"] += 1
        return self.model.confirm(selection)

    def _part(self, node: Node, split: Split) -> None:
        """Part a node: one branch keeps some options of a slot, the other one the rest."""
        slot, chosen = split
        found = node.domains[slot]
        kept, rest = tuple(i for i in found if i in chosen), tuple(i for i in found if i not in chosen)
        if node.joined and node.car is not None and len(kept) == 1 and self._judged(node, (slot, kept[0])):
            rest = tuple(b for b in rest if not self._beaten(slot, b, kept[0], node.car))
        for part in (rest, kept):
            left = self.choices.narrowed((*node.domains[:slot], part, *node.domains[slot + 1 :])) if part else None
            if left is not None:
                known = node.passed if node.car is not None or self._within(slot) else ()
                self.fringe.push(
                    left, standing=node.standing, car=node.car, placed=node.placed, joined=node.joined, passed=known
                )

    def _unsolved(self) -> list[Node]:
        """The lowest nodes that lack nothing but their engine state and were not looked at for it before."""
        near = self.fringe.unsolved(TOGETHER, self._fetched)
        self._fetched.update(n.serial for n in near)
        return near

    def _within(self, slot: int) -> bool:
        """True for a slot that may change without changing what any part is judged by."""
        return slot not in self.model.context

    def _judged(self, node: Node, key: Key) -> bool:
        return key[0] in self.free_slots or self._good(node, key)

    def _beaten(self, s: int, b: int, a: int, car: Settled) -> bool:
        """True if `a` does everything in this car that `b` does, for no more money."""
        if not self.rules.replaceable(s, b, a):
            return False
        if s in self.free_slots or self.no_holds:
            return True
        best = car.survival(s, a)
        engine = self.holds.engine(car)
        return best & engine == engine or car.survival(s, b) & ~best == 0

    def _settle(self, node: Node) -> None:
        """Look at the core, and at the next cheapest ones with it; solve the engine's state where nothing is amiss."""
        if node.glanced:
            self.effort["states"] += 1
            near = [] if node.serial in self._fetched or self.effort["states"] <= TOGETHER else self._unsolved()
            car = self.model.settle([firsts(n.domains, self.model.core) for n in (node, *near)])[0]
            lost = node.placed and not self.no_holds and self.holds.lost(node.domains, car)
            if (car.engine or self.no_engine) and not lost:
                joined = node.placed and not self.model.linking
                self.fringe.push(node.domains, standing=True, car=car, placed=node.placed, joined=joined)
            return
        batch = [node]
        aside: list[Node] = []
        opened = 0
        while self.fringe and len(batch) < self._batch and opened < REACH:
            other = self.fringe.pop()
            if other.bound > node.bound + AHEAD:
                aside.append(other)
                break
            opened += 1
            if other.car is not None or other.glanced or not self.verdicts.opened(other.domains):
                aside.append(other)
            elif not self._advanced(other):
                batch.append(other)
        self.fringe.back(aside)
        self._batch = min(2 * self._batch, BATCH)
        self.effort["looks"] += len(batch)
        cores = [firsts(n.domains, self.model.core) for n in batch]
        seen: Sequence[tuple[int, ...] | None] = [()] * len(batch) if self.relaxed else self.model.glance(cores)
        for waiting, blamed in zip(batch, seen, strict=True):
            if blamed is None:
                continue
            live = tuple(d[1:] if s in blamed else d for s, d in enumerate(waiting.domains))
            left = self.choices.narrowed(live) if blamed else live
            if left is not None:
                said = self.verdicts.said
                same = said(left, self.core) == said(waiting.domains, self.core)
                known = waiting.passed if same else ()
                self.fringe.push(left, standing=True, glanced=not blamed, placed=waiting.placed, passed=known)
