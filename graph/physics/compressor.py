"""Compressor: outlet temperature, work, corrected flow, choking."""

from __future__ import annotations

import numpy as np

from graph.model import Array
from graph.physics.gas import CP_AIR, K_AIR, R_AIR

_EXPONENT = (K_AIR - 1.0) / K_AIR
#: No working point lies lower: deep choke [1] (assumption).
LEAST_EFFICIENCY = 0.40


def outlet_temperature(
    inlet_temperature: Array | float, pressure_ratio: Array | float, efficiency: Array | float
) -> Array:
    """Temperature after compression, total to total.

    Parameters
    ----------
    inlet_temperature : array
        [K]
    pressure_ratio : array
        [1]
    efficiency : array
        Isentropic [1].

    Returns
    -------
    array
        [K]

    References
    ----------
    Dixon and Hall, Fluid Mechanics and Thermodynamics of Turbomachinery, 7th ed., ch. 7 (from memory). Constant ratio
    of heat capacities 1.4: within 0.25 % of real air up to a pressure ratio of 3.

    Examples
    --------
    >>> round(float(outlet_temperature(298.0, 2.8, 0.72)), 2)
    439.56
    """
    rise = np.asarray(pressure_ratio) ** _EXPONENT - 1.0
    return np.asarray(np.asarray(inlet_temperature) * (1.0 + rise / np.asarray(efficiency)))


def power(air_flow: Array | float, inlet_temperature: Array | float, outlet_temperature: Array | float) -> Array:
    """Power taken up by the air.

    Parameters
    ----------
    air_flow : array
        [kg/s]
    inlet_temperature, outlet_temperature : array
        Total temperatures [K].

    Returns
    -------
    array
        [W]

    References
    ----------
    Enthalpy balance with 1005 J/(kg.K).

    Examples
    --------
    >>> round(float(power(0.25, 298.0, 418.77)) / 1e3, 2)
    30.34
    """
    return np.asarray(np.asarray(air_flow) * CP_AIR * (np.asarray(outlet_temperature) - np.asarray(inlet_temperature)))


def corrected_flow(
    flow: Array | float,
    temperature: Array | float,
    pressure: Array | float,
    reference_temperature: Array | float,
    reference_pressure: Array | float,
) -> Array:
    """Flow referred to the reference state of a map.

    Parameters
    ----------
    flow : array
        [kg/s]
    temperature, pressure : array
        At the compressor inlet [K], absolute [Pa].
    reference_temperature, reference_pressure : array
        Of the map [K], absolute [Pa]; every map states its own.

    Returns
    -------
    array
        [kg/s]

    References
    ----------
    Similarity of turbomachines (Dixon and Hall, ch. 2, from memory).

    Examples
    --------
    >>> round(float(corrected_flow(0.30, 305.0, 96e3, 298.0, 100e3)), 5)
    0.31615
    """
    return np.asarray(
        np.asarray(flow)
        * np.sqrt(np.asarray(temperature) / reference_temperature)
        / (np.asarray(pressure) / reference_pressure)
    )


def mass_flux(mach: Array | float, pressure: Array | float, temperature: Array | float) -> Array:
    """Mass flow per area at a Mach number.

    Parameters
    ----------
    mach : array
        [1]
    pressure, temperature : array
        Stagnation values, absolute [Pa], [K].

    Returns
    -------
    array
        [kg/(s.m2)]

    References
    ----------
    White, Fluid Mechanics, 7th ed., sec. 9.4 (from memory).

    Examples
    --------
    >>> round(float(mass_flux(1.0, 101325.0, 288.15)), 2)
    241.24
    """
    m = np.asarray(mach)
    root = np.sqrt(K_AIR / (R_AIR * np.asarray(temperature)))
    return np.asarray(
        np.asarray(pressure)
        * root
        * m
        * (1.0 + (K_AIR - 1.0) / 2.0 * m * m) ** (-(K_AIR + 1.0) / (2.0 * (K_AIR - 1.0)))
    )


def choked_flux(pressure: Array | float, temperature: Array | float) -> Array:
    """Largest mass flow per area of air.

    Parameters
    ----------
    pressure, temperature : array
        Stagnation values, absolute [Pa], [K].

    Returns
    -------
    array
        [kg/(s.m2)]

    References
    ----------
    White, Fluid Mechanics, 7th ed., eq. 9.46 (from memory): :func:`mass_flux` at Mach number 1.

    Examples
    --------
    >>> round(float(choked_flux(1e5, 298.0)), 2)
    234.12
    """
    return mass_flux(1.0, pressure, temperature)


def inducer_flow(
    diameter: Array | float, hub_ratio: float, mach: float, pressure: float, temperature: float, blockage: float = 1.0
) -> Array:
    """Largest flow that an inducer passes.

    Parameters
    ----------
    diameter : array
        Of the inducer [m].
    hub_ratio : float
        Hub over shroud diameter [1], 0.25 to 0.35.
    mach : float
        Axial Mach number at choke [1], 0.55 to 0.70; 1 is the absolute bound.
    pressure, temperature : float
        Stagnation values, absolute [Pa], [K].
    blockage : float
        Share of the area that the blades leave [1].

    Returns
    -------
    array
        [kg/s]

    References
    ----------
    Continuity; ranges after Whitfield and Baines, Design of Radial Turbomachines (from memory).

    Examples
    --------
    >>> round(float(inducer_flow(0.056, 0.3, 0.6, 1e5, 298.0)), 4)
    0.4416
    """
    area = np.pi / 4.0 * np.asarray(diameter) ** 2 * (1.0 - hub_ratio**2)
    return np.asarray(blockage * area * mass_flux(mach, pressure, temperature))


def tip_speed(
    pressure_ratio: Array | float, inlet_temperature: float, efficiency: float, work_coefficient: float = 0.70
) -> Array:
    """Tip speed that a pressure ratio takes.

    Parameters
    ----------
    pressure_ratio : array
        [1]
    inlet_temperature : float
        [K]
    efficiency : float
        [1]
    work_coefficient : float
        Enthalpy rise over tip speed squared [1], 0.65 to 0.72.

    Returns
    -------
    array
        [m/s]

    References
    ----------
    Euler equation (Dixon and Hall, ch. 7, from memory); cast aluminium stands about 500 to 530 m/s (from memory).

    Examples
    --------
    >>> round(float(tip_speed(3.0, 298.0, 0.72)), 1)
    468.1
    """
    rise = np.asarray(pressure_ratio) ** _EXPONENT - 1.0
    return np.asarray(np.sqrt(CP_AIR * inlet_temperature * rise / (efficiency * work_coefficient)))


def efficiency_at(
    flow: Array | float,
    pressure_ratio: Array | float,
    peak: Array | float,
    best_flow: Array | float,
    best_ratio: Array | float,
    flow_fall: Array | float,
    cross: Array | float,
    ratio_fall: Array | float,
) -> Array:
    """Efficiency away from the best point of a map.

    Parameters
    ----------
    flow : array
        Corrected to the map's reference state [kg/s].
    pressure_ratio : array
        [1]
    peak : array
        Highest efficiency [1].
    best_flow : array
        Corrected flow of the best point [kg/s].
    best_ratio : array
        Root of the pressure ratio of the best point [1].
    flow_fall, cross, ratio_fall : array
        Fall with the square of the relative distance in flow, with the product, with the square of the distance in
        the root of the pressure ratio [1].

    Returns
    -------
    array
        [1], never below :data:`LEAST_EFFICIENCY`.

    References
    ----------
    Elliptic efficiency (Eriksson and Nielsen, Modeling and Control of Engines and Drivelines, 2014, ch. 8, from
    memory): peak less a quadratic form.

    Examples
    --------
    >>> round(float(efficiency_at(0.24, 4.0, 0.75, 0.20, 1.8, 1.0, 0.2, 0.5)), 3)
    0.674
    """
    x = np.asarray(flow) / np.asarray(best_flow) - 1.0
    y = np.sqrt(np.asarray(pressure_ratio)) - np.asarray(best_ratio)
    fall = np.asarray(flow_fall) * x * x + 2.0 * np.asarray(cross) * x * y + np.asarray(ratio_fall) * y * y
    return np.asarray(np.maximum(np.asarray(peak) - fall, LEAST_EFFICIENCY))
