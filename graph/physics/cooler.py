"""Charge cooler: effectiveness over flow, outlet temperature."""

from __future__ import annotations

import numpy as np

from graph.model import Array


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
    """
    units = transfer_units(effectiveness) * (np.asarray(flow) / np.asarray(rated_flow)) ** -np.asarray(
        exponent, dtype=float
    )
    return np.asarray(-np.expm1(-units))
