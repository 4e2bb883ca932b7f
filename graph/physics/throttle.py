"""Throttle flap: flow when open, load on the plate when it closes under boost."""

from __future__ import annotations

import numpy as np

from graph.model import Array
from graph.physics.gas import K_AIR, R_AIR
from graph.physics.turbine import nozzle_function

#: Absolute pressure behind a closing flap at high speed [Pa] (assumption: deep overrun vacuum).
CLOSED_MANIFOLD = 0.35e5


def flow(
    area: Array | float, coefficient: float, pressure: float, temperature: float, pressure_ratio: Array | float
) -> Array:
    """Air flow through a flap.

    Parameters
    ----------
    area : array
        Free area [m2].
    coefficient : float
        Discharge coefficient [1].
    pressure, temperature : float
        Before the flap, absolute [Pa], [K].
    pressure_ratio : array
        Pressure behind over before [1].

    Returns
    -------
    array
        [kg/s]

    References
    ----------
    Heywood 1988, App. C and sec. 7.6 (from memory); the free area shrinks with the plate and its shaft.

    Examples
    --------
    >>> round(float(flow(np.pi / 4 * 0.06**2, 0.8, 1e5, 298.0, 0.95)), 4)
    0.2379
    """
    psi = nozzle_function(1.0 / np.asarray(pressure_ratio), K_AIR)
    return np.asarray(coefficient * np.asarray(area) * pressure * psi / np.sqrt(R_AIR * temperature))


def plate_pressure(boost_pressure: Array | float, closed_manifold: float = CLOSED_MANIFOLD) -> Array:
    """Pressure across the plate when the driver lifts at full boost.

    Parameters
    ----------
    boost_pressure : array
        Absolute pressure before the flap [Pa].
    closed_manifold : float
        Absolute pressure behind it [Pa].

    Returns
    -------
    array
        Difference [Pa]; it follows the absolute pressure, so altitude hardly moves it at equal air mass.

    References
    ----------
    Force balance; the pressure behind a closing flap is an assumption.

    Examples
    --------
    >>> float(plate_pressure(2.85e5))
    250000.0
    """
    return np.asarray(np.asarray(boost_pressure) - closed_manifold)


def rated_plate_pressure(gauge: Array | float) -> Array:
    """Pressure across the plate for a boost rating stated at sea level.

    Parameters
    ----------
    gauge : array
        Boost, gauge, at 101.325 kPa ambient [Pa].

    Returns
    -------
    array
        Difference [Pa].

    References
    ----------
    As :func:`plate_pressure`, sea level of ISO 2533.

    Examples
    --------
    >>> float(rated_plate_pressure(1.9e5))
    256325.0
    """
    return plate_pressure(np.asarray(gauge) + 101325.0)


def plate_force(diameter: Array | float, difference: Array | float) -> Array:
    """Force on a closed plate.

    Parameters
    ----------
    diameter : array
        Of the plate [m].
    difference : array
        Pressure across it [Pa].

    Returns
    -------
    array
        [N]; static, pressure pulses come on top.

    References
    ----------
    Definition: area times pressure difference.

    Examples
    --------
    >>> round(float(plate_force(0.060, 1.9e5)))
    537
    """
    return np.asarray(np.pi / 4.0 * np.asarray(diameter) ** 2 * np.asarray(difference))
