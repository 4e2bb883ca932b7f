"""Several like pieces side by side."""

from __future__ import annotations

import numpy as np

from graph.model import Array


def together(value: Array | float, count: int) -> Array:
    """Flow or current of like pieces that work side by side.

    Parameters
    ----------
    value : array
        Of one piece [kg/s], [m3/s] or [A].
    count : int
        Number of pieces [1].

    Returns
    -------
    array
        Of all pieces [kg/s], [m3/s] or [A].

    References
    ----------
    Continuity; the pieces see the same pressure and voltage.

    Examples
    --------
    >>> float(together(20.0, 2))
    40.0
    """
    return np.asarray(count * np.asarray(value))
