"""Forces in a running engine: rods between gas and inertia, exhaust valves against back pressure."""

from __future__ import annotations

import numpy as np

from graph.model import Array
from graph.physics.mechanical import gas_force, inertia_force


def rod_compression(
    bore: float, stroke: float, rod: float, mass: Array | float, peak_pressure: Array | float, speed: Array | float
) -> Array:
    """Compression of a rod when combustion peaks near top dead centre.

    Parameters
    ----------
    bore, stroke, rod : float
        [m]
    mass : array
        Reciprocating, of one cylinder [kg].
    peak_pressure : array
        In the cylinder, absolute [Pa].
    speed : array
        [1/s]

    Returns
    -------
    array
        [N]: gas force less inertia, so worst at low speed and high torque.

    References
    ----------
    Force balance with :func:`gas_force` and :func:`inertia_force` (Taylor, vol. 2, from memory).

    Examples
    --------
    52.92 kN of gas less 19.78 kN of inertia:

    >>> round(float(rod_compression(0.0825, 0.0928, 0.144, 0.60, 100e5, 7000.0 / 60.0)) / 1e3, 2)
    33.14
    """
    relief = inertia_force(1.0, stroke / 2.0, rod, speed)
    return np.asarray(gas_force(bore, peak_pressure) - np.asarray(mass) * relief)


def rod_tension(stroke: float, rod: float, mass: Array | float, speed: Array | float) -> Array:
    """Tension of a rod at the end of the exhaust stroke.

    Parameters
    ----------
    stroke, rod : float
        [m]
    mass : array
        Reciprocating, of one cylinder [kg].
    speed : array
        [1/s]

    Returns
    -------
    array
        [N]: independent of boost, worst at the highest speed with the throttle shut.

    References
    ----------
    As :func:`inertia_force`.

    Examples
    --------
    >>> round(float(rod_tension(0.0928, 0.144, 0.60, 7000.0 / 60.0)) / 1e3, 2)
    19.78
    """
    return np.asarray(np.asarray(mass) * inertia_force(1.0, stroke / 2.0, rod, speed))


def valve_lift_force(
    exhaust_pressure: Array | float, cylinder_pressure: Array | float, diameter: Array | float, pulse: float = 1.3
) -> Array:
    """Force of the exhaust pressure that pushes a shut exhaust valve open during induction.

    Parameters
    ----------
    exhaust_pressure : array
        Mean pressure before the turbine, absolute [Pa].
    cylinder_pressure : array
        During induction, about the manifold pressure, absolute [Pa].
    diameter : array
        Of the valve head [m].
    pulse : float
        Peak of the pulses over the mean [1], 1.2 to 1.5 in a short manifold (assumption).

    Returns
    -------
    array
        [N], never below 0; the spring's load on the seat must be larger.

    References
    ----------
    Force balance of the shut valve.

    Examples
    --------
    1.3 times 3.0 bar against 2.5 bar on 28 mm: 140 kPa on 615.8 mm2.

    >>> round(float(valve_lift_force(3.0e5, 2.5e5, 0.028)), 1)
    86.2
    """
    over = pulse * np.asarray(exhaust_pressure) - np.asarray(cylinder_pressure)
    return np.asarray(np.pi / 4.0 * np.asarray(diameter) ** 2 * np.maximum(over, 0.0))
