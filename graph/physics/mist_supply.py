"""Flow and tank of the mist, and how much of it the charge takes up."""

from __future__ import annotations

import numpy as np

from graph.model import Array
from graph.physics.mist import EVAPORATED, density


def flow(fuel_flow: Array | float, mist_share: Array | float, methanol: Array | float) -> Array:
    """Volume flow of the mist beside a fuel flow.

    Parameters
    ----------
    fuel_flow : array
        [kg/s]
    mist_share : array
        Mass of mist per mass of fuel [1].
    methanol : array
        Share of methanol in the mist by mass [1].

    Returns
    -------
    array
        [m3/s]

    References
    ----------
    Continuity.

    Examples
    --------
    >>> round(float(flow(0.022, 0.2, 0.5)) * 3.6e6, 1)
    17.9
    """
    return np.asarray(np.asarray(fuel_flow) * np.asarray(mist_share) / density(methanol))


def used(volume_flow: Array | float, duration: float) -> Array:
    """Volume that a flow takes from the tank of the mist.

    Parameters
    ----------
    volume_flow : array
        [m3/s]
    duration : float
        How long full load is held [s].

    Returns
    -------
    array
        [m3]

    References
    ----------
    Definition.

    Examples
    --------
    >>> round(float(used(5e-6, 1200.0)) * 1e3, 1)
    6.0
    """
    return np.asarray(np.asarray(volume_flow) * duration)


def saturation(temperature: Array | float, pressure: Array | float) -> Array:
    """Mass of water that air can hold as vapour: an upper bound on what evaporates before the valve.

    Parameters
    ----------
    temperature : array
        [K]; valid 228 to 333 K.
    pressure : array
        Absolute [Pa].

    Returns
    -------
    array
        Mass of water per mass of dry air [1].

    References
    ----------
    Magnus form of the WMO guide (WMO-No. 8) for the vapour pressure, Dalton's law.

    Examples
    --------
    >>> round(float(saturation(303.15, 101325.0)), 4)
    0.0271
    """
    celsius = np.asarray(temperature) - 273.15
    vapour = 611.2 * np.exp(17.62 * celsius / (243.12 + celsius))
    return np.asarray(0.62195 * vapour / (np.asarray(pressure) - vapour))


def water_per_air(
    fuel_flow: Array | float,
    air_flow: Array | float,
    mist_share: Array | float,
    methanol: Array | float,
    evaporated: float = EVAPORATED,
) -> Array:
    """Water that the model lets evaporate before the inlet valve, per mass of air.

    Parameters
    ----------
    fuel_flow, air_flow : array
        [kg/s]
    mist_share : array
        Mass of mist per mass of fuel [1].
    methanol : array
        Share of methanol in the mist by mass [1].
    evaporated : float
        Share of the mist that evaporates there [1].

    Returns
    -------
    array
        [1]

    References
    ----------
    Continuity; half is an assumption.

    Examples
    --------
    >>> round(float(water_per_air(0.024, 0.30, 0.2, 0.5)), 4)
    0.004
    """
    water = np.asarray(fuel_flow) * np.asarray(mist_share) * (1.0 - np.asarray(methanol))
    return np.asarray(evaporated * water / np.asarray(air_flow))
