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


def response(nominal: Array, plus: list[Array], minus: list[Array], which: list[int], base: Array) -> Response:
    """Parabola through the values at -1, 0 and +1 standard deviation of each variation.

    Parameters
    ----------
    nominal : array, shape (P,)
        The quantity as reported.
    plus, minus : list of array, shape (P,)
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
    count = nominal.size
    linear = np.zeros((len(which), count))
    curved = np.zeros((len(which), count))
    with np.errstate(divide="ignore", invalid="ignore"):
        middle = np.log(np.maximum(base, 1e-12))
        for row, (up, down) in enumerate(zip(plus, minus, strict=True)):
            above, below = np.log(np.maximum(up, 1e-12)) - middle, np.log(np.maximum(down, 1e-12)) - middle
            linear[row] = _filled(0.5 * (above - below))
            curved[row] = _filled(0.5 * (above + below))
    return Response(nominal=nominal, linear=linear, curved=curved, which=np.asarray(which, dtype=int))


def _filled(values: Array) -> Array:
    known = np.isfinite(values)
    if not known.any():
        return np.zeros_like(values)
    index = np.maximum.accumulate(np.where(known, np.arange(values.size), -1))
    first = int(np.argmax(known))
    return np.asarray(values[np.where(index < 0, first, index)])


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
    chosen = np.unique(np.append(np.arange(0, power.size, THIN), power.size - 1))
    return first_crossing(power[chosen], utilisation.thinned(chosen).sample(draws), last_power.sample(draws)[:, 0])


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
    if np.isinf(values).mean() > 0.5:
        return None
    low, median, high = np.percentile(values, [5.0, 50.0, 95.0], method="lower")
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
