"""Many configurations of one build solved side by side, on the target curves of many powers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, fields

import numpy as np

from graph.curve import asked_torque, own_curve, trimmed
from graph.limit import Control, LimitKind, LimitRule
from graph.memory import Memory
from graph.model import Array, Operation, Setting
from graph.operation import Engine, EngineMap, solve, stack_paths
from graph.question import Question, ask
from graph.subject import Subject

__all__ = ["Judged", "Question", "Solution", "ask", "held_by_torque", "pick", "solve_paths"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Judged:
    """One limit over power and speed.

    Parameters
    ----------
    demand, capacity : array
        [SI]
    everywhere : array
        Utilisation at every speed; NaN without an operating point [1].
    counted : array
        Utilisation where the limit is judged, NaN elsewhere [1].
    """

    demand: Array
    capacity: Array
    everywhere: Array
    counted: Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Solution:
    """Configurations solved on one speed grid.

    Parameters
    ----------
    engine : Engine
        Platform and speed grid.
    map : EngineMap
        States over manifold pressure.
    operation : Operation
        On the target curves, arrays of shape (C, P, N).
    last_power : array, shape (C,)
        Highest power with an operating point from the speed of the power up [W].
    last_cause : array of int, shape (C,)
        What ends it.
    capped_power, capped_cause : array, shape (C,)
        The same with the boost cap obeyed.
    capped_torque : array, shape (C, N)
        Largest torque with an operating point, boost cap obeyed [N.m].
    spool : array, shape (N,)
        The turbocharger's own curve [N.m].
    question : Question
        What was asked.
    picked : dict of int to Operation
        Configurations that were looked at already.
    """

    engine: Engine
    map: EngineMap
    operation: Operation
    last_power: Array
    last_cause: Array
    capped_power: Array
    capped_cause: Array
    capped_torque: Array
    spool: Array
    question: Question
    picked: dict[int, Operation] = field(default_factory=dict, repr=False)

    def state(self, configuration: int | slice | list[int]) -> Operation:
        """The operation of some configurations; shape (P, N) for one, (c, P, N) for several."""
        chosen: int | slice | list[int] = configuration
        if isinstance(chosen, list) and chosen and chosen == list(range(chosen[0], chosen[0] + len(chosen))):
            chosen = slice(chosen[0], chosen[0] + len(chosen))
        if not isinstance(chosen, int):
            return pick(self.operation, chosen)
        if chosen not in self.picked:
            self.picked[chosen] = pick(self.operation, chosen)
        return self.picked[chosen]

    def judged(
        self,
        subject: Subject,
        configuration: int | list[int],
        factors: Mapping[str, Array | float] | None = None,
        *,
        setting: Setting | None = None,
    ) -> Judged:
        """Demand, capacity and utilisation of one limit over power and speed.

        Parameters
        ----------
        subject : Subject
            The limit.
        configuration : int or list of int
            Which configurations.
        factors : mapping of str to float or None
            Factor on each rating of the part [1].
        setting : Setting or None
            Constants for the rule; None for the question's.

        Returns
        -------
        Judged
            Arrays of shape (..., P, N).
        """
        demand, capacity = subject.utilisation(self.state(configuration), setting or self.question.setting, factors)
        with np.errstate(divide="ignore", invalid="ignore"):
            found = np.asarray(demand / capacity)
        empty = ~(capacity > 0.0)
        if empty.any():
            found = np.where(empty, np.where(np.isnan(demand), np.nan, np.inf), found)
        if subject.rule.control is Control.SPARK:
            found = np.minimum(found, 1.0)
        counted = np.where(self.counted, found, np.nan) if held_by_torque(subject.rule) else found
        return Judged(demand=demand, capacity=capacity, everywhere=found, counted=counted)

    def utilisation(
        self,
        subject: Subject,
        configuration: int | list[int],
        factors: Mapping[str, Array | float] | None = None,
        *,
        all_speeds: bool = False,
        setting: Setting | None = None,
    ) -> Array:
        """Utilisation of one limit over power and speed, shape (..., P, N) [1].

        The parameters are those of :meth:`judged`; `all_speeds` to judge limits that torque by speed respects
        (:func:`held_by_torque`) at every speed. NaN without an operating point, and where the limit is not judged.
        """
        found = self.judged(subject, configuration, factors, setting=setting)
        return found.everywhere if all_speeds else found.counted

    @property
    def counted(self) -> Array:
        """True at the speed of the power and above, shape (N,)."""
        return np.asarray(self.engine.speed >= self.question.power_speed * (1.0 - 1e-9))

    def curve(self, power: float, configuration: int) -> Operation:
        """State on the target curve of one power in one configuration.

        Parameters
        ----------
        power : float
            [W]
        configuration : int
            Which; the boost cap trims its torque below the speed of the power.

        Returns
        -------
        Operation
            Arrays of shape (N,); NaN where no operating point exists.
        """
        question, speed = self.question, self.engine.speed
        asked = asked_torque(question.target, np.array([power]), speed, question.power_speed)
        held = own_curve(asked, self.spool)
        torque = trimmed(held, self.capped_torque[configuration], speed, question.power_speed)
        operation, _ = self.map.only([configuration]).at(torque[None])
        return pick(operation, (0, 0))

    def worst(self, utilisation: Array) -> Array:
        """Largest utilisation over speed, shape (..., P); NaN where the speed of the power has no operating point."""
        unknown = np.isnan(utilisation)
        if not unknown.any():
            return np.asarray(utilisation.max(axis=-1))
        lost = (unknown & self.counted).any(axis=-1)
        largest = np.where(unknown, -np.inf, utilisation).max(axis=-1)
        return np.where(lost, np.nan, largest)


def held_by_torque(rule: LimitRule) -> bool:
    """True for a limit that less torque at its speed respects: it counts only where the power itself is asked.

    Below the speed of the power the calibrator asks no more torque than every protective limit permits; what that
    leaves is the answer's torque curve.
    """
    return rule.kind is LimitKind.PROTECTIVE or rule.control is Control.TORQUE


def pick(operation: Operation, configuration: int | slice | list[int] | tuple[int | slice, ...]) -> Operation:
    """Some configurations of an operation; the speed axis stays."""
    chosen = {
        f.name: getattr(operation, f.name) if f.name == "speed" else getattr(operation, f.name)[configuration]
        for f in fields(Operation)
    }
    return Operation(**chosen)


def solve_paths(
    engine: Engine,
    paths: Sequence[Mapping[str, float]],
    question: Question,
    here: list[int],
    spool: Array | None = None,
    memory: Memory | None = None,
) -> Solution:
    """Solve configurations and read their states on the target curves.

    Parameters
    ----------
    engine : Engine
        Platform and speed grid.
    paths : list of mapping
        For each configuration the fields of the path that differ from the reference [SI].
    question : Question
        Target and powers.
    here : list of int
        Configurations with the car's own parts in place: the boost cap trims their torque below the speed of the
        power; the first of them gives the turbocharger's own curve.
    spool : array, shape (N,) or None
        That curve, where it is known already [N.m].
    memory : Memory or None
        What was solved before; None to solve afresh.

    Returns
    -------
    Solution
        [SI]
    """
    target = question.target
    if memory is None:
        states = solve(engine, stack_paths(paths), target.fuel, target.weather, target.latest_phasing)
    else:
        states = memory.solved(engine, paths, target)
    if spool is None:
        spool = states.highest_torque(drive_only=True)[0][here[0]]
    free, free_cause = states.highest_torque()
    capped, capped_cause = states.highest_torque(target.boost_cap)
    asked = own_curve(asked_torque(target, question.powers, engine.speed, question.power_speed), spool)
    own = np.zeros(len(paths), dtype=bool)
    own[here] = True
    highest = np.where(own[:, None], capped, free)
    torque = trimmed(np.broadcast_to(asked, (len(paths), *asked.shape)), highest, engine.speed, question.power_speed)
    operation, _ = states.at(torque)
    last_power, last_cause = _end(free, free_cause, engine.speed, question.power_speed)
    capped_power, capped_end = _end(capped, capped_cause, engine.speed, question.power_speed)
    return Solution(
        engine=engine,
        map=states,
        operation=operation,
        last_power=last_power,
        last_cause=last_cause,
        capped_power=capped_power,
        capped_cause=capped_end,
        capped_torque=capped,
        spool=spool,
        question=question,
    )


def _end(torque: Array, cause: Array, speed: Array, power_speed: float) -> tuple[Array, Array]:
    """Highest power held from the speed of the power up, and what ends it, shape (C,)."""
    counted = speed >= power_speed * (1.0 - 1e-9)
    power = np.where(counted, torque * 2.0 * np.pi * speed, np.inf)
    index = power.argmin(axis=-1)
    rows = np.arange(torque.shape[0])
    return power[rows, index], cause[rows, index]
