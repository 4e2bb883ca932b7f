"""Turbine and wastegate: flow, power, and the ceiling that a housing sets."""

from __future__ import annotations

import numpy as np

from graph.model import Array
from graph.physics.gas import CP_TURBINE, K_EXHAUST, R_EXHAUST


def nozzle_function(pressure_ratio: Array | float, k: float = K_EXHAUST) -> Array:
    """Flow function of an isentropic nozzle.

    Parameters
    ----------
    pressure_ratio : array
        Inlet over outlet pressure [1], at least 1.
    k : float
        Ratio of heat capacities [1].

    Returns
    -------
    array
        Psi in m = A p Psi / sqrt(R T) [1]; constant beyond choking.

    References
    ----------
    Heywood 1988, App. C (from memory).

    Examples
    --------
    >>> round(float(nozzle_function(3.0)), 5)
    0.67263
    """
    critical = ((k + 1.0) / 2.0) ** (k / (k - 1.0))
    ratio = np.clip(np.asarray(pressure_ratio, dtype=float), 1.0, critical)
    inside = ratio ** (-2.0 / k) - ratio ** (-(k + 1.0) / k)
    return np.asarray(np.sqrt(2.0 * k / (k - 1.0) * np.maximum(inside, 0.0)))


def nozzle_flow(
    area: Array | float, inlet_pressure: Array | float, outlet_pressure: Array | float, temperature: Array | float
) -> Array:
    """Exhaust flow through an opening such as the wastegate.

    Parameters
    ----------
    area : array
        Effective area [m2].
    inlet_pressure, outlet_pressure : array
        Absolute [Pa].
    temperature : array
        Before the opening [K].

    Returns
    -------
    array
        [kg/s]

    References
    ----------
    Heywood 1988, App. C (from memory).

    Examples
    --------
    >>> round(float(nozzle_flow(7e-4, 3.6e5, 1.3e5, 1200.0)), 4)
    0.2878
    """
    psi = nozzle_function(np.asarray(inlet_pressure) / np.asarray(outlet_pressure))
    return np.asarray(
        np.asarray(area) * np.asarray(inlet_pressure) * psi / np.sqrt(R_EXHAUST * np.asarray(temperature))
    )


def ellipse(pressure_ratio: Array | float, exponent: float = 2.0) -> Array:
    """Flow parameter of a turbine over its largest value.

    Parameters
    ----------
    pressure_ratio : array
        Inlet over outlet pressure [1], at least 1.
    exponent : float
        2 for Stodola's ellipse; measured turbines 2.0 to 2.4 [1].

    Returns
    -------
    array
        [1], rises slowly towards 1.

    References
    ----------
    Stodola's ellipse; exponent of a measured turbine 2.36 in the engine model of Sivertsson and Eriksson, 2014.

    Examples
    --------
    >>> round(2.5e-5 * float(ellipse(2.0)), 9)
    2.1651e-05
    """
    ratio = np.maximum(np.asarray(pressure_ratio, dtype=float), 1.0)
    return np.asarray(np.sqrt(np.maximum(1.0 - ratio**-exponent, 0.0)))


def power(
    flow: Array | float, inlet_temperature: Array | float, pressure_ratio: Array | float, efficiency: Array | float
) -> Array:
    """Shaft power of a turbine.

    Parameters
    ----------
    flow : array
        Through the turbine [kg/s].
    inlet_temperature : array
        [K]
    pressure_ratio : array
        Inlet over outlet pressure [1].
    efficiency : array
        Total to static, times mechanical [1].

    Returns
    -------
    array
        [W]

    References
    ----------
    Enthalpy balance with 1200 J/(kg.K) and k = 1.33 (Dixon and Hall, from memory).

    Examples
    --------
    >>> round(float(power(0.2, 1200.0, 2.0, 0.65)) / 1e3, 2)
    29.58
    """
    drop = 1.0 - np.asarray(pressure_ratio) ** (-(K_EXHAUST - 1.0) / K_EXHAUST)
    return np.asarray(np.asarray(flow) * CP_TURBINE * np.asarray(inlet_temperature) * np.asarray(efficiency) * drop)
