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
    ISO 2533:1975, troposphere: 288.15 K, 6.5 K/km, exponent 5.25588, geopotential height with r = 6356.766 km (from
    memory; agrees with two published implementations).

    Examples
    --------
    >>> temperature, pressure = standard_atmosphere(1000.0)
    >>> round(float(temperature), 2), round(float(pressure))
    (281.65, 89876)
    """
    height = EARTH_RADIUS * np.asarray(altitude, dtype=float) / (EARTH_RADIUS + np.asarray(altitude, dtype=float))
    temperature = 288.15 - 0.0065 * height
    return np.asarray(temperature), np.asarray(101325.0 * (temperature / 288.15) ** 5.25588)


def density(pressure: Array | float, temperature: Array | float) -> Array:
    """Density of dry air.

    Parameters
    ----------
    pressure : array
        Absolute [Pa]; ideal within 0.1 % up to 0.5 MPa near room temperature.
    temperature : array
        [K]

    Returns
    -------
    array
        [kg/m3]

    References
    ----------
    Ideal gas with the constant of ISO 2533:1975, 287.05287 J/(kg.K).

    Examples
    --------
    >>> round(float(density(101325.0, 288.15)), 4)
    1.225
    """
    return np.asarray(np.asarray(pressure) / (R_DRY * np.asarray(temperature)))


def saturation_pressure(temperature: Array | float) -> Array:
    """Vapour pressure of water over water.

    Parameters
    ----------
    temperature : array
        [K], valid from 228 to 333.

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
        Vapour pressure over saturation pressure [1], 0 to 1.

    Returns
    -------
    array
        [kg/m3]

    References
    ----------
    Ideal mixture of dry air (287.05287 J/(kg.K)) and vapour (461.5 J/(kg.K)); within 0.2 % of a real-gas formulation
    from 0 to 40 degC near sea level.

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
    Ratio of molar masses 0.62195 (psychrometric textbooks, from memory); without the enhancement factor of real moist
    air, which makes it 0.5 % low near 30 degC.

    Examples
    --------
    >>> round(float(humidity_ratio(0.6 * 4247.0, 101325.0)), 5)
    0.01604
    """
    return np.asarray(0.62195 * np.asarray(vapour_pressure) / (np.asarray(pressure) - np.asarray(vapour_pressure)))
