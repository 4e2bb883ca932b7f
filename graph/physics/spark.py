"""Ignition: voltage that the gap needs, voltage that the coil has."""

from __future__ import annotations

import numpy as np

from graph.model import Array
from graph.physics.gas import R_CHARGE

#: Worn edges add to the demand [V] (from memory: 5 to 10 kV).
WEAR = 5.0e3
#: Share of the coil's voltage that may be used [1] (rule of the trade 0.7 to 0.8).
USABLE = 0.80
#: Secondary capacitance [F] and share of the stored energy that charges it [1].
CAPACITANCE = 40e-12
CHARGING = 1.0


def breakdown_voltage(gap: Array | float, density: Array | float) -> Array:
    """Voltage at which a spark gap breaks down.

    Parameters
    ----------
    gap : array
        [m]
    density : array
        Of the charge at spark [kg/m3].

    Returns
    -------
    array
        [V], the larger of the two laws.

    References
    ----------
    Pashley, Stone and Roberts, SAE 2000-01-0245 (from memory, not confirmed): 4.3 + 136 p/T + 324 d p/T kV with bar,
    K, mm. Uniform field in nitrogen 30.4 kV per cm at 101.3 kPa and 293 K (publisher's chapter abstract), linear in
    density and gap.

    Examples
    --------
    >>> density = 25e5 / (283.0 * 680.0)
    >>> round(float(breakdown_voltage(0.7e-3, density)) / 1e3, 1)
    22.6
    """
    per_kelvin = np.asarray(density) * R_CHARGE / 1e5
    millimetres = np.asarray(gap) * 1e3
    formula = 4.3 + 136.0 * per_kelvin + 324.0 * millimetres * per_kelvin
    uniform = 3.04 * millimetres * per_kelvin * 293.0 / 1.01325
    return np.asarray(np.maximum(formula, uniform) * 1e3)


def demand_voltage(gap: Array | float, density: Array | float, wear: float = WEAR) -> Array:
    """Voltage that a plug in use asks for.

    Parameters
    ----------
    gap : array
        [m]
    density : array
        Of the charge at spark [kg/m3].
    wear : float
        For worn edges [V].

    Returns
    -------
    array
        [V]

    References
    ----------
    As :func:`breakdown_voltage`, plus 5 to 10 kV for wear (from memory).

    Examples
    --------
    >>> bool(demand_voltage(0.7e-3, 10.0) > breakdown_voltage(0.7e-3, 10.0))
    True
    """
    return np.asarray(breakdown_voltage(gap, density) + wear)


def coil_voltage(
    energy: Array | float, capacitance: float = CAPACITANCE, charging: float = CHARGING, usable: float = USABLE
) -> Array:
    """Voltage of a coil that may be counted on.

    Parameters
    ----------
    energy : array
        Stored [J].
    capacitance : float
        Of the secondary side [F].
    charging : float
        Share of the energy that charges it [1].
    usable : float
        Share of the voltage that may be used [1].

    Returns
    -------
    array
        [V]

    References
    ----------
    sqrt(2 eta E / C); capacitance and shares are assumptions.

    Examples
    --------
    >>> round(float(coil_voltage(0.060, capacitance=70e-12, charging=1.0, usable=1.0)) / 1e3, 1)
    41.4
    """
    return np.asarray(usable * np.sqrt(2.0 * charging * np.asarray(energy) / capacitance))


def paschen(product: Array | float, a: float = 11.2509, b: float = 273.773, gamma: float = 0.01) -> Array:
    """Paschen's law for air.

    Parameters
    ----------
    product : array
        Pressure times gap [Pa.m].
    a, b : float
        Constants [1/(Pa.m)], [V/(Pa.m)]; the defaults are 15 /(cm Torr) and 365 V/(cm Torr).
    gamma : float
        Secondary emission [1].

    Returns
    -------
    array
        [V]

    References
    ----------
    F. Paschen 1889; constants for air widely printed (from memory). Valid for uniform fields on the right of the minimum
    near 0.9 Pa.m.

    Examples
    --------
    >>> round(float(paschen(101325.0 * 1e-3, 15.0 / (133.322 * 0.01), 365.0 / (133.322 * 0.01))) / 1e3, 2)
    5.04
    """
    pd = np.asarray(product)
    return np.asarray(b * pd / (np.log(a * pd) - np.log(np.log(1.0 + 1.0 / gamma))))
