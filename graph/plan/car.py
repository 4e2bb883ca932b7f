"""A choice of the core with its engine state: what the slots that do not feed it may hold."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from graph.check import COARSE_SPEEDS
from graph.judge import Bench, Variation
from graph.limit import Control
from graph.plan.bond import Key
from graph.plan.reading import read
from graph.plan.stand import looks_around
from graph.plan.survival import NEARLY, pack, passes, reaches
from graph.plan.trait import gained
from graph.solution import Question, Solution

if TYPE_CHECKING:
    from graph.plan.physics import Physics


class Car:
    """A choice of the core with its engine state."""

    def __init__(self, physics: Physics, core: Mapping[int, int], fine: Solution, question: Question) -> None:
        self.physics, self.core = physics, core
        shared = physics.shared(core, question.setting)
        self.question = replace(question, setting=replace(question.setting, shared=shared))
        self.fine = replace(fine, question=self.question)
        self.power = float(fine.capped_power[0])
        self.engine = self.power >= physics.target.power * NEARLY
        self._bench: Bench | None = None
        self._allowed: dict[Key, bool] = {}
        self._survival: dict[Key, int] = {}
        self._ceiling: dict[Key, float] = {}
        self._engine_survival: int | None = None

    def ceiling(self, slot: int, option: int) -> float:
        """Lowest ceiling here of an option's limits, without spreads [W]."""
        key = (slot, option)
        if key not in self._ceiling:
            found, _ = self.physics.subjects(self.core, key, self.question.setting)
            flat = Bench(
                question=self.question,
                fine=self.fine,
                coarse=self.fine,
                variations=(),
                draws=self.physics.draws,
                configuration={},
                here=0,
                moved={},
            )
            self._ceiling[key] = min((reaches(s, flat, 0) for s in found), default=np.inf)
        return self._ceiling[key]

    def allowed(self, slot: int, option: int) -> bool:
        """True if every limit of an option is clear and carries the target in this car."""
        key = (slot, option)
        if key not in self._allowed:
            self._allowed[key] = self.ceiling(slot, option) >= self.physics.target.power * NEARLY and self._clear(key)
        return self._allowed[key]

    def _clear(self, key: Key) -> bool:
        verdict = self.physics.alone(self.core, key)
        if verdict is None:
            spools = (self.fine.spool, self.bench.coarse.spool)
            verdict, _ = self.physics.judged(self.core, key, spools)
        return bool(verdict)

    @property
    def bench(self) -> Bench:
        """The state with the spreads of the core's parts."""
        if self._bench is None:
            self._bench = self._solved()
        return self._bench

    def _solved(self) -> Bench:
        physics = self.physics
        paths = [physics.here(self.core)]
        moved: dict[tuple[int, int, int], int] = {}
        found: list[Variation] = list(physics.model)
        for v in physics.model:
            for sign in (1, -1):
                moved[v.index, sign, 0] = len(paths)
                paths.append(gained(paths[0], v, sign))
        for s in physics.core:
            key = (s, self.core[s])
            if key not in physics.feeds:
                continue
            for v in physics.variations(key, self.question):
                if v.changes_state:
                    found.append(v)
                    for sign in (1, -1):
                        moved[v.index, sign, 0] = len(paths)
                        paths.append(physics.here(self.core, {s: physics.shifted(key, v, sign, self.question)}))
        states = physics.solve(paths, self.question, self.question.target, COARSE_SPEEDS)
        spool = states.highest_torque(drive_only=True)[0][0]
        coarse = read(states, self.question, own=True, spool=spool)
        return Bench(
            question=self.question,
            fine=self.fine,
            coarse=coarse,
            variations=tuple(found),
            draws=physics.draws,
            configuration={},
            here=0,
            moved=moved,
        )

    @property
    def engine_survival(self) -> int:
        """Joint samples in which the engine makes the target, one bit each."""
        if self._engine_survival is None:
            made = self.bench.last_power(0, capped=True).sample(self.physics.draws)[:, 0]
            self._engine_survival = pack(made >= self.physics.target.power * NEARLY)
        return self._engine_survival

    def survival(self, slot: int, option: int) -> int:
        """Joint samples in which every limit of an option carries the target, one bit each."""
        key = (slot, option)
        if key not in self._survival:
            found, _ = self.physics.subjects(self.core, key, self.question.setting)
            own = self.physics.variations(key, self.question)
            together = tuple({v.index: v for v in (*self.bench.variations, *own)}.values())
            mine = replace(self.bench, variations=together)
            flags = np.ones(self.physics.samples, dtype=bool)
            for subject in found:
                if subject.rule.no_ceiling is None and subject.rule.control is not Control.SPARK:
                    around = looks_around(subject, mine, 0)
                    bench = self.physics.with_offers(mine, self.core) if around else mine
                    response, _ = bench.utilisation(subject, 0)
                    flags &= passes(response, bench.last_power(0), bench)
            self._survival[key] = pack(flags)
        return self._survival[key]
