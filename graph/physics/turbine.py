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
        [kg/s]; 2 to 3 % above equilibrium gas at 1200 K, from the constants of :mod:`graph.physics.gas`.

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


def flow_parameter(flow: Array | float, temperature: Array | float, pressure: Array | float) -> Array:
    """Flow of a turbine reduced to its inlet state.

    Parameters
    ----------
    flow : array
        [kg/s]
    temperature, pressure : array
        Total values at the inlet [K], absolute [Pa].

    Returns
    -------
    array
        [kg.K^0.5/(s.Pa)]

    References
    ----------
    Similarity of turbomachines (Dixon and Hall, ch. 2, from memory).

    Examples
    --------
    >>> round(float(flow_parameter(0.2878, 1200.0, 3.6e5)) * 1e5, 3)
    2.769
    """
    return np.asarray(np.asarray(flow) * np.sqrt(np.asarray(temperature)) / np.asarray(pressure))


def housing_ceiling(
    area: Array | float,
    inlet_pressure: Array | float,
    outlet_pressure: Array | float,
    temperature: Array | float,
    mixture: Array | float,
    stoichiometric_ratio: Array | float,
    specific_consumption: Array | float,
) -> Array:
    """Crank power at which a turbine housing with its open wastegate passes no more gas.

    Parameters
    ----------
    area : array
        Effective flow area of turbine and gate together [m2].
    inlet_pressure, outlet_pressure : array
        Highest allowed pressure before and pressure behind the turbine, absolute [Pa].
    temperature : array
        Before the turbine [K].
    mixture : array
        Air-fuel equivalence ratio lambda [1].
    stoichiometric_ratio : array
        Of the fuel, by mass [1].
    specific_consumption : array
        Fuel per crank energy [kg/J]; it must contain the pumping work. 1 kg/J is 3.6e9 g/kWh.

    Returns
    -------
    array
        [W]; an upper bound, since a turbine saturates later than the nozzle used here (about 7 % less flow by
        Stodola's ellipse at a pressure ratio of 2.8).

    References
    ----------
    Continuity through a nozzle (Heywood 1988, App. C, from memory); own combination.

    Examples
    --------
    >>> ceiling = housing_ceiling(7e-4, 3.6e5, 1.3e5, 1200.0, 0.84, 14.3, 285.0 / 3.6e9)
    >>> round(float(ceiling) / 745.69987, 1)
    374.7
    """
    exhaust = nozzle_flow(area, inlet_pressure, outlet_pressure, temperature)
    burned = exhaust / (1.0 + np.asarray(mixture) * np.asarray(stoichiometric_ratio))
    return np.asarray(burned / np.asarray(specific_consumption))
