"""Gears by gear, and clutches that fade as they warm."""

from __future__ import annotations

import numpy as np

from graph.model import Array
from graph.physics.mechanical import shaft_torque


def hardest_gear(torque: Array | float, ratios: tuple[float, ...], shafts: int = 2, efficiency: float = 0.95) -> Array:
    """Torque on one driveshaft in the gear that multiplies most.

    Parameters
    ----------
    torque : array
        Crank torque [N.m].
    ratios : tuple of float
        Overall ratio of every gear in which full torque is asked [1].
    shafts : int
        Driven shafts [1].
    efficiency : float
        [1]

    Returns
    -------
    array
        [N.m]; grip of the tyre may hold it lower.

    References
    ----------
    Torque balance, as :func:`shaft_torque`.

    Examples
    --------
    >>> round(float(hardest_gear(500.0, (8.1, 5.4, 3.9))), 2)
    1923.75
    """
    return shaft_torque(torque, max(ratios), shafts, efficiency)


def weakest_gear(torques: tuple[float, ...]) -> float:
    """Torque of the gear that stands least.

    Parameters
    ----------
    torques : tuple of float
        Crank torque that each gear stands [N.m].

    Returns
    -------
    float
        [N.m]

    References
    ----------
    Definition: every gear is driven.

    Examples
    --------
    >>> weakest_gear((620.0, 560.0, 600.0))
    560.0
    """
    return min(torques)


def faded_torque(
    torque: Array | float,
    rated_temperature: float,
    hot_temperature: Array | float,
    fade: Array | float,
    duration: float,
    time_constant: Array | float,
) -> Array:
    """Torque that a clutch or its packs still carry when warm from use.

    Parameters
    ----------
    torque : array
        Rated [N.m].
    rated_temperature : float
        At the rating [K].
    hot_temperature : array
        Reached under full load without end [K].
    fade : array
        Share of the torque lost per 100 K above the rating [1].
    duration : float
        How long full load is held [s].
    time_constant : array
        Of the warming [s].

    Returns
    -------
    array
        [N.m], never below 0.

    References
    ----------
    First-order warming; friction of organic linings falls with temperature (0.1 to 0.3 per 100 K, from memory of
    lining data).

    Examples
    --------
    60 K hotter for ever at 0.15 per 100 K:

    >>> round(float(faded_torque(470.0, 363.15, 423.15, 0.15, 1e9, 300.0)), 1)
    427.7
    """
    reached = -np.expm1(-duration / np.asarray(time_constant))
    hotter = np.maximum(np.asarray(hot_temperature) - rated_temperature, 0.0) * reached
    return np.asarray(np.asarray(torque) * np.maximum(1.0 - np.asarray(fade) * hotter / 100.0, 0.0))
