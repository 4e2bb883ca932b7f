"""How the fuel divides between direct and port injection."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from graph.model import Array

PORT_SHARE = "port share"


def direct(fuel_flow: Array | float, shared: Mapping[str, float]) -> Array:
    """Fuel that goes through the direct injectors and the high-pressure pump.

    Parameters
    ----------
    fuel_flow : array
        Of the engine [kg/s].
    shared : mapping of str to float
        Holds ``port share`` where a port supplement is fitted [1].

    Returns
    -------
    array
        [kg/s]

    References
    ----------
    Continuity.

    Examples
    --------
    >>> float(direct(1.0, {"port share": 0.25}))
    0.75
    """
    return np.asarray((1.0 - shared.get(PORT_SHARE, 0.0)) * np.asarray(fuel_flow))


def port(fuel_flow: Array | float, shared: Mapping[str, float]) -> Array:
    """Fuel that goes through the port injectors.

    Parameters
    ----------
    fuel_flow : array
        Of the engine [kg/s].
    shared : mapping of str to float
        Holds ``port share`` where a port supplement is fitted [1].

    Returns
    -------
    array
        [kg/s]

    References
    ----------
    Continuity.

    Examples
    --------
    >>> float(port(1.0, {"port share": 0.25}))
    0.25
    """
    return np.asarray(shared.get(PORT_SHARE, 0.0) * np.asarray(fuel_flow))
