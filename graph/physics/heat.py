"""Heat over time: what reaches coolant and oil, what a cooler takes away."""

from __future__ import annotations

import numpy as np

from graph.model import Array


def warm_up_share(duration: Array | float, time_constant: Array | float) -> Array:
    """Share of the steady temperature rise that is reached in a time.

    Parameters
    ----------
    duration, time_constant : array
        [s]

    Returns
    -------
    array
        [1]

    References
    ----------
    First-order heating.

    Examples
    --------
    >>> round(float(warm_up_share(100.0, 100.0)), 4)
    0.6321
    """
    return np.asarray(-np.expm1(-np.asarray(duration) / np.asarray(time_constant)))


def rejected(conductance: Array | float, fluid: Array | float, air: Array | float) -> Array:
    """Heat that a cooler gives to the air.

    Parameters
    ----------
    conductance : array
        Heat per temperature difference between fluid and air [W/K].
    fluid, air : array
        Temperatures [K].

    Returns
    -------
    array
        [W], never below 0.

    References
    ----------
    Definition of conductance.

    Examples
    --------
    >>> float(rejected(1000.0, 390.0, 300.0))
    90000.0
    """
    return np.asarray(np.asarray(conductance) * np.maximum(np.asarray(fluid) - np.asarray(air), 0.0))


def stored(heat: Array | float, duration: Array | float, time_constant: Array | float) -> Array:
    """Heat flow that counts after a limited time: the thermal mass takes the rest.

    Parameters
    ----------
    heat : array
        [W]
    duration, time_constant : array
        [s]

    Returns
    -------
    array
        [W]

    References
    ----------
    First-order heating.

    Examples
    --------
    >>> round(float(stored(100.0, 1e9, 300.0)), 6)
    100.0
    """
    return np.asarray(np.asarray(heat) * warm_up_share(duration, time_constant))
