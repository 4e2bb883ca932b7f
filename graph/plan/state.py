"""An engine state of one choice of fuel and feeding parts, with its spreads."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from graph.check import COARSE_SPEEDS
from graph.curve import asked_torque
from graph.judge import Bench
from graph.model import Array
from graph.operation import EngineMap, prepare
from graph.plan.bond import Key
from graph.plan.reading import read
from graph.plan.survival import NEARLY, pack
from graph.plan.trait import gained
from graph.solution import Question, Solution
from graph.variation import Variation

if TYPE_CHECKING:
    from graph.plan.physics import Physics


@dataclass(slots=True, eq=False)
class Found:
    """What was found about options: ceilings [W], verdicts, samples survived."""

    ceiling: dict[Key, float] = field(default_factory=dict)
    clear: dict[Key, bool] = field(default_factory=dict)
    survival: dict[Key, int] = field(default_factory=dict)


class State:
    """An engine state: one choice of fuel and of the parts that feed it, for one target.

    Parameters
    ----------
    physics : Physics
        The model.
    core : mapping of int to int
        The choice; of its other slots nothing is used.
    states : EngineMap
        Solved without spreads.
    question : Question
        The target.
    """

    def __init__(self, physics: Physics, core: Mapping[int, int], states: EngineMap, question: Question) -> None:
        self.physics, self.core, self.question = physics, dict(core), question
        self._map = states
        self._fine: Solution | None = None
        capped, _ = states.highest_torque(question.target.boost_cap)
        counted = states.engine.speed >= question.power_speed * (1.0 - 1e-9)
        self.power = float((capped[0] * 2.0 * np.pi * states.engine.speed)[counted].min())
        self.engine = self.power >= physics.target.power * NEARLY
        self.found = Found()
        self.held: Bench | None = None
        self._bench: Bench | None = None
        self._spools: tuple[Array, Array] | None = None
        self._survival: int | None = None
        self._opened: float | None = None

    @property
    def fine(self) -> Solution:
        """The state on the target's powers, without spreads."""
        if self._fine is None:
            self._fine = read(self._map, self.question, own=True, spool=self.spools[0])
        return self._fine

    @property
    def opened(self) -> float:
        """Speed by which the turbocharger's own curve has reached the torque asked, on both grids [1/s]."""
        if self._opened is None:
            asked, found = self.question, []
            grids = self._map.engine.speed, prepare(self.physics.build.platform, COARSE_SPEEDS, asked.power_speed).speed
            for speed, spool in zip(grids, self.spools, strict=True):
                torque = asked_torque(asked.target, np.array([asked.target.power]), speed, asked.power_speed)[0]
                reached = np.flatnonzero(spool >= torque)
                found.append(float(speed[reached[0]]) if reached.size else float("inf"))
            self._opened = max(found)
        return self._opened

    @property
    def spools(self) -> tuple[Array, Array]:
        """The turbocharger's own curve on the fine and on the coarse grid [N.m]."""
        if self._spools is None:
            physics = self.physics
            coarse = physics.solve([physics.here(self.core)], self.question, self.question.target, COARSE_SPEEDS)
            found = (states.highest_torque(drive_only=True)[0][0] for states in (self._map, coarse))
            fine_spool, coarse_spool = found
            self._spools = fine_spool, coarse_spool
        return self._spools

    @property
    def bench(self) -> Bench:
        """The state with the spreads of the parts that feed it."""
        if self._bench is None:
            self._bench = self._solved(COARSE_SPEEDS)
        return self._bench

    def _paths(self) -> tuple[list[dict[str, float]], dict[tuple[int, int, int], int], tuple[Variation, ...]]:
        """The state and those to either side of it in every spread: paths, where each is, the spreads."""
        physics = self.physics
        paths = [physics.here(self.core)]
        moved: dict[tuple[int, int, int], int] = {}
        found: list[Variation] = list(physics.model)
        for v in physics.model:
            for sign in (1, -1):
                moved[v.index, sign, 0] = len(paths)
                paths.append(gained(paths[0], v, sign))
        for s in physics.state:
            key = (s, self.core[s])
            if key not in physics.feeds:
                continue
            for v in physics.variations(key, self.question):
                if v.changes_state:
                    found.append(v)
                    for sign in (1, -1):
                        moved[v.index, sign, 0] = len(paths)
                        paths.append(physics.here(self.core, {s: physics.shifted(key, v, sign, self.question)}))
        return paths, moved, tuple(found)

    def _solved(self, speeds: int) -> Bench:
        paths, moved, found = self._paths()
        asked = self.question
        if speeds < 0:
            asked = replace(asked, powers=np.array([asked.target.power]), at_target=0)
        states = self.physics.solve(paths, asked, asked.target, speeds)
        spool = np.full(states.engine.speed.size, np.inf) if speeds < 0 else self.spools[1]
        return Bench(
            question=asked,
            fine=self.fine,
            coarse=read(states, asked, own=True, spool=spool),
            variations=found,
            draws=self.physics.draws,
            configuration={},
            here=0,
            moved=moved,
        )

    @property
    def survival(self) -> int:
        """Joint samples in which the engine makes the target, one bit each."""
        if self._survival is None:
            bench = self._bench or self._solved(-COARSE_SPEEDS)
            made = bench.last_power(0, capped=True).sample(self.physics.draws)[:, 0]
            self._survival = pack(made >= self.physics.target.power * NEARLY)
        return self._survival
