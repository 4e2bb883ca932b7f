"""How every ceiling answers to the spread of every rating, and the joint samples drawn from it.

The full model is solved at one standard deviation to either side of each rating that changes the engine's state; the
logarithm of a utilisation (and of the highest power with an operating point) is taken as a parabola in each. Joint
samples then cost a few multiplications. The error against samples solved in full is tested.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from graph.ceiling import first_crossing
from graph.model import Array

SEED = 20_000_303
SAMPLES = 2000
#: Every which power is sampled; between them utilisation runs nearly straight [1].
THIN = 2


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Response:
    """Logarithm of a positive quantity as a parabola in standard deviations of some variations.

    Parameters
    ----------
    nominal : array, shape (P,)
        The quantity without variation.
    linear, curved : array, shape (V, P)
        Coefficients of z and z squared for each variation [1].
    which : array of int, shape (V,)
        Index of each variation among all draws.
    """

    nominal: Array
    linear: Array
    curved: Array
    which: Array

    def sample(self, draws: Array) -> Array:
        """The quantity for each draw, shape (S, P); `draws` has shape (S, all variations)."""
        if self.which.size == 0:
            return np.broadcast_to(self.nominal, (draws.shape[0], self.nominal.size))
        z = draws[:, self.which]
        exponent = z @ self.linear + (z * z) @ self.curved
        return np.asarray(self.nominal * np.exp(np.clip(exponent, -5.0, 5.0)))

    def thinned(self, chosen: NDArray[np.intp]) -> Response:
        """The same at some of the powers only."""
        return Response(
            nominal=self.nominal[chosen],
            linear=self.linear[:, chosen],
            curved=self.curved[:, chosen],
            which=self.which,
        )


def response(
    nominal: Array, plus: Array | list[Array], minus: Array | list[Array], which: list[int], base: Array
) -> Response:
    """Parabola through the values at -1, 0 and +1 standard deviation of each variation.

    Parameters
    ----------
    nominal : array, shape (P,)
        The quantity as reported.
    plus, minus : array, shape (V, P), or list of V arrays
        The quantity at one standard deviation above and below, on the solving grid of `base`.
    which : list of int
        Index of each variation among all draws.
    base : array, shape (P,)
        The nominal quantity on that grid.

    Returns
    -------
    Response
        Gaps (no operating point) carry the coefficient of the last power that has one.
    """
    up, down = (np.asarray(side).reshape(len(which), nominal.size) for side in (plus, minus))
    with np.errstate(divide="ignore", invalid="ignore"):
        middle = np.log(np.maximum(base, 1e-12))
        above, below = np.log(np.maximum(up, 1e-12)) - middle, np.log(np.maximum(down, 1e-12)) - middle
        linear, curved = _filled(0.5 * (above - below)), _filled(0.5 * (above + below))
    return Response(nominal=nominal, linear=linear, curved=curved, which=np.asarray(which, dtype=int))


def _filled(values: Array) -> Array:
    """Rows with their gaps filled from the last known value before, or the first after; 0 where nothing is known."""
    known = np.isfinite(values)
    if known.all():
        return values
    index = np.maximum.accumulate(np.where(known, np.arange(values.shape[-1]), -1), axis=-1)
    index = np.where(index < 0, np.argmax(known, axis=-1)[:, None], index)
    filled = np.take_along_axis(np.where(known, values, 0.0), index, axis=-1)
    return np.asarray(filled)


def ceilings(power: Array, utilisation: Response, last_power: Response, draws: Array) -> Array:
    """Ceiling of one limit for each draw.

    Parameters
    ----------
    power : array, shape (P,)
        Powers [W].
    utilisation : Response
        Of the utilisation over those powers [1].
    last_power : Response
        Of the highest power with an operating point, shape (1,) [W].
    draws : array, shape (S, V)
        In standard deviations [1].

    Returns
    -------
    array, shape (S,)
        Ceilings [W], infinity where not passed.
    """
    return ceilings_until(power, utilisation, last_power.sample(draws)[:, 0], draws, np.abs(draws).max(axis=0))


def ceilings_until(power: Array, utilisation: Response, ends: Array, draws: Array, farthest: Array) -> Array:
    """As :func:`ceilings`, with the highest power that has an operating point in each draw given, shape (S,) [W].

    `farthest` is the largest deviation among the draws of each variation, shape (V,) [1].
    Only the powers between which a crossing can lie in any draw are sampled; the answer is that of all of them.
    """
    chosen = np.unique(np.append(np.arange(0, power.size, THIN), power.size - 1))
    thin, power = utilisation.thinned(chosen), power[chosen]
    some = _in_question(thin, farthest)
    if some is None:
        return np.full(draws.shape[0], np.inf)
    return first_crossing(power[some], thin.thinned(some).sample(draws), ends)


def _in_question(utilisation: Response, farthest: Array) -> NDArray[np.intp] | None:
    """Powers that decide where a quantity first passes 1 in any draw; None where it never does."""
    nominal = utilisation.nominal
    if nominal.size < 3:
        return np.arange(nominal.size)
    known = int(np.argmax(np.append(np.isnan(nominal), True)))
    most = farthest[utilisation.which]
    reach = most @ np.abs(utilisation.linear) + (most * most) @ np.abs(utilisation.curved) + 1e-9
    reach = np.exp(np.minimum(reach, 5.0))
    possible = np.flatnonzero(nominal[:known] * reach[:known] > 1.0)
    certain = np.flatnonzero(nominal[:known] > reach[:known])
    drawn_on = 2 <= known < nominal.size
    if not possible.size and not drawn_on:
        return None
    first = possible[0] if possible.size else known - 1
    last = certain[0] if certain.size else min(known, nominal.size - 1)
    if not certain.size and drawn_on:
        first = min(first, known - 1)
    return np.arange(max(first - 1, 0), max(last, 1) + 1)


def percentiles(values: Array) -> tuple[float, float, float | None] | None:
    """5th, 50th and 95th percentile of ceilings; None where more than half of them are never reached.

    Parameters
    ----------
    values : array, shape (S,)
        Ceilings, infinity where not passed [W].

    Returns
    -------
    tuple of three floats or None
        [W]; the last is None where the 95th percentile never reaches the limit.
    """
    count = values.size
    if 2 * np.count_nonzero(np.isinf(values)) > count:
        return None
    at = [int((count - 1) * q) for q in (0.05, 0.50, 0.95)]
    low, median, high = np.partition(values, at)[at]
    return float(low), float(median), float(high) if np.isfinite(high) else None


def tie(names: list[str], probability: Array, share: float = 0.9) -> tuple[str, ...]:
    """Smallest set of names that together hold `share` of the probability, likeliest first.

    Parameters
    ----------
    names : list of str
        One per probability.
    probability : array
        [1]
    share : float
        How much the set must hold [1].

    Returns
    -------
    tuple of str
        Each name once.
    """
    together: dict[str, float] = {}
    for name, p in zip(names, probability, strict=True):
        together[name] = together.get(name, 0.0) + float(p)
    chosen: list[str] = []
    held = 0.0
    for name, p in sorted(together.items(), key=lambda item: -item[1]):
        if held >= share - 1e-12 or p <= 0.0:
            break
        chosen.append(name)
        held += p
    return tuple(chosen)
