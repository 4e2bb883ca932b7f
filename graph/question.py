"""A target as a question: the powers for which every limit is evaluated, and what excludes itself."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from graph.errors import OutOfRange
from graph.model import Array, Setting, Target

#: Powers for which every limit is evaluated, between half and twice the factory power.
POWERS = 48


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Question:
    """A target with everything that is the same for all its limits.

    Parameters
    ----------
    target : Target
        What is asked.
    setting : Setting
        Constants for the limit rules.
    power_speed : float
        Speed of the power [1/s].
    powers : array, shape (P,)
        Powers to evaluate, rising, the target's among them [W].
    at_target : int
        Index of the target's power.
    """

    target: Target
    setting: Setting
    power_speed: float
    powers: Array
    at_target: int


def ask(target: Target, setting: Setting) -> Question:
    """Prepare a question: the powers from half to twice the factory power or to the target's, which is among them.

    Parameters
    ----------
    target : Target
        What is asked.
    setting : Setting
        Constants for the limit rules.

    Returns
    -------
    Question
        [SI]

    Raises
    ------
    OutOfRange
        The speed of the power is not one of the platform's, or the torque wanted does not make the power there.
    """
    constants = setting.platform.constants
    factory = constants["factory power"]
    speed = target.power_speed or constants["power speed"]
    _refuse_contradiction(target, speed, constants["lowest speed"], constants["highest speed"])
    grid = np.linspace(0.5 * factory, max(2.0 * factory, target.power), POWERS)
    powers = np.unique(np.append(grid, target.power))
    return Question(
        target=target,
        setting=setting,
        power_speed=speed,
        powers=powers,
        at_target=int(np.searchsorted(powers, target.power)),
    )


def _refuse_contradiction(target: Target, speed: float, lowest: float, highest: float) -> None:
    """Refuse a target whose own numbers exclude each other."""
    if not lowest * (1.0 - 1e-9) <= speed <= highest * (1.0 + 1e-9):
        raise OutOfRange(
            "speed of the power",
            f"{speed * 60.0:.0f} 1/min",
            f"{lowest * 60.0:.0f} to {highest * 60.0:.0f} 1/min",
            "ask within the platform's speeds",
        )
    needed = target.power / (2.0 * np.pi * speed)
    if target.torque is not None and target.torque < needed * (1.0 - 1e-3):
        raise OutOfRange(
            "torque wanted",
            f"{target.torque:.0f} N·m",
            f"{needed:.0f} N·m or more, which {target.power / 1e3:.0f} kW at {speed * 60.0:.0f} 1/min takes",
            "raise the torque or lower the power",
        )
