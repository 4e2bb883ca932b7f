"""Breathing, torque and power; what a rich mixture gives and costs."""

from __future__ import annotations

import numpy as np

from graph.model import Array
from graph.physics.gas import R_AIR

_LAMBDA = np.array([0.70, 0.75, 0.78, 0.80, 0.82, 0.85, 0.88, 0.90, 0.95, 1.00])
_USEFUL = np.array([0.9640, 0.9760, 0.9834, 0.9879, 0.9920, 0.9975, 1.0020, 1.0044, 1.0073, 1.0000])
_RICHNESS = np.array([1.0, 1.05, 1.1, 1.15, 1.2, 1.25, 1.3, 1.4])
_RELEASED = np.array([0.9975, 0.9364, 0.8789, 0.8266, 0.7789, 0.7353, 0.6951, 0.6240])
#: Brake mean effective pressure of a naturally aspirated spark-ignition car engine at rated power [Pa]: 8.5 standard
#: atmospheres, the middle of a handbook range of 7 to 10.
RATED_MEAN_PRESSURE = 8.5 * 101325.0


def air_flow(
    volumetric_efficiency: Array | float,
    manifold_pressure: Array | float,
    temperature: Array | float,
    displacement: float,
    speed: Array | float,
) -> Array:
    """Air flow of a four-stroke engine.

    Parameters
    ----------
    volumetric_efficiency : array
        Referred to the density in the manifold [1].
    manifold_pressure : array
        Absolute [Pa].
    temperature : array
        In the manifold [K].
    displacement : float
        Swept volume of all cylinders [m3].
    speed : array
        Engine speed [1/s].

    Returns
    -------
    array
        [kg/s]

    References
    ----------
    J. B. Heywood, Internal Combustion Engine Fundamentals, 1988, eq. 2.27 (from memory).

    Examples
    --------
    >>> round(float(air_flow(1.11, 2.405e5, 322.5, 1.98429e-3, 75.0)), 4)
    0.2146
    """
    density = np.asarray(manifold_pressure) / (R_AIR * np.asarray(temperature))
    return np.asarray(np.asarray(volumetric_efficiency) * density * displacement * np.asarray(speed) / 2.0)


def power(torque: Array | float, speed: Array | float) -> Array:
    """Shaft power.

    Parameters
    ----------
    torque : array
        [N.m]
    speed : array
        [1/s]

    Returns
    -------
    array
        [W]

    References
    ----------
    Definition: torque times angular speed.

    Examples
    --------
    >>> round(float(power(547.76, 6500.0 / 60.0)) / 745.69987, 1)
    500.0
    """
    return np.asarray(np.asarray(torque) * 2.0 * np.pi * np.asarray(speed))


def torque(power: Array | float, speed: Array | float) -> Array:
    """Shaft torque.

    Parameters
    ----------
    power : array
        [W]
    speed : array
        [1/s], above 0.

    Returns
    -------
    array
        [N.m]

    References
    ----------
    Definition: power over angular speed.

    Examples
    --------
    >>> round(float(torque(500 * 745.6998715822702, 6500.0 / 60.0)), 2)
    547.76
    """
    return np.asarray(np.asarray(power) / (2.0 * np.pi * np.asarray(speed)))


def mean_effective_pressure(torque: Array | float, displacement: float) -> Array:
    """Brake mean effective pressure of a four-stroke engine.

    Parameters
    ----------
    torque : array
        [N.m]
    displacement : float
        [m3]

    Returns
    -------
    array
        [Pa]

    References
    ----------
    Heywood 1988, eq. 2.19b (from memory): 4 pi torque / displacement.

    Examples
    --------
    >>> round(float(mean_effective_pressure(530.0, 1.984e-3)) / 1e5, 2)
    33.57
    """
    return np.asarray(4.0 * np.pi * np.asarray(torque) / displacement)


def rated_power(displacement: Array | float, speed: Array | float) -> Array:
    """Estimate of the rated power of a naturally aspirated spark-ignition car engine.

    Parameters
    ----------
    displacement : array
        [m3]
    speed : array
        Speed of the rated power [1/s].

    Returns
    -------
    array
        [W]

    References
    ----------
    Rated maximum mean effective pressure 7 to 10 atm for passenger-car spark-ignition engines (Heywood 1988, sec. 2.15,
    table of typical design and operating data, from memory): the middle, 861 kPa. The better known 850 to 1050 kPa of
    sec. 2.7 holds at maximum torque. Half of 200 road cars of about 1990 lie within 9 %, nine in ten within 20 %.

    Examples
    --------
    >>> round(float(rated_power(2.0e-3, 95.0)) / 1e3, 1)
    81.8
    """
    return np.asarray(RATED_MEAN_PRESSURE * np.asarray(displacement) * np.asarray(speed) / 2.0)


def exhaust_pressure_factor(compression_ratio: float, pressure_ratio: Array | float, k: float = 1.3) -> Array:
    """Effect of exhaust back pressure on the filling of the cylinder.

    Parameters
    ----------
    compression_ratio : float
        [1]
    pressure_ratio : array
        Pressure before the turbine over manifold pressure [1]; the derivation holds for 0.5 to 3.
    k : float
        Ratio of heat capacities [1].

    Returns
    -------
    array
        Factor on volumetric efficiency, 1 for equal pressures [1].

    References
    ----------
    Energy balance over induction, ideal gas, adiabatic: r/(r-1) - (p3/p2 + k - 1)/(k (r-1)) (own derivation; the
    reversible form of C. F. Taylor lies up to 0.8 % higher at p3/p2 = 2).

    Examples
    --------
    >>> round(float(exhaust_pressure_factor(9.7, 1.5)), 5)
    0.95579
    """
    span = compression_ratio - 1.0
    return np.asarray(compression_ratio / span - (np.asarray(pressure_ratio) + (k - 1.0)) / (k * span))


def residual_fraction(
    compression_ratio: float,
    pressure_ratio: Array | float,
    intake_temperature: Array | float,
    residual_temperature: float,
) -> Array:
    """Share of burned gas that stays in the cylinder.

    Parameters
    ----------
    compression_ratio : float
        [1]
    pressure_ratio : array
        Pressure before the turbine over manifold pressure [1].
    intake_temperature : array
        [K]
    residual_temperature : float
        [K]

    Returns
    -------
    array
        [1]

    References
    ----------
    Ideal cycle (Heywood 1988, sec. 5.8, from memory): (1/r) (p3/p2)^(1/1.3) T_m/T_r.

    Examples
    --------
    >>> round(float(residual_fraction(10.0, 1.0, 345.0, 1150.0)), 3)
    0.03
    """
    return np.asarray(
        np.asarray(pressure_ratio) ** (1.0 / 1.3)
        * np.asarray(intake_temperature)
        / (residual_temperature * compression_ratio)
    )


def mixture_factor(mixture: Array | float) -> Array:
    """Useful energy per mass of air against a stoichiometric mixture.

    Parameters
    ----------
    mixture : array
        Air-fuel equivalence ratio lambda [1], 0.75 to 1 (0.70 extrapolated); held below, and with the fuel above 1.

    Returns
    -------
    array
        [1]

    References
    ----------
    Fuel-air cycles of iso-octane at compression ratio 9.7, 340 K, 250 kPa, computed with Cantera (equilibrium). Real
    engines gain 1 to 3 % more near 0.9 through a faster burn (from memory of the literature).
    :func:`graph.physics.chemical_cycle.chemical_cycle` needs no such table. With walls and a burn that takes its time the
    flame is cooler, dissociation takes less from a stoichiometric mixture, and one of 0.8 is worth about 1 % less than
    here (tested with Cantera): what the faster burn gives back at least.

    Examples
    --------
    >>> float(mixture_factor(0.85))
    0.9975
    >>> float(mixture_factor(1.25))
    0.8
    """
    return np.asarray(np.interp(mixture, _LAMBDA, _USEFUL) / np.maximum(mixture, 1.0))


def heat_release_fraction(equivalence_ratio: Array | float) -> Array:
    """Share of the fuel's heating value that is released when the exhaust composition freezes.

    Parameters
    ----------
    equivalence_ratio : array
        Fuel-air equivalence ratio, 1 / lambda [1], 1 to 1.4; held at the ends.

    Returns
    -------
    array
        [1]

    References
    ----------
    Water-gas equilibrium frozen at 1740 K, computed with Cantera.

    Examples
    --------
    >>> float(heat_release_fraction(1.2))
    0.7789
    """
    return np.asarray(np.interp(equivalence_ratio, _RICHNESS, _RELEASED))
