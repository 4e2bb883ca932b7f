"""Friction and pumping as mean effective pressures."""

from __future__ import annotations

import numpy as np

from graph.model import Array


def piston_speed(stroke: float, speed: Array | float) -> Array:
    """Mean piston speed.

    Parameters
    ----------
    stroke : float
        [m]
    speed : array
        [1/s]

    Returns
    -------
    array
        [m/s]

    References
    ----------
    Definition: two strokes per revolution.

    Examples
    --------
    >>> round(float(piston_speed(0.0928, 7000.0 / 60.0)), 3)
    21.653
    """
    return np.asarray(2.0 * stroke * np.asarray(speed))


def chen_flynn(
    peak_pressure: Array | float,
    piston_speed: Array | float,
    a: float = 0.35e5,
    b: float = 0.005,
    c: float = 0.06e5,
    d: float = 0.001e5,
) -> Array:
    """Friction mean effective pressure.

    Parameters
    ----------
    peak_pressure : array
        [Pa]
    piston_speed : array
        Mean piston speed [m/s].
    a, b, c, d : float
        Coefficients [Pa], [1], [Pa.s/m], [Pa.s2/m2].

    Returns
    -------
    array
        [Pa]

    References
    ----------
    Chen and Flynn, SAE 650733 (form, from memory); values for a current engine are an assumption, the literature has
    a 0.3 to 0.5 bar, b 0.004 to 0.006, c 0.06 to 0.1, d 0.0005 to 0.002.

    Examples
    --------
    >>> round(float(chen_flynn(100e5, 20.0)) / 1e5, 3)
    2.45
    """
    v = np.asarray(piston_speed)
    return np.asarray(a + b * np.asarray(peak_pressure) + c * v + d * v * v)


def barnes_moss(speed: Array | float) -> Array:
    """Motoring mean effective pressure of four-cylinder spark-ignition engines, pumping included.

    Parameters
    ----------
    speed : array
        [1/s]

    Returns
    -------
    array
        [Pa]

    References
    ----------
    Barnes-Moss, as given by Heywood 1988, eq. 13.6 (secondary): 0.97 + 0.15 n + 0.05 n^2 bar, n in 1000/min; engines
    of the 1970s, an upper bound today. Never add pumping to it.

    Examples
    --------
    >>> round(float(barnes_moss(100.0)) / 1e5, 2)
    3.67
    """
    n = np.asarray(speed) * 0.06
    return np.asarray((0.97 + 0.15 * n + 0.05 * n * n) * 1e5)


def pumping(turbine_inlet_pressure: Array, manifold_pressure: Array, speed: Array) -> Array:
    """Pumping mean effective pressure; negative where the manifold pressure helps.

    Parameters
    ----------
    turbine_inlet_pressure, manifold_pressure : array
        Absolute [Pa].
    speed : array
        [1/s]

    Returns
    -------
    array
        [Pa]

    References
    ----------
    0.85 of the pressure difference plus a valve loss of 0.11 bar at 6000 1/min and 1 bar (assumption).

    Examples
    --------
    >>> round(float(pumping(2.5e5, 2.0e5, 100.0)) / 1e5, 3)
    0.645
    """
    valves = 0.11e5 * (np.asarray(speed) / 100.0) ** 2 * (np.asarray(manifold_pressure) / 1e5)
    return np.asarray(0.85 * (np.asarray(turbine_inlet_pressure) - np.asarray(manifold_pressure)) + valves)
