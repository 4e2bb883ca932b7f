"""In how many joint samples the finished car carries the target, with the slots that ruled it out before asked first."""

from __future__ import annotations

from collections.abc import Iterable

from graph.plan.choice import Domains
from graph.plan.node import Split
from graph.plan.terms import Model, Settled


class Holds:
    """The joint samples of cars whose engine state is known.

    Parameters
    ----------
    model : Model
        For the samples wanted.
    free : frozenset of int
        Slots whose limits are left out.
    no_engine : bool
        True to leave out what the engine makes.
    """

    def __init__(self, model: Model, free: frozenset[int], *, no_engine: bool) -> None:
        self.model, self.free, self.no_engine = model, free, no_engine
        self._all = (1 << (8 * ((model.samples + 7) // 8))) - 1
        self._suspects: tuple[int, ...] = ()

    def engine(self, car: Settled) -> int:
        """Samples in which the engine makes the target, one bit each."""
        return self._all if self.no_engine else car.engine_survival

    def lost(self, domains: Domains, car: Settled) -> bool:
        """True if the slots that ruled out an earlier car leave too few samples whatever is chosen.

        Parameters
        ----------
        domains : tuple of tuple of int
            Of a node.
        car : Settled
            Its engine state.
        """
        alive = self._all
        for s in self._suspects:
            alive &= self._best(car, s, domains[s], alive)
            if alive.bit_count() < self.model.least:
                return True
        return bool(self._suspects) and (alive & self.engine(car)).bit_count() < self.model.least

    def _best(self, car: Settled, slot: int, options: Iterable[int], wanted: int) -> int:
        """Samples in which any option of a slot carries the target, until all that are wanted are covered."""
        best = 0
        for i in options:
            best |= car.survival(slot, i)
            if best & wanted == wanted:
                break
        return best

    def short(self, domains: Domains, car: Settled) -> Split | bool:
        """Where the cheapest options carry the target in too few samples.

        Parameters
        ----------
        domains : tuple of tuple of int
            Of a node.
        car : Settled
            Its engine state.

        Returns
        -------
        Split or bool
            How to part the node; True if there are enough samples, False if no completion has enough.
        """
        engine, least = self.engine(car), self.model.least
        if engine.bit_count() < least:
            return False
        slots = [s for s in range(len(domains)) if s not in self.free]
        own = {s: car.survival(s, domains[s][0]) for s in slots}
        alive = engine
        for bits in own.values():
            alive &= bits
        if alive.bit_count() >= least:
            return True
        best = {s: own[s] | self._best(car, s, domains[s], engine) for s in slots}
        if self._ruled_out(best, engine):
            return False
        gain = {s: (engine & best[s] & ~own[s]).bit_count() for s in slots}
        slot = max(gain, key=lambda s: (gain[s], -s))
        return (slot, frozenset({domains[slot][0]})) if gain[slot] else False

    def _ruled_out(self, best: dict[int, int], engine: int) -> bool:
        """True if too few samples are left with the best of every slot; the slots that suffice are asked first from now."""
        alive = engine
        for n, s in enumerate(sought := sorted(best, key=lambda s: (engine & best[s]).bit_count())):
            alive &= best[s]
            if alive.bit_count() < self.model.least:
                self._suspects = tuple(sought[: n + 1])
                return True
        return False
