"""Charge cooler: effectiveness over flow, outlet temperature."""

from __future__ import annotations

import numpy as np

from graph.model import Array
from graph.physics.gas import CP_AIR


def outlet_temperature(inlet: Array | float, coolant: Array | float, effectiveness: Array | float) -> Array:
    """Charge temperature after the cooler.

    Parameters
    ----------
    inlet, coolant : array
        Temperatures [K].
    effectiveness : array
        [1]

    Returns
    -------
    array
        [K]

    References
    ----------
    Definition of effectiveness (Incropera, 7th ed., sec. 11.4, from memory).

    Examples
    --------
    >>> round(float(outlet_temperature(419.15, 303.15, 0.78)) - 273.15, 2)
    55.52
    """
    hot = np.asarray(inlet)
    return np.asarray(hot - np.asarray(effectiveness) * (hot - np.asarray(coolant)))


def effectiveness_crossflow(transfer_units: Array | float, capacity_ratio: Array | float, terms: int = 60) -> Array:
    """Effectiveness of a cross-flow cooler with both streams unmixed.

    Parameters
    ----------
    transfer_units : array
        [1], above 0 to about 20.
    capacity_ratio : array
        Smaller over larger capacity flow [1], 0 to 1.
    terms : int
        Terms of the series [1].

    Returns
    -------
    array
        [1]

    References
    ----------
    Exact series of Mason, as printed in heat-exchanger handbooks (from memory).

    Examples
    --------
    >>> round(float(effectiveness_crossflow(2.0, 0.5)), 5)
    0.73241
    """
    n, c = np.asarray(transfer_units, dtype=float), np.maximum(np.asarray(capacity_ratio, dtype=float), 1e-9)
    total = np.zeros(np.broadcast(n, c).shape)
    first, second = np.exp(-n), np.exp(-c * n)
    term_first, term_second = first.copy() if first.ndim else first, second
    sum_first, sum_second = 1.0 - first, 1.0 - second
    for k in range(terms):
        total = total + sum_first * sum_second
        term_first = term_first * n / (k + 1)
        term_second = term_second * (c * n) / (k + 1)
        sum_first = sum_first - term_first
        sum_second = sum_second - term_second
    return np.asarray(total / (c * n))


def effectiveness_counterflow(transfer_units: Array | float, capacity_ratio: Array | float) -> Array:
    """Effectiveness of a counter-flow cooler.

    Parameters
    ----------
    transfer_units : array
        [1]
    capacity_ratio : array
        Smaller over larger capacity flow [1], 0 to 1.

    Returns
    -------
    array
        [1]

    References
    ----------
    Incropera, 7th ed., table 11.3 (from memory).

    Examples
    --------
    >>> round(float(effectiveness_counterflow(2.0, 0.5)), 4)
    0.7746
    """
    c = np.minimum(np.asarray(capacity_ratio, dtype=float), 1.0 - 1e-9)
    fade = np.exp(-np.asarray(transfer_units) * (1.0 - c))
    return np.asarray((1.0 - fade) / (1.0 - c * fade))


def transfer_units(effectiveness: Array | float) -> Array:
    """Transfer units of a cooler whose coolant flow is very large.

    Parameters
    ----------
    effectiveness : array
        [1], 0 to below 1.

    Returns
    -------
    array
        [1]

    References
    ----------
    Incropera, 7th ed., table 11.4, capacity ratio 0 (from memory): NTU = -ln(1 - eps).

    Examples
    --------
    >>> round(float(transfer_units(0.864665)), 4)
    2.0
    """
    return np.asarray(-np.log1p(-np.asarray(effectiveness, dtype=float)))


def effectiveness_at_flow(
    effectiveness: Array | float, rated_flow: Array | float, flow: Array | float, exponent: Array | float = 0.4
) -> Array:
    """Effectiveness of a cooler away from the flow at which it was rated.

    Parameters
    ----------
    effectiveness : array
        Rated [1].
    rated_flow, flow : array
        Charge flows [kg/s].
    exponent : array
        Fall of the transfer units with flow [1], 0.2 to 0.5; 0 keeps the effectiveness.

    Returns
    -------
    array
        [1]

    References
    ----------
    eps = 1 - exp(-NTU) for a large coolant flow; NTU falls with flow to the power -0.2 to -0.5 (assumption).

    Examples
    --------
    >>> float(effectiveness_at_flow(0.72, 0.25, 0.25))
    0.72
    >>> round(float(effectiveness_at_flow(0.72, 0.25, 0.5)), 4)
    0.6189
    """
    units = transfer_units(effectiveness) * (np.asarray(flow) / np.asarray(rated_flow)) ** -np.asarray(
        exponent, dtype=float
    )
    return np.asarray(-np.expm1(-units))


def soaked_effectiveness(
    effectiveness: Array | float, soak: Array | float, flow: Array | float, heat_capacity: float = CP_AIR
) -> Array:
    """Effectiveness against the air of the day of a cooler whose cold side has warmed.

    Parameters
    ----------
    effectiveness : array
        Against its own cold side [1].
    soak : array
        Warming of the cold side over the air of the day per heat taken up [K/W].
    flow : array
        Of the charge [kg/s].
    heat_capacity : float
        Of the charge [J/(kg.K)].

    Returns
    -------
    array
        [1]; the effectiveness itself without soak.

    References
    ----------
    Heat balance: the heat that the charge gives off warms the cold side, solved for both at once.

    Examples
    --------
    0.8 without soak; 0.25 kg/s, 1005 J/(kg.K) and 0.5 K/kW: 0.8 / 1.1005. Of 125 K, 9.1 K more are left:

    >>> found = float(soaked_effectiveness(0.80, 5e-4, 0.25))
    >>> round(found, 4), round((1.0 - found) * 125.0 - 25.0, 1)
    (0.7269, 9.1)
    """
    taken = np.asarray(soak) * np.asarray(flow) * heat_capacity
    return np.asarray(np.asarray(effectiveness) / (1.0 + taken * np.asarray(effectiveness)))


def soak_after(soak: Array | float, duration: float, time_constant: Array | float) -> Array:
    """Warming per heat after a limited time; the thermal mass of core and coolant takes the rest.

    Parameters
    ----------
    soak : array
        Reached without end [K/W].
    duration : float
        How long full load is held [s].
    time_constant : array
        [s]

    Returns
    -------
    array
        [K/W]

    References
    ----------
    First-order warming.

    Examples
    --------
    >>> round(float(soak_after(5e-4, 60.0, 60.0)) * 1e4, 3)
    3.161
    """
    return np.asarray(np.asarray(soak) * -np.expm1(-duration / np.asarray(time_constant)))


def soak_per_heat(warming: Array | float, heat: Array | float) -> Array:
    """Warming of a cooler's cold side per heat, from a warming seen at a heat.

    Parameters
    ----------
    warming : array
        Over the air of the day [K].
    heat : array
        Taken from the charge meanwhile [W].

    Returns
    -------
    array
        [K/W]

    References
    ----------
    Definition of a thermal resistance.

    Examples
    --------
    >>> float(soak_per_heat(12.5, 25.0e3))
    0.0005
    """
    return np.asarray(np.asarray(warming) / np.asarray(heat))
