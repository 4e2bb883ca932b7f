"""Injectors: flow over pressure and fluid, the crank window, how long they must open."""

from __future__ import annotations

import numpy as np

from graph.model import Array

#: Density of n-heptane at 20 degC, the usual test fluid [kg/m3].
HEPTANE_DENSITY = 683.8
PETROL_DENSITY = 745.0


def fluid_density(fluid: str) -> float:
    """Density of a test fluid.

    Parameters
    ----------
    fluid : str
        ``n-heptane`` or ``petrol`` [1].

    Returns
    -------
    float
        [kg/m3]

    References
    ----------
    Reference equation of state of n-heptane at 20 degC; petrol 745 inside EN 228.

    Examples
    --------
    >>> fluid_density("n-heptane")
    683.8
    """
    return HEPTANE_DENSITY if fluid == "n-heptane" else PETROL_DENSITY


def flow_at(
    static_flow: Array | float,
    rated_pressure: Array | float,
    rated_density: Array | float,
    pressure: Array | float,
    density: Array | float,
) -> Array:
    """Static mass flow at another pressure and with another fluid.

    Parameters
    ----------
    static_flow : array
        Rated [kg/s].
    rated_pressure : array
        Pressure difference across the injector at the rating [Pa].
    rated_density : array
        Of the test fluid [kg/m3].
    pressure : array
        Pressure difference across the injector in use [Pa].
    density : array
        Of the fuel in use [kg/m3].

    Returns
    -------
    array
        [kg/s]

    References
    ----------
    Orifice law: mass flow as the root of pressure difference times density (ISO 5167-1, constant discharge
    coefficient).

    Examples
    --------
    >>> round(float(flow_at(1.0, 3e5, 750.0, 4e5, 750.0)), 5)
    1.1547
    """
    return np.asarray(
        np.asarray(static_flow)
        * np.sqrt(np.asarray(pressure) / np.asarray(rated_pressure))
        * np.sqrt(np.asarray(density) / np.asarray(rated_density))
    )


def window_duration(window: Array | float, speed: Array | float) -> Array:
    """Time that a crank window lasts.

    Parameters
    ----------
    window : array
        Crank angle [rad].
    speed : array
        [1/s]

    Returns
    -------
    array
        [s]

    References
    ----------
    Definition.

    Examples
    --------
    >>> round(float(window_duration(np.deg2rad(240.0), 6500.0 / 60.0)) * 1e3, 4)
    6.1538
    """
    return np.asarray(np.asarray(window) / (2.0 * np.pi * np.asarray(speed)))


def open_duration(
    fuel_flow: Array | float, speed: Array | float, injectors: int, static_flow: Array | float, dead_time: Array | float
) -> Array:
    """How long each injector must be open for one injection per cycle.

    Parameters
    ----------
    fuel_flow : array
        Of the engine [kg/s].
    speed : array
        [1/s]
    injectors : int
        Number of injectors [1].
    static_flow : array
        Of one injector [kg/s].
    dead_time : array
        Opening lag less closing lag [s].

    Returns
    -------
    array
        [s]

    References
    ----------
    One injection per cylinder and two revolutions.

    Examples
    --------
    >>> round(float(open_duration(0.022, 110.0, 4, 0.016, 0.0004)) * 1e3, 2)
    6.65
    """
    return np.asarray(fuel_per_cycle(fuel_flow, speed, injectors) / np.asarray(static_flow) + np.asarray(dead_time))


def port_flow(volume_flow: Array | float, duty: float = 0.85) -> Array:
    """Usable volume flow of port injectors.

    Parameters
    ----------
    volume_flow : array
        Static, all injectors together [m3/s].
    duty : float
        Largest usable duty [1].

    Returns
    -------
    array
        [m3/s]

    References
    ----------
    80 to 85 % duty: driver heating and non-linear opening above (trade practice, from memory).

    Examples
    --------
    >>> round(float(port_flow(1.0)), 2)
    0.85
    """
    return np.asarray(duty * np.asarray(volume_flow))


def fuel_per_cycle(fuel_flow: Array | float, speed: Array | float, cylinders: int) -> Array:
    """Fuel of one cylinder and one cycle of a four-stroke engine.

    Parameters
    ----------
    fuel_flow : array
        Of the engine [kg/s].
    speed : array
        [1/s]
    cylinders : int
        [1]

    Returns
    -------
    array
        [kg]

    References
    ----------
    Definition: one cycle takes two revolutions.

    Examples
    --------
    >>> round(float(fuel_per_cycle(0.022, 110.0, 4)) * 1e6, 1)
    100.0
    """
    return np.asarray(2.0 * np.asarray(fuel_flow) / (cylinders * np.asarray(speed)))
