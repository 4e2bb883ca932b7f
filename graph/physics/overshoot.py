"""The peak of the boost when it arrives: what pipes, sensor and clamp see for a fraction of a second."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from graph.model import Array

#: Peak over steady boost, less 1, where the actuator's own is not known [1] (10 to 15 % with closed-loop control, from
#: memory of the trade; the lower end).
USUAL = 0.10
#: Standard deviation of the peak pressure of single cycles over its mean, and how many of them a part must stand [1]
#: (5 to 7 % in spark-ignition engines at full load, from memory of Heywood 1988, sec. 9.4).
CYCLE_SPREAD = 0.06
CYCLES = 3.0


def share(linked: Mapping[str, float]) -> float:
    """Overshoot of the car's own actuator, the usual one where nothing is said.

    Parameters
    ----------
    linked : mapping of str to float
        Holds ``boost overshoot`` where the actuator says it [1].

    Returns
    -------
    float
        [1]

    References
    ----------
    Definition; 10 to 15 % with closed-loop control (from memory of the trade).

    Examples
    --------
    >>> share({}), share({"boost overshoot": 0.15})
    (0.1, 0.15)
    """
    return linked.get("boost overshoot", USUAL)


def peak_gauge(pressure: Array | float, ambient: Array | float, linked: Mapping[str, float]) -> Array:
    """Peak of the boost over the air outside.

    Parameters
    ----------
    pressure : array
        Steady, absolute [Pa].
    ambient : array
        Absolute ambient pressure [Pa].
    linked : mapping of str to float
        As in :func:`share` [1].

    Returns
    -------
    array
        Gauge [Pa].

    References
    ----------
    Definition: the overshoot is counted on the gauge pressure.

    Examples
    --------
    >>> round(float(peak_gauge(3.0e5, 1.0e5, {})))
    220000
    """
    return np.asarray((np.asarray(pressure) - np.asarray(ambient)) * (1.0 + share(linked)))


def peak_absolute(pressure: Array | float, ambient: Array | float, linked: Mapping[str, float]) -> Array:
    """Absolute peak of the boost.

    Parameters
    ----------
    pressure : array
        Steady, absolute [Pa].
    ambient : array
        Absolute ambient pressure [Pa].
    linked : mapping of str to float
        As in :func:`share` [1].

    Returns
    -------
    array
        Absolute [Pa].

    References
    ----------
    Definition.

    Examples
    --------
    >>> round(float(peak_absolute(3.0e5, 1.0e5, {})))
    320000
    """
    return np.asarray(np.asarray(ambient) + peak_gauge(pressure, ambient, linked))


def rated_peak(boost: Array | float, contained: Array | float) -> Array:
    """Peak that a boost rating stands for.

    Parameters
    ----------
    boost : array
        Rating, gauge [Pa].
    contained : array
        Overshoot that came with it: a boost read on a car while a pipe held or failed had its own; a pressure test
        has none [1].

    Returns
    -------
    array
        Gauge [Pa].

    References
    ----------
    Definition.

    Examples
    --------
    >>> round(float(rated_peak(1.7e5, 0.10)))
    187000
    """
    return np.asarray(np.asarray(boost) * (1.0 + np.asarray(contained)))


def single_cycle(peak: Array | float, manifold: Array | float, ambient: float, linked: Mapping[str, float]) -> Array:
    """Peak pressure of the strongest cycles while the boost overshoots.

    Parameters
    ----------
    peak : array
        Mean peak cylinder pressure at the steady boost, absolute [Pa].
    manifold : array
        Steady manifold pressure, absolute [Pa].
    ambient : float
        Absolute ambient pressure [Pa].
    linked : mapping of str to float
        As in :func:`share` [1].

    Returns
    -------
    array
        Absolute [Pa]: three standard deviations of 6 % over the mean.

    References
    ----------
    Cycle-by-cycle variation (Heywood 1988, sec. 9.4, from memory); peak pressure in proportion to the charge at equal
    phasing.

    Examples
    --------
    Boost 2.0 bar on 1.0 bar: the charge peaks at 3.2 over 3.0; 100 bar become 106.7, times 1.18 is 125.9 bar.

    >>> round(float(single_cycle(100e5, 3.0e5, 1.0e5, {})) / 1e5, 1)
    125.9
    """
    charge = peak_absolute(manifold, ambient, linked) / np.asarray(manifold)
    return np.asarray(np.asarray(peak) * charge * (1.0 + CYCLES * CYCLE_SPREAD))
