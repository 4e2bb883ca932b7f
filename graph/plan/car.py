"""A choice of the core with its engine state: what every other slot may hold there."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType

import numpy as np

from graph.judge import Bench
from graph.limit import Control
from graph.model import Setting
from graph.plan.alone import Noted, Row, looks_around
from graph.plan.bond import Key
from graph.plan.state import Found, State
from graph.plan.survival import NEARLY, exceeded_share, pack, passes, reaches
from graph.sampling import THIN
from graph.solution import Solution
from graph.subject import Subject
from graph.variation import Variation, linked

#: Stands for what neighbours tell where that is not settled.
OPEN: Mapping[str, float] = MappingProxyType({"nothing settled": float("nan")})


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
        into = self.found if self._hears(key, subjects, flat) else self.state.found
        judged = (s for s in subjects if self.whole or not self._waits(s, flat))
        into.ceiling[key] = min((reaches(s, flat, 0) for s in judged), default=np.inf)
        return into.ceiling[key]

    def _waits(self, subject: Subject, bench: Bench) -> bool:
        """True if a limit hears neighbours that are not settled."""
        heard = Noted(bench.question.setting.linked)
        setting = replace(bench.question.setting, linked=heard)
        subject.utilisation(bench.fine.state(0), setting)
        return bool(heard.names)

    def _hears(self, key: Key, subjects: tuple[Subject, ...], bench: Bench) -> bool:
        """True if what is found about an option depends on what other parts say."""
        rules = self.physics.kinds[self.physics.place(key).slot.kind].limits
        return any(rule.needs for rule in rules) or any(looks_around(s, bench, 0) for s in subjects)

    def allowed(self, slot: int, option: int) -> bool:
        """True if every limit of an option is clear and carries the target in this car."""
        key = (slot, option)
        return self._clear(key) and self.ceiling(slot, option) >= self.physics.target.power * NEARLY

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
            if not row.untouched(power, self.state.opened):
                left.append(row)
                continue
            share = row.exceeded(power, draws)
            if share is None or share > self.physics.allowed_share(row.subject):
                self.found.clear[key] = False
                return False
        if not left:
            self.found.clear[key] = True
            return True
        into = self.found if self._hears(key, self._subjects(key), self._flat()) else self.state.found
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
        for found in (self.state.found, self.found):
            if key in found.survival:
                return found.survival[key]
        subjects, flat = self._subjects(key), self._flat()
        heard = self._hears(key, subjects, flat)
        bench = replace(
            self.state.bench,
            question=self.question,
            fine=self.fine,
            coarse=replace(self.state.bench.coarse, question=self.question),
            here=-1,
        )
        own = self.physics.variations(key, self.question)
        bench = replace(bench, variations=tuple({v.index: v for v in (*bench.variations, *own)}.values()))
        flags = np.ones(self.physics.samples, dtype=bool)
        for subject in subjects:
            judged = subject.rule.no_ceiling is None and subject.rule.control is not Control.SPARK
            if judged and (self.whole or not self._waits(subject, bench)):
                mine = self._with_neighbours(bench) if looks_around(subject, bench, 0) else bench
                response, _ = mine.utilisation(subject, 0)
                flags &= passes(response, mine.last_power(0), mine)
        into = self.found if heard else self.state.found
        into.survival[key] = pack(flags)
        return into.survival[key]

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
