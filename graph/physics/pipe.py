"""Losses in pipes, boxes, catalysts and lines."""

from __future__ import annotations

import numpy as np

from graph.model import Array
from graph.physics.gas import R_AIR

#: Dry air at 25 degC and 101.325 kPa [kg/m3].
REFERENCE_DENSITY = 101325.0 / (287.05 * 298.15)


def gas_density(pressure: Array | float, temperature: Array | float, gas_constant: float = R_AIR) -> Array:
    """Density of an ideal gas.

    Parameters
    ----------
    pressure : array
        Absolute [Pa].
    temperature : array
        [K]
    gas_constant : float
        [J/(kg.K)]

    Returns
    -------
    array
        [kg/m3]

    References
    ----------
    Ideal gas.

    Examples
    --------
    >>> round(float(gas_density(101325.0, 288.15)), 3)
    1.225
    """
    return np.asarray(np.asarray(pressure) / (gas_constant * np.asarray(temperature)))


def loss_coefficient(pressure_drop: Array | float, flow: Array | float, density: Array | float) -> Array:
    """Coefficient c of dp = c m^2 / density from one measured point.

    Parameters
    ----------
    pressure_drop : array
        [Pa]
    flow : array
        [kg/s]
    density : array
        [kg/m3]

    Returns
    -------
    array
        [1/m4]

    References
    ----------
    Turbulent loss (White, Fluid Mechanics, ch. 6, from memory).

    Examples
    --------
    >>> round(float(loss_coefficient(4000.0, 0.2, 1.2)))
    120000
    """
    return np.asarray(np.asarray(pressure_drop) * np.asarray(density) / np.asarray(flow) ** 2)


def pressure_loss(coefficient: Array | float, flow: Array | float, density: Array | float) -> Array:
    """Pressure loss c m^2 / density.

    Parameters
    ----------
    coefficient : array
        [1/m4]
    flow : array
        [kg/s]
    density : array
        [kg/m3]

    Returns
    -------
    array
        [Pa]

    References
    ----------
    Turbulent loss (White, Fluid Mechanics, ch. 6, from memory).

    Examples
    --------
    >>> round(float(pressure_loss(120000.0, 0.2, 1.2)))
    4000
    """
    return np.asarray(np.asarray(coefficient) * np.asarray(flow) ** 2 / np.asarray(density))


def equivalent_flow(flow: Array | float, density: Array | float, reference: float = REFERENCE_DENSITY) -> Array:
    """Flow at a reference density that loses as much pressure as the flow at its own density.

    Parameters
    ----------
    flow : array
        [kg/s]
    density : array
        [kg/m3]
    reference : float
        [kg/m3]

    Returns
    -------
    array
        [kg/s]

    References
    ----------
    From dp proportional to m^2 / density.

    Examples
    --------
    >>> float(equivalent_flow(0.3, 1.0, 4.0))
    0.6
    """
    return np.asarray(np.asarray(flow) * np.sqrt(reference / np.asarray(density)))


def friction_factor(reynolds: Array | float, relative_roughness: Array | float) -> Array:
    """Darcy friction factor of turbulent pipe flow.

    Parameters
    ----------
    reynolds : array
        [1], above 4000.
    relative_roughness : array
        [1]

    Returns
    -------
    array
        [1]

    References
    ----------
    Colebrook, solved by iteration from Haaland's explicit form (White, ch. 6, from memory).

    Examples
    --------
    >>> round(float(friction_factor(1e5, 1e-4)), 6)
    0.018514
    """
    re, rough = np.asarray(reynolds, dtype=float), np.asarray(relative_roughness, dtype=float)
    root = -1.8 * np.log10((rough / 3.7) ** 1.11 + 6.9 / re)
    for _ in range(12):
        root = -2.0 * np.log10(rough / 3.7 + 2.51 * root / re)
    return np.asarray(1.0 / root**2)


def line_loss(
    flow: Array | float, density: float, viscosity: float, diameter: float, length: float, roughness: float = 1.5e-6
) -> Array:
    """Pressure loss of a liquid in a straight smooth line.

    Parameters
    ----------
    flow : array
        [kg/s]
    density : float
        [kg/m3]
    viscosity : float
        Dynamic [Pa.s].
    diameter, length, roughness : float
        [m]

    Returns
    -------
    array
        [Pa]

    References
    ----------
    Darcy and Weisbach (White, ch. 6, from memory); turbulent flow.

    Examples
    --------
    >>> bool(14.3e3 < line_loss(0.03, 745.0, 4.5e-4, 0.006, 4.0) < 14.6e3)
    True
    """
    area = np.pi / 4.0 * diameter**2
    velocity = np.asarray(flow) / (density * area)
    reynolds = density * velocity * diameter / viscosity
    return np.asarray(friction_factor(reynolds, roughness / diameter) * length / diameter * 0.5 * density * velocity**2)


def rated_gas_loss(pressure_drop: Array | float, rated_flow: Array | float, flow: Array | float) -> Array:
    """Pressure drop of a catalyst or silencer at another gas flow, at the temperature and pressure of its rating.

    Parameters
    ----------
    pressure_drop : array
        Rated [Pa].
    rated_flow, flow : array
        [kg/s]

    Returns
    -------
    array
        [Pa]

    References
    ----------
    Turbulent loss grows with flow squared (White, Fluid Mechanics, ch. 6, from memory).

    Examples
    --------
    >>> float(rated_gas_loss(10e3, 0.2, 0.4))
    40000.0
    """
    return np.asarray(np.asarray(pressure_drop) * (np.asarray(flow) / np.asarray(rated_flow)) ** 2)
