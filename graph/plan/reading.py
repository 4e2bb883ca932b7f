"""Solved engine states read on target curves for many configurations that each have a turbocharger of their own."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from graph.curve import asked_torque, own_curve, trimmed
from graph.model import Array
from graph.operation import EngineMap
from graph.solution import Question, Solution


def read(states: EngineMap, question: Question, *, own: bool, spool: Array | None = None) -> Solution:
    """Read configurations on the target curves of all powers.

    Parameters
    ----------
    states : EngineMap
        C configurations, solved.
    question : Question
        Target and powers.
    own : bool
        True for configurations with the car's own parts: the boost cap trims their torque below the speed of the
        power.
    spool : array, shape (N,), or None
        The turbocharger's own curve [N.m]; None to take each configuration's own.

    Returns
    -------
    Solution
        [SI]
    """
    target, speed, power_speed = question.target, states.engine.speed, question.power_speed
    own_spool = states.highest_torque(drive_only=True)[0] if spool is None else spool
    free, free_cause = states.highest_torque()
    capped, capped_cause = states.highest_torque(target.boost_cap)
    wanted = asked_torque(target, question.powers, speed, power_speed)
    asked = own_curve(wanted, own_spool[:, None, :] if spool is None else own_spool)
    asked = np.broadcast_to(asked, (states.states.shape[0], *wanted.shape))
    torque = trimmed(asked, capped if own else free, speed, power_speed)
    operation, _ = states.at(torque)
    last_power, last_cause = _end(free, free_cause, speed, power_speed)
    capped_power, capped_end = _end(capped, capped_cause, speed, power_speed)
    return Solution(
        engine=states.engine,
        map=states,
        operation=operation,
        last_power=last_power,
        last_cause=last_cause,
        capped_power=capped_power,
        capped_cause=capped_end,
        capped_torque=capped,
        spool=own_spool,
        question=question,
    )


def _end(torque: Array, cause: Array, speed: Array, power_speed: float) -> tuple[Array, Array]:
    counted = speed >= power_speed * (1.0 - 1e-9)
    power = np.where(counted, torque * 2.0 * np.pi * speed, np.inf)
    index = power.argmin(axis=-1)
    rows = np.arange(torque.shape[0])
    return power[rows, index], cause[rows, index]


def some(states: EngineMap, configurations: Sequence[int]) -> EngineMap:
    """Some configurations of a solved map."""
    return replace(states, states=states.states[list(configurations)])
