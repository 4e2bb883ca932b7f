"""The target curve: which torque is asked at which speed for a power."""

from __future__ import annotations

import numpy as np

from graph.model import Array, Target


def asked_torque(target: Target, power: Array, speed: Array, power_speed: float) -> Array:
    """Torque asked over speed before the turbocharger's own curve has its say.

    Parameters
    ----------
    target : Target
        Holds the power and, if wanted, a torque of its own [W], [N.m].
    power : array, shape (P,)
        Powers to draw the curve for [W]; the wanted torque scales with them.
    speed : array, shape (N,)
        Engine speed [1/s].
    power_speed : float
        Speed at which the power is asked [1/s].

    Returns
    -------
    array, shape (P, N)
        min(torque wanted, power / angular speed) [N.m].
    """
    wanted = target.torque if target.torque is not None else target.power / (2.0 * np.pi * power_speed)
    scaled = wanted * power / target.power
    return np.asarray(np.minimum(scaled[:, None], power[:, None] / (2.0 * np.pi * speed)))


def own_curve(asked: Array, spool: Array) -> Array:
    """Hold the asked torque to the turbocharger's own curve below the speed where its gate first opens.

    Parameters
    ----------
    asked : array, shape (P, N)
        Torque asked [N.m].
    spool : array, shape (N,)
        Largest torque for which the turbine drives the compressor [N.m].

    Returns
    -------
    array, shape (P, N)
        Torque on the target curve [N.m].
    """
    opened = np.logical_or.accumulate(spool >= asked, axis=-1)
    return np.where(opened, asked, np.minimum(asked, spool))


def trimmed(asked: Array, highest: Array, speed: Array, power_speed: float) -> Array:
    """Below the speed of the power, take no more torque than there is an operating point for.

    Torque by speed is a control setting: what knock forbids at 3000 1/min is not asked there. At the speed of the
    power and above nothing is trimmed, and a missing operating point is reported with its cause.

    Parameters
    ----------
    asked : array, shape (..., P, N)
        Torque asked [N.m].
    highest : array, shape (..., N)
        Largest torque with an operating point [N.m].
    speed : array, shape (N,)
        Engine speed [1/s].
    power_speed : float
        Speed of the power [1/s].

    Returns
    -------
    array, shape (..., P, N)
        Torque [N.m].
    """
    below = speed < power_speed * (1.0 - 1e-9)
    held = np.minimum(asked, highest[..., None, :] * (1.0 - 1e-6))
    return np.where(below, held, asked)
