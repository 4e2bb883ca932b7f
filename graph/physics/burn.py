"""How the charge burns over the crank angle: the Wiebe function, its length and where it starts."""

from __future__ import annotations

import numpy as np

from graph.model import Array

#: Burn duration 10-90 % at 6000 1/min [rad], its exponent over speed, and its growth with late phasing [1/rad].
BURN_DURATION = np.deg2rad(22.0)
BURN_SPEED_EXPONENT = 0.12
BURN_LATE_GROWTH = 0.025 / np.deg2rad(1.0)
BURN_LATE_FROM = np.deg2rad(8.0)
#: Of the whole Wiebe angle with a = 5 and m = 2: from 10 to 90 % burned, and from the start to half burned [1].
_MIDDLE, _HALF = 0.496, 0.5175


def burned_share(progress: Array | float) -> Array:
    """Wiebe function with a = 5 and m = 2.

    Parameters
    ----------
    progress : array
        Angle since start of burn over total burn angle [1], held between 0 and 1.

    Returns
    -------
    array
        Mass fraction burned [1].

    References
    ----------
    Heywood 1988, eq. 9.28; a = 5, m = 2 as used in the programs of Ferguson and Kirkpatrick (secondary).

    Examples
    --------
    >>> round(float(burned_share(0.5)), 6)
    0.464739
    """
    return np.asarray(1.0 - np.exp(-5.0 * np.clip(progress, 0.0, 1.0) ** 3))


def burn_angle(phasing: Array | float, speed: Array | float, duration: float | None = None) -> Array:
    """Total Wiebe burn angle.

    Parameters
    ----------
    phasing : array
        Angle of half-burned charge after top dead centre [rad].
    speed : array
        Engine speed [1/s].
    duration : float or None
        10 to 90 % burn angle [rad]; None for the law over speed and phasing.

    Returns
    -------
    array
        Burn angle [rad].

    References
    ----------
    22 degrees from 10 to 90 % at 6000 1/min, growing with speed and with late phasing: an assumption inside the
    usual range of 20 to 30 degrees; 10-90 % is 0.496 of the Wiebe angle for a = 5, m = 2 (computed).

    Examples
    --------
    >>> round(float(np.rad2deg(burn_angle(np.deg2rad(8.0), 100.0))), 2)
    44.35
    """
    if duration is not None:
        return np.full(np.shape(phasing), duration / _MIDDLE)
    late = 1.0 + BURN_LATE_GROWTH * np.maximum(np.asarray(phasing) - BURN_LATE_FROM, 0.0)
    return np.asarray(BURN_DURATION / _MIDDLE * (np.asarray(speed) / 100.0) ** BURN_SPEED_EXPONENT * late)


def burn_start(phasing: Array | float, speed: Array | float, duration: float | None = None) -> Array:
    """Crank angle at which the burn starts; the spark is taken there.

    Parameters
    ----------
    phasing : array
        Angle of half-burned charge after top dead centre [rad].
    speed : array
        Engine speed [1/s].
    duration : float or None
        As in :func:`burn_angle` [rad].

    Returns
    -------
    array
        Angle after top dead centre [rad], negative before it.

    References
    ----------
    Half of the charge is burned at 0.5175 of the Wiebe angle for a = 5, m = 2 (computed from the function).

    Examples
    --------
    >>> round(float(np.rad2deg(burn_start(np.deg2rad(8.0), 100.0))), 2)
    -14.95
    """
    return np.asarray(np.asarray(phasing) - _HALF * burn_angle(phasing, speed, duration))
