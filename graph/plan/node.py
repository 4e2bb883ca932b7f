"""Nodes of the search: what is still open, the cheapest completion, and where it breaks a rule."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from graph.model import RelationKind
from graph.plan.bond import Key
from graph.plan.bound import Bounds
from graph.plan.choice import Choices, Domains
from graph.plan.terms import Settled

Selection = tuple[int, ...]
#: Costs closer than this are the same [currency].
CENT = 1e-4
#: A slot and the options of it that one of two branches keeps; the other branch takes the rest.
Split = tuple[int, frozenset[int]]


@dataclass(order=True, slots=True)
class Node:
    """Options still possible in each slot, the cheapest first.

    Parameters
    ----------
    bound : float
        Net cost that no completion avoids [currency].
    changes, serial : int
        What orders nodes of one bound: fewer parts first, then the later found.
    domains : tuple of tuple of int
        Options of each slot.
    car : Settled or None
        Once the engine's state is known.
    glanced : bool
        True if a first look at the core found nothing against it.
    placed : bool
        True once the late slots of the context are settled.
    joined : bool
        True once what parts say to their neighbours is settled too.
    standing : bool
        True once the slots on which every verdict depends are settled.
    passed : tuple of int
        Options that were found good here, slot by slot; empty where nothing was asked.
    """

    bound: float
    changes: int
    serial: int
    domains: Domains = field(compare=False)
    car: Settled | None = field(compare=False, default=None)
    glanced: bool = field(compare=False, default=False)
    placed: bool = field(compare=False, default=False)
    joined: bool = field(compare=False, default=False)
    standing: bool = field(compare=False, default=False)
    passed: Selection = field(compare=False, default=())

    @property
    def cheapest(self) -> Selection:
        """The cheapest option of every slot."""
        return tuple(d[0] for d in self.domains)


class Rules:
    """What the cheapest completion of a node may break, and how to part the node where it does.

    Parameters
    ----------
    choices : Choices
        Options and bonds.
    bounds : Bounds
        Costs.
    """

    def __init__(self, choices: Choices, bounds: Bounds) -> None:
        self.choices, self.bounds = choices, bounds
        self.needed = frozenset(key for found in choices.needs.values() for need in found for key in need.by)

    def kept(self, domains: Domains, bound: float) -> Split | bool:
        """Where the cheapest options break a bond or cost more than the bound.

        Parameters
        ----------
        domains : tuple of tuple of int
            Of a node.
        bound : float
            Of the node [currency].

        Returns
        -------
        Split or bool
            How to part the node; True if they do neither, False if no completion can mend it.
        """
        split = self.broken(domains)
        return self.priced(domains, bound) if split is True else split

    def broken(self, domains: Domains, slots: Sequence[int] | None = None, beside: Sequence[int] = ()) -> Split | bool:
        """Where the cheapest options break a bond.

        Parameters
        ----------
        domains : tuple of tuple of int
            Of a node.
        slots : sequence of int or None
            Slots of which the bonds are looked at; None for all.
        beside : sequence of int
            Other slots to which these bonds may lead.

        Returns
        -------
        Split or bool
            How to part the node; True if nothing is broken, False if no completion can mend it.
        """
        own = {(s, domains[s][0]) for s in (range(len(domains)) if slots is None else slots)}
        chosen = own.union((s, domains[s][0]) for s in beside)
        for key in self.choices.bonded & own:
            for need in self.choices.needs_of(key):
                if not need.by & chosen:
                    return self._unmet(key, need.by, domains)
            for clash in self.choices.clashes_of(key):
                if clash.pair[0] in chosen and clash.pair[1] in chosen and not clash.bridges & chosen:
                    return self._clashing(clash.pair, clash.bridges, domains)
        return True

    @staticmethod
    def _unmet(key: Key, by: Iterable[Key], domains: Domains) -> Split | bool:
        if len(domains[key[0]]) > 1:
            return key[0], frozenset({key[1]})
        ways: dict[int, set[int]] = {}
        for t, j in by:
            if j in domains[t]:
                ways.setdefault(t, set()).add(j)
        if not ways:
            return False
        slot = min(ways, key=lambda t: (len(ways[t]), t))
        return slot, frozenset(ways[slot])

    @staticmethod
    def _clashing(pair: tuple[Key, Key], bridges: Iterable[Key], domains: Domains) -> Split | bool:
        for s, i in pair:
            if len(domains[s]) > 1:
                return s, frozenset({i})
        over: dict[int, set[int]] = {}
        for t, j in bridges:
            if j in domains[t]:
                over.setdefault(t, set()).add(j)
        if not over:
            return False
        slot = min(over)
        return slot, frozenset(over[slot])

    def priced(self, domains: Domains, bound: float) -> Split | bool:
        """Where the cost of the cheapest options is above the bound because something is shared.

        Parameters
        ----------
        domains : tuple of tuple of int
            Of a node.
        bound : float
            Of the node [currency].

        Returns
        -------
        Split or bool
            How to part the node; True if the bound is the cost.
        """
        selection = tuple(d[0] for d in domains)
        if self.bounds.exact(selection) <= bound + CENT:
            return True
        entangled = self.bounds.entangled
        for s, d in enumerate(domains):
            if len(d) > 1 and d[0] in entangled[s]:
                return s, frozenset({d[0]})
        for s, d in enumerate(domains):
            if len(d) > 1 and not entangled[s].isdisjoint(d):
                return s, frozenset({d[0]})
        open_slots = [s for s, d in enumerate(domains) if len(d) > 1]
        return (open_slots[0], frozenset({domains[open_slots[0]][0]})) if open_slots else False

    def replaceable(self, s: int, b: int, a: int) -> bool:
        """True if option `a` costs no more than `b` in every set, and no bond makes `b` the better one.

        Parameters
        ----------
        s : int
            Slot.
        b, a : int
            Options of it.
        """
        one, other = self.choices.options[s][a].bought, self.choices.options[s][b].bought
        if other is None or (s, b) in self.needed:
            return False
        brings = any(r.kind in (RelationKind.ADAPTS, RelationKind.MEMBER) for r in other.relations)
        if brings or any(row.does for row in self.bounds.operations[s][b]):
            return False
        most = 0.0 if one is None else self.bounds.tariff.alone(one)
        if (most, a) >= (self.bounds.least[s][b], b):
            return False
        if (s, a) in self.choices.bonded:
            mine = {need.by for need in self.choices.needs_of((s, b))}
            if any(not any(n <= need.by for n in mine) for need in self.choices.needs_of((s, a))):
                return False
            theirs = {far(c.pair, (s, b)) for c in self.choices.clashes_of((s, b)) if not c.bridges}
            if any(far(c.pair, (s, a)) not in theirs for c in self.choices.clashes_of((s, a))):
                return False
        return True


def far(pair: tuple[Key, Key], near: Key) -> Key:
    """The other one of a pair."""
    return pair[1] if pair[0] == near else pair[0]


def firsts(domains: Domains, slots: Iterable[int]) -> Mapping[int, int]:
    """The cheapest options of some slots."""
    return {s: domains[s][0] for s in slots}
