"""Pre-ignition at low speed: the load up to which it stays rare."""

from __future__ import annotations

import numpy as np

from graph.model import Array

#: Speed below which it is seen [1/s] (about 2500 1/min; above, the charge has too little time) and the load up to
#: which it stays rare, as brake mean effective pressure [Pa] (16 to 22 bar by oil, fuel and deposits). Both from
#: memory of the literature on turbocharged direct injection; a review is SAE 2022-28-0023.
HIGHEST_SPEED = 2500.0 / 60.0
USUAL_LOAD = 20.0e5


def mean_pressure(torque: Array | float, displacement: float) -> Array:
    """Brake mean effective pressure of a four-stroke engine.

    Parameters
    ----------
    torque : array
        [N.m]
    displacement : float
        Swept volume of all cylinders [m3].

    Returns
    -------
    array
        [Pa]

    References
    ----------
    Definition: work of two revolutions over the swept volume (Heywood 1988, eq. 2.19, from memory).

    Examples
    --------
    >>> round(float(mean_pressure(530.0, 1.984e-3)) / 1e5, 3)
    33.569
    """
    return np.asarray(4.0 * np.pi * np.asarray(torque) / displacement)


def low_speed_load(torque: Array | float, speed: Array | float, bore: float, stroke: float, cylinders: float) -> Array:
    """Load that counts for pre-ignition: the mean pressure at low speed, nothing above.

    Parameters
    ----------
    torque : array
        [N.m]
    speed : array
        [1/s]
    bore, stroke : float
        [m]
    cylinders : float
        [1]

    Returns
    -------
    array
        [Pa]; 0 above :data:`HIGHEST_SPEED`.

    References
    ----------
    Seen in turbocharged direct-injection engines at low speed and high load (SAE 2022-28-0023, abstract); the speed
    from memory.

    Examples
    --------
    >>> np.round(low_speed_load(400.0, np.array([30.0, 60.0]), 0.0825, 0.0928, 4.0) / 1e5, 2).tolist()
    [25.33, 0.0]
    """
    displacement = np.pi / 4.0 * bore**2 * stroke * cylinders
    load = mean_pressure(torque, displacement)
    return np.asarray(np.where(np.asarray(speed) <= HIGHEST_SPEED, load, 0.0 * load))
