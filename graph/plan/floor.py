"""The least that parts bound to one another cost together: found once, and no less in every choice made of them."""

from __future__ import annotations

import heapq
import math
from collections.abc import Iterable

from graph.plan.bound import Bounds
from graph.plan.choice import Choices, Domains
from graph.plan.node import Rules
from graph.plan.terms import Model
from graph.plan.verdict import Verdicts

#: Most sets of options opened for one floor; with more, the floor is the bound reached.
OPENED = 400
#: Options of a slot that are asked whether they hear what others offer; a slot that is missed makes a floor lower only.
ASKED = 2
#: Floors remembered: the same options of a group are met again with every choice of the other groups.
REMEMBERED = 20_000


class Floors:
    """Floors under the cost of groups of slots.

    Slots belong to one group where a part of one requires or clashes with a part of another, or where limits of the
    one hear what the other offers. Labour that is shared between slots is left out of a floor, and every option of
    another group is taken as good: a floor is then a bound of what any accepted choice pays in these slots.

    Parameters
    ----------
    choices : Choices
        The options.
    bounds : Bounds
        Their prices.
    rules : Rules
        Their bonds.
    verdicts : Verdicts
        On options alone.
    model : Model
        For the slots on which verdicts depend.
    free : frozenset of int
        Slots whose limits are left out.
    """

    def __init__(
        self,
        choices: Choices,
        bounds: Bounds,
        rules: Rules,
        verdicts: Verdicts,
        model: Model,
        free: frozenset[int],
    ) -> None:
        self.choices, self.bounds, self.rules, self.verdicts = choices, bounds, rules, verdicts
        self.late, self.free = model.late, free
        self._open = choices.all()
        self._found: dict[Domains, float] = {}
        self.groups = tuple(g for g in _groups(choices, model, verdicts.standing) if len(g) > 1)

    def added(self, domains: Domains) -> float:
        """What the floors add to the sum of the cheapest prices.

        Parameters
        ----------
        domains : tuple of tuple of int
            Options of each slot, the cheapest first; the slots on which every verdict depends are settled.

        Returns
        -------
        float
            Infinity where no choice of a group is good [currency].
        """
        return sum(self._floor(domains, group) - self._price(domains, group) for group in self.groups)

    def _floor(self, domains: Domains, group: tuple[int, ...]) -> float:
        """Floor of one group; it depends on the options of the group and of the settled slots, and on no others."""
        held = {s: domains[s] for s in (*group, *self.verdicts.standing)}
        key = tuple(held.values())
        if key not in self._found:
            if len(self._found) >= REMEMBERED:
                self._found.clear()
            self._found[key] = self._lowest(tuple(held.get(s, d) for s, d in enumerate(self._open)), group)
        return self._found[key]

    def _lowest(self, domains: Domains, group: tuple[int, ...]) -> float:
        """Best first over the options of a group, as the search itself goes, every other slot being open."""
        late = tuple(s for s in self.late if s in group)
        serial = 0
        heap: list[tuple[float, int, Domains]] = [(self._price(domains, group), serial, domains)]
        while heap:
            price, _, held = heapq.heappop(heap)
            if serial > OPENED:
                return price
            parts = self._next(held, group, late)
            if parts is None:
                return price
            for part in parts:
                left = self.choices.narrowed(part)
                if left is not None:
                    serial += 1
                    heapq.heappush(heap, (max(price, self._price(left, group)), -serial, left))
        return math.inf

    def _price(self, domains: Domains, group: Iterable[int]) -> float:
        return sum(self.bounds.least[s][domains[s][0]] for s in group)

    def _next(self, domains: Domains, group: tuple[int, ...], late: tuple[int, ...]) -> list[Domains] | None:
        """What is left without options that are not clear, or both branches of a split; None if nothing is amiss."""
        split = self.rules.broken(domains, group, self.verdicts.standing)
        if split is True:
            placed = bool(late) and self.verdicts.mixed(domains, self.late) is None
            live = list(domains)
            for s in group:
                while s not in self.free and live[s] and not self.verdicts.clear(domains, placed, (s, live[s][0])):
                    live[s] = live[s][1:]
            if live != list(domains):
                return [tuple(live)]
            split = self.verdicts.mixed(domains, late) or True
        if split is True:
            return None
        if split is False:
            return []
        slot, chosen = split
        branches = (
            tuple(i for i in domains[slot] if i not in chosen),
            tuple(i for i in domains[slot] if i in chosen),
        )
        return [(*domains[:slot], branch, *domains[slot + 1 :]) for branch in branches]


def _groups(choices: Choices, model: Model, settled: tuple[int, ...]) -> list[tuple[int, ...]]:
    """Slots that are bound to one another, those that are settled left out."""
    root = list(range(len(choices.options)))

    def top(s: int) -> int:
        while root[s] != s:
            s = root[s]
        return s

    def join(slots: Iterable[int]) -> None:
        tops = {top(s) for s in slots if s not in settled}
        for s in tops:
            root[s] = min(tops)

    for needs in choices.needs.values():
        for need in needs:
            join({need.of[0], *(t for t, _ in need.by)})
    for clashes in choices.clashes.values():
        for clash in clashes:
            join({s for s, _ in (*clash.pair, *clash.bridges)})
    hearing = {s for s, found in enumerate(choices.options) for i in range(min(ASKED, len(found))) if model.hears(s, i)}
    join({*model.late, *hearing})
    groups: dict[int, list[int]] = {}
    for s in range(len(root)):
        groups.setdefault(top(s), []).append(s)
    return [tuple(g) for g in groups.values()]
