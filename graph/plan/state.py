"""An engine state of one choice of fuel and feeding parts, with its spreads."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from graph.check import COARSE_SPEEDS
from graph.curve import asked_torque
from graph.judge import Bench
from graph.model import Array
from graph.operation import EngineMap, prepare
from graph.plan.bond import Key
from graph.plan.reading import read
from graph.plan.survival import NEARLY, pack
from graph.solution import Question, Solution
from graph.variation import Variation, gained

if TYPE_CHECKING:
    from graph.plan.physics import Physics


@dataclass(slots=True, eq=False)
class Found:
    """What was found about options at one target: ceilings [W], verdicts."""

    ceiling: dict[Key, float] = field(default_factory=dict)
    clear: dict[Key, bool] = field(default_factory=dict)


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
        marks = tuple(physics.alike(s, core[s]) for s in physics.state)
        self.key = (*physics.labelled(core), question.target.boost_cap, *marks)
        self.power = float(self._kept("power", self._capped))
        self.engine = self.power >= physics.target.power * NEARLY
        self.found = Found()
        self.held: Bench | None = None
        self._bench: Bench | None = None
        self._opened: float | None = None

    def _kept(self, name: str, find: Callable[[], Any]) -> Any:
        """What is the same for every power, found once."""
        carried, key = self.physics.ledger.carried, (*self.key, name)
        if key not in carried:
            carried[key] = find()
        return carried[key]

    def _capped(self) -> float:
        """Highest power at the boost cap, without spreads [W]."""
        speed = self._map.engine.speed
        capped, _ = self._map.highest_torque(self.question.target.boost_cap)
        counted = speed >= self.question.power_speed * (1.0 - 1e-9)
        return float((capped[0] * 2.0 * np.pi * speed)[counted].min())

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
        found: tuple[Array, Array] = self._kept("spools", self._own_curves)
        return found

    def _own_curves(self) -> tuple[Array, Array]:
        physics = self.physics
        coarse = physics.solve([physics.here(self.core)], self.question, self.question.target, COARSE_SPEEDS)
        fine_spool, coarse_spool = (m.highest_torque(drive_only=True)[0][0] for m in (self._map, coarse))
        return fine_spool, coarse_spool

    @property
    def bench(self) -> Bench:
        """The state with the spreads of the parts that feed it, on powers that are the same for every target."""
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
        asked = self.physics.yardstick(self.core)
        if speeds < 0:
            asked = replace(asked, powers=asked.powers[:1], at_target=0)
        states = self.physics.solve(paths, asked, asked.target, speeds)
        spool = np.full(states.engine.speed.size, np.inf) if speeds < 0 else self.spools[1]
        return Bench(
            question=asked,
            fine=read(self._map, asked, own=True, spool=self.spools[0]),
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
        return pack(self._kept("made", self._made) >= self.physics.target.power * NEARLY)

    def _made(self) -> Array:
        """What the engine makes at the boost cap in each sample [W]."""
        bench = self._bench or self._solved(-COARSE_SPEEDS)
        return np.asarray(bench.last_power(0, capped=True).sample(self.physics.draws)[:, 0])
