"""What deposits on the inlet valves cost."""

from __future__ import annotations

import numpy as np

from graph.model import Array


def after_loss(air_loss: Array | float) -> Array:
    """Factor on volumetric efficiency.

    Parameters
    ----------
    air_loss : array
        Share of the air lost [1].

    Returns
    -------
    array
        [1]

    References
    ----------
    Definition; 3 to 10 % are reported from 40 to 80 thousand km (expert judgement).

    Examples
    --------
    >>> float(after_loss(0.06))
    0.94
    """
    return np.asarray(1.0 - np.asarray(air_loss))
