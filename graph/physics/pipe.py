"""Losses in pipes, boxes, catalysts and lines."""

from __future__ import annotations

import numpy as np

from graph.model import Array
from graph.physics.gas import K_AIR, R_AIR

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


def equivalent_flow(flow: Array | float, density: Array | float, reference_density: float = REFERENCE_DENSITY) -> Array:
    """Flow at a reference density that loses as much pressure as the flow at its own density.

    Parameters
    ----------
    flow : array
        [kg/s]
    density : array
        [kg/m3]
    reference_density : float
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
    return np.asarray(np.asarray(flow) * np.sqrt(reference_density / np.asarray(density)))


def friction_factor(reynolds: Array | float, relative_roughness: Array | float) -> Array:
    """Darcy friction factor of pipe flow.

    Parameters
    ----------
    reynolds : array
        [1], above 0; between 2300 and 4000 the turbulent value, an upper bound.
    relative_roughness : array
        [1]

    Returns
    -------
    array
        [1]

    References
    ----------
    64/Re below 2300; above it Colebrook, solved by iteration from Haaland's explicit form (White, ch. 6, from memory).

    Examples
    --------
    >>> round(float(friction_factor(1e5, 1e-4)), 6)
    0.018514
    """
    re, rough = np.asarray(reynolds, dtype=float), np.asarray(relative_roughness, dtype=float)
    turbulent = np.maximum(re, 2300.0)
    root = -1.8 * np.log10((rough / 3.7) ** 1.11 + 6.9 / turbulent)
    for _ in range(12):
        root = -2.0 * np.log10(rough / 3.7 + 2.51 * root / turbulent)
    return np.asarray(np.where(re < 2300.0, 64.0 / np.maximum(re, 1e-12), 1.0 / root**2))


def liquid_line_loss(
    flow: Array | float, density: float, viscosity: float, diameter: float, length: float, roughness: float = 1.5e-6
) -> Array:
    """Pressure loss of a liquid in a straight line.

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
    Darcy and Weisbach (White, ch. 6, from memory); bends and fittings not included.

    Examples
    --------
    >>> round(float(liquid_line_loss(0.03, 745.0, 4.5e-4, 0.006, 4.0)) / 1e3, 2)
    14.44
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


def fanno(mach: Array | float, k: float = K_AIR) -> Array:
    """Friction length of a pipe that brings a gas flow to choking.

    Parameters
    ----------
    mach : array
        Mach number at the inlet [1], above 0.
    k : float
        Ratio of heat capacities [1].

    Returns
    -------
    array
        Darcy friction factor times length over diameter up to Mach number 1 [1].

    References
    ----------
    White, Fluid Mechanics, 7th ed., eq. 9.66 and table B.3 (from memory). Below Mach 0.3 a loss with constant density
    is good enough.

    Examples
    --------
    >>> round(float(fanno(0.3)), 4), float(fanno(1.0))
    (5.2993, 0.0)
    """
    m = np.asarray(mach, dtype=float) ** 2
    return np.asarray((1.0 - m) / (k * m) + (k + 1.0) / (2.0 * k) * np.log((k + 1.0) * m / (2.0 + (k - 1.0) * m)))
