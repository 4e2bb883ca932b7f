"""One limit over engine speed: what is asked of the part and what it can carry, judged alone."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from graph.check import examine
from graph.curve import asked_torque
from graph.errors import UnknownName
from graph.limit import Kind
from graph.model import Array, Build, Target
from graph.operation import prepare
from graph.quantity import Quantity
from graph.solution import solve_paths

#: Share below the last power at which a state is still found.
INSIDE = 1.0e-6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Course:
    """Demand and capacity of one limit over engine speed, every other part adequate.

    Parameters
    ----------
    slot, rule : str
        Which limit.
    quantity : Quantity
        In which both are counted.
    power : float
        Power of the curve: the target, or the last one below it with an operating point [W].
    speed : array, shape (N,)
        Engine speed [1/s].
    demand, capacity : array, shape (N,)
        [SI unit of the quantity]; NaN where there is no operating point.
    asked : array, shape (N,)
        Torque that the target asks for [N.m].
    torque : array, shape (N,)
        Torque on the curve of `power` [N.m].
    """

    slot: str
    rule: str
    quantity: Quantity
    power: float
    speed: Array
    demand: Array
    capacity: Array
    asked: Array
    torque: Array


def course(build: Build, target: Target, kinds: Mapping[str, Kind], slot: str, rule: str) -> Course:
    """Follow one limit over engine speed on the target curve.

    Parameters
    ----------
    build : Build
        The car with its parts.
    target : Target
        What is asked [SI].
    kinds : mapping of str to Kind
        Part kinds by name.
    slot, rule : str
        Which limit.

    Returns
    -------
    Course
        [SI]

    Raises
    ------
    UnknownName
        The build has no such limit.
    """
    anatomy, question = examine(build, target, kinds)
    subject = next((s for s in anatomy.subjects if s.place.slot.name == slot and s.rule.name == rule), None)
    if subject is None:
        listed = sorted({f"{s.place.slot.name}: {s.rule.name}" for s in anatomy.subjects})
        raise UnknownName("limit", f"{slot}: {rule}", listed)
    alone = anatomy.alone(slot) if slot in anatomy.feeds else anatomy.reference()
    engine = prepare(build.platform, power_speed=question.power_speed)
    solution = solve_paths(engine, [alone, anatomy.here()], question, [1])
    power = min(target.power, float(solution.last_power[0]) * (1.0 - INSIDE))
    state = solution.curve(power, 0)
    demand, capacity = subject.utilisation(state, question.setting)
    asked = asked_torque(target, np.array([target.power]), engine.speed, question.power_speed)[0]
    return Course(
        slot=slot,
        rule=rule,
        quantity=subject.rule.quantity,
        power=power,
        speed=np.asarray(engine.speed),
        demand=np.asarray(np.broadcast_to(demand, engine.speed.shape), dtype=np.float64),
        capacity=np.asarray(np.broadcast_to(capacity, engine.speed.shape), dtype=np.float64),
        asked=np.asarray(asked),
        torque=np.asarray(state.torque),
    )
