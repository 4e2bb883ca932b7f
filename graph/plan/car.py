"""A choice of the core with its engine state: what every other slot may hold there."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from graph.judge import Bench
from graph.limit import Control
from graph.model import Array, Setting
from graph.plan.alone import OPEN, Noted, Row, looks_around
from graph.plan.bond import Key
from graph.plan.state import Found, State
from graph.plan.survival import NEARLY, carried_by, exceeded_share, pack, reaches
from graph.sampling import THIN
from graph.solution import Solution
from graph.subject import Subject
from graph.variation import Variation, linked


class Car:
    """A choice of the whole core: an engine state, and what its parts say to the limits of others.

    Parameters
    ----------
    state : State
        Solved.
    core : mapping of int to int
        The choice; without the linking slots limits that hear their neighbours stay open.
    """

    def __init__(self, state: State, core: Mapping[int, int]) -> None:
        self.state, self.physics, self.core = state, state.physics, core
        self.whole = all(s in core for s in self.physics.linking)
        setting = state.question.setting
        shared = self.physics.shared(core, setting)
        told = self.physics.linked(core, setting) if self.whole else OPEN
        self.question = replace(state.question, setting=replace(setting, shared=shared, linked=told))
        self._fine: Solution | None = None
        self._bench: Bench | None = None
        self._every = pack(np.ones(self.physics.samples, dtype=bool))
        self.power, self.engine = state.power, state.engine
        self.found = Found()
        self._said: tuple[tuple[Variation, ...], Mapping[tuple[int, int], Setting]] | None = None

    @property
    def fine(self) -> Solution:
        """The state on the target's powers, heard with what its parts say."""
        if self._fine is None:
            self._fine = replace(self.state.fine, question=self.question)
        return self._fine

    @property
    def engine_survival(self) -> int:
        """Joint samples in which the engine makes the target, one bit each."""
        return self.state.survival

    def _subjects(self, key: Key) -> tuple[Subject, ...]:
        return self.physics.subjects(self.core, key, self.question.setting)[0]

    def _flat(self) -> Bench:
        return Bench(
            question=self.question,
            fine=self.fine,
            coarse=self.fine,
            variations=(),
            draws=self.physics.draws,
            configuration={},
            here=-1,
            moved={},
        )

    def ceiling(self, slot: int, option: int) -> float:
        """Lowest ceiling here of an option's limits, without spreads [W]."""
        key = (slot, option)
        for found in (self.state.found, self.found):
            if key in found.ceiling:
                return found.ceiling[key]
        flat, subjects = self._flat(), self._subjects(key)
        into = self._into(key)
        judged = (s for s in subjects if self.whole or not self._waits(s, flat))
        into.ceiling[key] = min((reaches(s, flat, 0) for s in judged), default=np.inf)
        return into.ceiling[key]

    def _waits(self, subject: Subject, bench: Bench) -> bool:
        """True if a limit hears neighbours that are not settled."""
        heard = Noted(bench.question.setting.linked)
        setting = replace(bench.question.setting, linked=heard)
        subject.utilisation(bench.fine.state(0), setting)
        return bool(heard.names)

    def _into(self, key: Key) -> Found:
        """Where to note what is found: with the state, unless it depends on what other parts say."""
        return self.found if self.physics.listens(key) else self.state.found

    def allowed(self, slot: int, option: int) -> bool:
        """True if every limit of an option is clear and carries the target in this car."""
        return self._clear((slot, option)) and self._reaches((slot, option))

    def _reaches(self, key: Key) -> bool:
        """True if the ceiling here is at or above the target; worked out in full only where a table leaves it open."""
        power = self.physics.target.power * NEARLY
        carried, at = self.physics.ledger.carried, (*self.state.key, "cell", *self._heard(key))
        if at not in carried:
            carried[at] = self._cell(key)
        low, high = carried[at]
        return bool(power <= low or (power <= high and self.ceiling(*key) >= power))

    def _heard(self, key: Key) -> tuple[Any, ...]:
        """An option, and what it hears of other parts."""
        physics = self.physics
        if not physics.listens(key):
            return (physics.label(key),)
        slots = (*physics.offering, *(physics.linking if self.whole else ()))
        return physics.label(key), self.whole, *(physics.alike(s, self.core[s]) for s in slots)

    def _cell(self, key: Key) -> tuple[float, float]:
        """Powers that an option carries and does not carry for certain, without spreads [W]."""
        bench = self._table()
        powers = bench.question.powers
        low, high = float("inf"), float("inf")
        for subject in self._subjects(key):
            judged = subject.rule.no_ceiling is None and subject.rule.control is not Control.SPARK
            if judged and (self.whole or not self._waits(subject, bench)):
                worst = bench.fine.worst(bench.fine.utilisation(subject, 0))
                over = np.flatnonzero(~(worst <= 1.0))
                first = int(over[0]) if over.size else powers.size
                low = min(low, float(powers[first - 1]) if first else 0.0)
                if first < powers.size and worst[first] > 1.0:
                    high = min(high, float(powers[first]))
        return low, high

    def _table(self) -> Bench:
        """The state with its spreads on powers that are the same for every target, heard with what its parts say."""
        if self._bench is None:
            solved = self.state.bench
            asked = replace(solved.question, setting=self.question.setting)
            fine, coarse = (replace(found, question=asked) for found in (solved.fine, solved.coarse))
            self._bench = replace(solved, question=asked, fine=fine, coarse=coarse, here=-1)
        return self._bench

    def _clear(self, key: Key) -> bool:
        verdict = self.physics.alone(self.core, key)
        if verdict is not None:
            return verdict
        for found in (self.state.found, self.found):
            if key in found.clear:
                return found.clear[key]
        power, draws = self.physics.target.power, self.physics.draws
        left = []
        for row in self.physics.unsure(self.core, key):
            allowed = self.physics.allowed_share(row.subject)
            if row.untouched(power, self.state.opened):
                share = row.exceeded(power, draws)
                clear: bool | None = share is not None and share <= allowed
            else:
                clear = row.settled(power, self.state.spools, allowed, draws)
            if clear is None:
                left.append(row)
            elif not clear:
                self.found.clear[key] = False
                return False
        if not left:
            self.found.clear[key] = True
            return True
        into = self._into(key)
        into.clear[key] = self._clear_on_own_curve(key, tuple(left))
        return into.clear[key]

    def _clear_on_own_curve(self, key: Key, rows: tuple[Row, ...]) -> bool:
        """Judge limits alone in which the turbocharger's own curve has a say."""
        physics, state = self.physics, self.state
        held = state.held
        if held is None or key in physics.feeds:
            asked = state.question
            last = asked.at_target
            powers = asked.powers[np.unique(np.append(np.arange(0, last, THIN), last))]
            until = replace(asked, powers=powers, at_target=powers.size - 1)
            held = physics.bench(self.core, key, until, state.spools)
            if key not in physics.feeds:
                state.held = held
        shared = replace(held.question, setting=replace(held.question.setting, shared=self.question.setting.shared))
        own = physics.variations(key, held.question)
        bench = replace(
            held,
            question=shared,
            fine=replace(held.fine, question=shared),
            coarse=replace(held.coarse, question=shared),
            variations=tuple({v.index: v for v in (*held.variations, *own)}.values()),
        )
        for row in rows:
            around = looks_around(row.subject, bench, 1)
            share = exceeded_share(row.subject, physics.with_offers(bench, self.core) if around else bench, 1)
            if share is None or share > physics.allowed_share(row.subject):
                return False
        return True

    def survival(self, slot: int, option: int) -> int:
        """Joint samples in which every limit of an option carries the target, one bit each."""
        key = (slot, option)
        carried, at = self.physics.ledger.carried, (*self.state.key, "samples", *self._heard(key))
        if at not in carried:
            carried[at] = self._carried(key)
        found = carried[at]
        if found is None:
            return self._every
        return pack(found >= self.physics.target.power * NEARLY)

    def _carried(self, key: Key) -> Array | None:
        """What an option carries in each sample [W]; None where no limit is passed in any."""
        bench = self._table()
        own = self.physics.variations(key, bench.question)
        bench = replace(bench, variations=tuple({v.index: v for v in (*bench.variations, *own)}.values()))
        found: Array | None = None
        for subject in self._subjects(key):
            judged = subject.rule.no_ceiling is None and subject.rule.control is not Control.SPARK
            if judged and (self.whole or not self._waits(subject, bench)):
                mine = self._with_neighbours(bench) if looks_around(subject, bench, 0) else bench
                response, _ = mine.utilisation(subject, 0)
                most = carried_by(response, mine.last_power(0), mine)
                if most is not None:
                    found = most if found is None else np.minimum(found, most)
        return found

    def _with_neighbours(self, bench: Bench) -> Bench:
        """The bench on which what other parts offer and tell varies with their ratings."""
        if not self.whole:
            return self.physics.with_offers(bench, self.core)
        if self._said is None:
            physics, setting = self.physics, self.question.setting
            moving, moved = physics.offers(self.core, replace(setting, linked={}))
            keys = [(s, self.core[s]) for s in physics.linking]
            build = replace(physics.build, places=tuple(physics.place(k) for k in keys))
            speaking = tuple(v for k in keys for v in physics.variations(k, self.question))
            said = linked(speaking, build, physics.kinds, setting, moved)
            heard = (*moving, *(v for v in speaking if (v.index, 1) in said))
            self._said = tuple({v.index: v for v in heard}.values()), said
        variations, said_by = self._said
        together = {v.index: v for v in (*bench.variations, *variations)}
        return replace(bench, variations=tuple(together.values()), offered=said_by)
