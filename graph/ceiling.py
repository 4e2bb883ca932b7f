"""From utilisation over power to a ceiling: the first power at which a limit is passed."""

from __future__ import annotations

import numpy as np

from graph.model import Array

#: Stands for a utilisation without end where a crossing is interpolated [1].
ENDLESS = 1.0e15


def first_crossing(power: Array, utilisation: Array, last_power: Array | float) -> Array:
    """Largest power with utilisation at most 1 at every power from the lowest up to it.

    Parameters
    ----------
    power : array, shape (P,)
        Powers in rising order [W].
    utilisation : array, shape (..., P)
        Demand over capacity [1]; infinity where nothing is left of the capacity, NaN where no operating point exists.
    last_power : array, shape (...,) or float
        Highest power with an operating point [W]; utilisation is drawn on in a straight line up to it.

    Returns
    -------
    array, shape (...,)
        The ceiling [W]; infinity where the limit is not passed, the lowest power where it is passed from the start.

    Examples
    --------
    >>> power = np.array([100.0, 200.0, 300.0])
    >>> float(first_crossing(power, np.array([0.5, 0.9, 1.3]), 400.0))
    225.0
    >>> float(first_crossing(power, np.array([0.5, 0.8, np.nan]), 260.0))
    inf
    >>> float(first_crossing(power, np.array([0.5, 0.9, np.nan]), 280.0))
    225.0
    >>> float(first_crossing(power, np.array([0.5, 0.9, np.inf]), 400.0))
    200.0
    """
    known = ~np.isnan(utilisation)
    usable = np.logical_and.accumulate(known, axis=-1)
    over = usable & (utilisation > 1.0)
    crossed = over.any(axis=-1)
    index = np.argmax(over, axis=-1)
    count = usable.sum(axis=-1)
    before = np.where(crossed, index - 1, count - 2)
    before = np.clip(before, 0, power.size - 2)
    filled = np.where(usable, np.minimum(utilisation, ENDLESS), 0.0)
    low = np.take_along_axis(filled, before[..., None], axis=-1)[..., 0]
    high = np.take_along_axis(filled, before[..., None] + 1, axis=-1)[..., 0]
    step = high - low
    sloped = np.abs(step) > 1e-12
    safe = np.where(sloped, step, np.inf)
    at = power[before] + (1.0 - low) / safe * (power[before + 1] - power[before])
    drawn_on = ~crossed & (count >= 2) & (count < power.size) & sloped & (step > 0.0) & (at <= last_power)
    ceiling = np.where(crossed | drawn_on, at, np.inf)
    return np.asarray(np.where(crossed & (index == 0), power[0], ceiling))
