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


def heat_to_coolant(fuel_flow: Array | float, heating_value: Array | float, share: Array | float = 0.18) -> Array:
    """Heat that full load gives to the coolant.

    Parameters
    ----------
    fuel_flow : array
        [kg/s]
    heating_value : array
        Lower, of the fuel [J/kg].
    share : array
        Of the fuel energy [1].

    Returns
    -------
    array
        [W]

    References
    ----------
    Published full-load energy balances of petrol engines: coolant and oil together 15 to 28 %, the lower end for rich
    turbocharged engines (engineering-education page and memory of textbooks); the share is an assumption.

    Examples
    --------
    >>> round(float(heat_to_coolant(0.030, 42.4e6)) / 1e3)
    229
    """
    return np.asarray(np.asarray(share) * np.asarray(fuel_flow) * np.asarray(heating_value))


def heat_to_oil(fuel_flow: Array | float, heating_value: Array | float, share: Array | float = 0.05) -> Array:
    """Heat that full load gives to the oil.

    Parameters
    ----------
    fuel_flow : array
        [kg/s]
    heating_value : array
        Lower, of the fuel [J/kg].
    share : array
        Of the fuel energy [1].

    Returns
    -------
    array
        [W]

    References
    ----------
    As :func:`heat_to_coolant`; the share is an assumption.

    Examples
    --------
    >>> round(float(heat_to_oil(0.030, 42.4e6)) / 1e3, 1)
    63.6
    """
    return np.asarray(np.asarray(share) * np.asarray(fuel_flow) * np.asarray(heating_value))
