"""Gauge and absolute pressure: a reference, not a unit."""

from __future__ import annotations

import numpy as np

from graph.model import Array


def gauge(absolute: Array | float, ambient: Array | float) -> Array:
    """Pressure over the ambient of the day.

    Parameters
    ----------
    absolute : array
        Absolute [Pa].
    ambient : array
        Absolute ambient pressure [Pa].

    Returns
    -------
    array
        Gauge [Pa].

    References
    ----------
    Definition.

    Examples
    --------
    >>> float(gauge(3.0e5, 101325.0))
    198675.0
    """
    return np.asarray(np.asarray(absolute) - np.asarray(ambient))


def ratio(outlet: Array | float, inlet: Array | float) -> Array:
    """Ratio of two absolute pressures.

    Parameters
    ----------
    outlet, inlet : array
        Absolute [Pa].

    Returns
    -------
    array
        [1]

    References
    ----------
    Definition.

    Examples
    --------
    >>> float(ratio(3.0e5, 1.0e5))
    3.0
    """
    return np.asarray(np.asarray(outlet) / np.asarray(inlet))


def over(value: Array | float, base: Array | float) -> Array:
    """Difference of a value over a base, such as a charge temperature over the air of the day.

    Parameters
    ----------
    value, base : array
        In the same unit [K] or [Pa].

    Returns
    -------
    array
        Difference [K] or [Pa].

    References
    ----------
    Definition.

    Examples
    --------
    >>> float(over(338.15, 298.15))
    40.0
    """
    return np.asarray(np.asarray(value) - np.asarray(base))
