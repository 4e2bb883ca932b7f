"""The air of the day: standard atmosphere, humidity, density."""

from __future__ import annotations

import numpy as np

from graph.model import Array

EARTH_RADIUS = 6_356_766.0
R_DRY = 287.05287
R_VAPOUR = 461.5


def standard_atmosphere(altitude: Array | float) -> tuple[Array, Array]:
    """Temperature and pressure of the standard atmosphere.

    Parameters
    ----------
    altitude : array
        Geometric height above the sea [m], 0 to 11 000.

    Returns
    -------
    temperature : array
        [K]
    pressure : array
        Absolute [Pa].

    References
    ----------
    ISO 2533:1975, troposphere: 288.15 K, 6.5 K/km, exponent 5.25588, geopotential height with r = 6356.766 km.

    Examples
    --------
    >>> temperature, pressure = standard_atmosphere(1000.0)
    >>> round(float(temperature), 2), round(float(pressure))
    (281.65, 89876)
    """
    height = EARTH_RADIUS * np.asarray(altitude, dtype=float) / (EARTH_RADIUS + np.asarray(altitude, dtype=float))
    temperature = 288.15 - 0.0065 * height
    return np.asarray(temperature), np.asarray(101325.0 * (temperature / 288.15) ** 5.25588)


def saturation_pressure(temperature: Array | float) -> Array:
    """Vapour pressure of water over water.

    Parameters
    ----------
    temperature : array
        [K], 228 to 333.

    Returns
    -------
    array
        [Pa]

    References
    ----------
    Magnus form of the WMO guide (2008, p. 1.4-29, through secondary sources): 611.2, 17.62, 243.12.

    Examples
    --------
    >>> round(float(saturation_pressure(303.15)), 1)
    4233.7
    """
    celsius = np.asarray(temperature, dtype=float) - 273.15
    return np.asarray(611.2 * np.exp(17.62 * celsius / (243.12 + celsius)))


def moist_density(pressure: Array | float, temperature: Array | float, relative_humidity: Array | float) -> Array:
    """Density of moist air as an ideal mixture.

    Parameters
    ----------
    pressure : array
        Total absolute pressure [Pa].
    temperature : array
        [K]
    relative_humidity : array
        [1]

    Returns
    -------
    array
        [kg/m3]

    References
    ----------
    Ideal mixture of dry air (287.05 J/(kg.K)) and vapour (461.5 J/(kg.K)).

    Examples
    --------
    >>> round(float(moist_density(101325.0, 298.15, 0.5)), 3)
    1.177
    """
    vapour = np.asarray(relative_humidity) * saturation_pressure(temperature)
    dry = np.asarray(pressure) - vapour
    return np.asarray(dry / (R_DRY * np.asarray(temperature)) + vapour / (R_VAPOUR * np.asarray(temperature)))


def humidity_ratio(vapour_pressure: Array | float, pressure: Array | float) -> Array:
    """Mass of vapour per mass of dry air.

    Parameters
    ----------
    vapour_pressure : array
        [Pa]
    pressure : array
        Total absolute pressure [Pa].

    Returns
    -------
    array
        [1]

    References
    ----------
    Ratio of molar masses 0.62195 (psychrometrics, from memory).

    Examples
    --------
    >>> round(float(humidity_ratio(0.6 * 4247.0, 101325.0)), 5)
    0.01604
    """
    return np.asarray(0.62195 * np.asarray(vapour_pressure) / (np.asarray(pressure) - np.asarray(vapour_pressure)))
