"""Forces on rods, clutch and shafts; energy in the brakes."""

from __future__ import annotations

import numpy as np

from graph.model import Array


def gas_force(bore: float, pressure: Array | float, crankcase: float = 1e5) -> Array:
    """Force of the gas on a piston.

    Parameters
    ----------
    bore : float
        [m]
    pressure : array
        Cylinder pressure, absolute [Pa].
    crankcase : float
        Absolute [Pa].

    Returns
    -------
    array
        [N]

    References
    ----------
    Definition: piston area times pressure difference.

    Examples
    --------
    >>> round(float(gas_force(0.0825, 100e5)) / 1e3, 2)
    52.92
    """
    return np.asarray(np.pi / 4.0 * bore**2 * (np.asarray(pressure) - crankcase))


def inertia_force(mass: float, crank: float, rod: float, speed: Array | float) -> Array:
    """Inertia force at top dead centre.

    Parameters
    ----------
    mass : float
        Reciprocating [kg].
    crank, rod : float
        Crank radius and rod length [m].
    speed : array
        [1/s]

    Returns
    -------
    array
        [N]

    References
    ----------
    Slider-crank, first and second order (Taylor, The Internal Combustion Engine in Theory and Practice, vol. 2, from
    memory).

    Examples
    --------
    >>> round(float(inertia_force(0.60, 0.0464, 0.144, 7000.0 / 60.0)) / 1e3, 2)
    19.78
    """
    return np.asarray(mass * crank * (2.0 * np.pi * np.asarray(speed)) ** 2 * (1.0 + crank / rod))


def clutch_torque_uniform_wear(friction: float, faces: int, force: float, outer: float, inner: float) -> float:
    """Torque of a disc clutch that has worn in.

    Parameters
    ----------
    friction : float
        [1]
    faces : int
        [1]
    force : float
        Clamp load [N].
    outer, inner : float
        Radii [m].

    Returns
    -------
    float
        [N.m]

    References
    ----------
    Machine-element textbooks (from memory).

    Examples
    --------
    >>> round(clutch_torque_uniform_wear(0.35, 2, 9000.0, 0.120, 0.075), 2)
    614.25
    """
    return friction * faces * force * (outer + inner) / 2.0


def clutch_torque_uniform_pressure(friction: float, faces: int, force: float, outer: float, inner: float) -> float:
    """Torque of a new disc clutch.

    Parameters
    ----------
    friction : float
        [1]
    faces : int
        [1]
    force : float
        Clamp load [N].
    outer, inner : float
        Radii [m].

    Returns
    -------
    float
        [N.m]

    References
    ----------
    Machine-element textbooks (from memory).

    Examples
    --------
    >>> round(clutch_torque_uniform_pressure(0.35, 2, 9000.0, 0.120, 0.075), 2)
    625.15
    """
    return 2.0 / 3.0 * friction * faces * force * (outer**3 - inner**3) / (outer**2 - inner**2)


def shaft_torque(torque: Array | float, ratio: float, shafts: int = 2, efficiency: float = 0.95) -> Array:
    """Torque on one driveshaft.

    Parameters
    ----------
    torque : array
        Crank torque [N.m].
    ratio : float
        Overall ratio of the gear [1].
    shafts : int
        Driven shafts [1].
    efficiency : float
        [1]

    Returns
    -------
    array
        [N.m]

    References
    ----------
    Torque balance; grip of the tyre may hold it lower.

    Examples
    --------
    >>> round(float(shaft_torque(530.0, 3.4 * 3.6)), 0)
    3081.0
    """
    return np.asarray(np.asarray(torque) * ratio * efficiency / shafts)


def brake_energy(mass: float, fast: float, slow: float) -> float:
    """Energy that the brakes take in one stop.

    Parameters
    ----------
    mass : float
        Of the car [kg].
    fast, slow : float
        Speeds before and after [m/s].

    Returns
    -------
    float
        [J]

    References
    ----------
    Kinetic energy.

    Examples
    --------
    >>> round(brake_energy(1500.0, 250 / 3.6, 100 / 3.6) / 1e3, 1)
    3038.2
    """
    return mass * (fast**2 - slow**2) / 2.0


def stops_in(duration: float, every: float = 60.0, least: float = 4.0) -> float:
    """Hard stops to expect while full load is asked for so long.

    Parameters
    ----------
    duration : float
        [s]
    every : float
        Time between stops [s].
    least : float
        On a road drive [1].

    Returns
    -------
    float
        Stops [1].

    References
    ----------
    Assumption: one hard stop a minute on a circuit, four on a brisk road drive.

    Examples
    --------
    >>> stops_in(1200.0)
    20.0
    """
    return max(least, duration / every)


def shaft_stress(torque: Array | float, diameter: Array | float) -> Array:
    """Shear stress at the surface of a solid round shaft in torsion.

    Parameters
    ----------
    torque : array
        On the shaft [N.m].
    diameter : array
        Smallest diameter [m].

    Returns
    -------
    array
        [Pa]; nominal, without notches and splines.

    References
    ----------
    Elastic torsion, 16 M / (pi d^3) (machine-element textbooks, from memory).

    Examples
    --------
    >>> round(float(shaft_stress(3080.0, 0.028)) / 1e6, 1)
    714.6
    """
    return np.asarray(16.0 * np.asarray(torque) / (np.pi * np.asarray(diameter) ** 3))


def head_lift_force(ring_diameter: Array | float, pressure: Array | float) -> Array:
    """Force with which the gas of one cylinder lifts the head.

    Parameters
    ----------
    ring_diameter : array
        Of the gasket's sealing ring [m], about 2 mm over the bore.
    pressure : array
        Peak cylinder pressure over ambient [Pa].

    Returns
    -------
    array
        [N]; the clamp load per cylinder should be 2.0 to 2.5 times as much (from memory of design practice).

    References
    ----------
    Definition: area times pressure.

    Examples
    --------
    >>> round(float(head_lift_force(0.0845, 120e5)) / 1e3, 1)
    67.3
    """
    return np.asarray(np.pi / 4.0 * np.asarray(ring_diameter) ** 2 * np.asarray(pressure))
