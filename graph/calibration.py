"""What dyno records say about one engine: the parameters, their priors, the posterior, and what stays open.

The parameters are factors on the model, each a logarithm with a normal prior. Beside them the model itself is wrong
by a smooth function of speed and boost, a Gaussian process of stated size (:func:`discrepancy`), which keeps
posterior and predictions from being surer than the model deserves.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from graph.learnt import MOST_EFFECTIVE, Learnt
from graph.model import Array

#: Path fields that are estimated; their priors are the model's own spreads, widened.
ESTIMATED = ("breathing", "knock_gain", "friction_gain")
WIDENED = 2.0
WORDS: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "breathing": ("breathing", "a full-load curve with a narrower loss interval would"),
        "knock_gain": ("knock", "a point at more boost, where knock sets the spark, would"),
        "friction_gain": ("friction", "a coast-down of the engine or points at much less boost would"),
    }
)
#: Properties of parts that move along: path field -> (relative standard deviation [1], word); assumptions.
PARTS: Mapping[str, tuple[float, str]] = MappingProxyType(
    {
        "compressor_efficiency": (0.04, "compressor efficiency"),
        "turbine_efficiency": (0.05, "turbine efficiency"),
        "cooler_effectiveness": (0.04, "cooler effectiveness"),
    }
)
#: Error of the model in ln(torque): over speed, its length [1/s], per 1e5 Pa of boost (assumptions, see the tests).
SHAPE_SPREAD = 0.015
SHAPE_LENGTH = 15.0
BOOST_SPREAD = 0.015
#: How the name of a loss begins, and the spread below which a parameter is fixed [1].
LOSS = "loss"
LEAST_SPREAD = 1e-6
#: Correlation above which two causes cannot be told apart, and share of the prior that counts as not learnt [1].
ALIKE = 0.9
NOT_LEARNT = 0.9


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """One factor on the model: median with the 5th and 95th percentile, before and after the records [1]."""

    name: str
    factor: float
    low: float
    high: float
    prior_low: float
    prior_high: float
    learnt: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Calibration:
    """What the records say.

    Parameters
    ----------
    names : tuple of str
        The k parameters: path fields, then ``loss: <dyno>, <basis>``.
    spread : array, shape (k,)
        Prior standard deviations of their logarithms [1].
    centre : array, shape (k,)
        Prior means of the logarithms [1].
    mean, covariance : array, shape (k,), (k, k)
        Posterior in units of the prior's standard deviation about its mean [1].
    estimates : tuple of Estimate
        The estimated factors.
    fed : mapping of str to float
        Path fields of the build that was measured [SI].
    fuels : tuple of str
        Fuels of the records.
    place : array, shape (m, 2)
        Speed [1/s] and manifold pressure [Pa] of each reading.
    residual : array, shape (m,)
        Observed less modelled ln(torque) at the mean [1].
    slope : array, shape (m, k)
        Of the modelled ln(torque) [1].
    inverse : array, shape (m, m)
        Inverse covariance of the readings about the model [1].
    misfit : float
        Chi squared of the readings per reading [1]; far above 1 means that the records contradict the model.
    words : tuple of str
        What the records cannot tell.
    """

    names: tuple[str, ...]
    spread: Array
    centre: Array
    mean: Array
    covariance: Array
    estimates: tuple[Estimate, ...]
    fed: Mapping[str, float]
    fuels: tuple[str, ...]
    place: Array
    residual: Array
    slope: Array
    inverse: Array
    misfit: float
    words: tuple[str, ...]


def moved(fed: Mapping[str, float], names: Sequence[str], logarithm: Array) -> list[dict[str, float]]:
    """Path fields of a build with factors on some of them.

    Parameters
    ----------
    fed : mapping of str to float
        What the build's parts feed [SI].
    names : sequence of str
        Of the k parameters; those that are no path field are left out.
    logarithm : array, shape (B, k)
        Logarithm of each factor [1].

    Returns
    -------
    list of dict
        B configurations [SI].
    """
    paths: list[dict[str, float]] = []
    for row in np.exp(logarithm):
        path = dict(fed)
        for name, factor in zip(names, row, strict=True):
            if name in ESTIMATED or name in fed:
                path[name] = path.get(name, 1.0) * float(factor)
        if "cooler_effectiveness" in path:
            path["cooler_effectiveness"] = min(path["cooler_effectiveness"], MOST_EFFECTIVE)
        paths.append(path)
    return paths


def discrepancy(first: Array, second: Array, middle: float) -> Array:
    """Covariance of the model's error in ln(torque) between two sets of places.

    Parameters
    ----------
    first, second : array, shape (a, 2), (b, 2)
        Speed [1/s] and manifold pressure [Pa].
    middle : float
        Manifold pressure about which the error grows with boost [Pa].

    Returns
    -------
    array, shape (a, b)
        [1]

    Examples
    --------
    >>> here, more = np.array([[100.0, 2.0e5]]), np.array([[100.0, 3.0e5]])
    >>> round(float(discrepancy(here, here, 2.0e5)[0, 0] ** 0.5), 4), round(float(discrepancy(more, more, 2.0e5)[0, 0]), 6)
    (0.015, 0.00045)
    """
    away = (first[:, None, 0] - second[None, :, 0]) / SHAPE_LENGTH
    near = np.exp(-0.5 * away**2)
    lift = (first[:, None, 1] - middle) * (second[None, :, 1] - middle) / 1e10
    return np.asarray(SHAPE_SPREAD**2 * near + BOOST_SPREAD**2 * lift * 0.5 * (1.0 + near))


def mean_pressure(place: Array) -> float:
    """Manifold pressure about which the error of the model grows with boost: the mean of the readings [Pa]."""
    return float(place[:, 1].mean())


def condensed(found: Calibration, speed: float, records: Sequence[str] = ()) -> Learnt:
    """What a check needs of a calibration: factors on the engine and on the measured parts, with their covariance.

    Parameters
    ----------
    found : Calibration
        From the records.
    speed : float
        Speed of the power [1/s]; what the model still misses there counts as breathing, whose factor torque follows
        about one to one.
    records : sequence of str
        Names of the sheets and logs.

    Returns
    -------
    Learnt
        The losses of the dynos are averaged over. A factor of which the records say nothing new keeps the model's own
        spread, not the wider one with which learning starts.

    References
    ----------
    Marginals and conditionals of a Gaussian: Bishop, Pattern Recognition and Machine Learning, 2006, sec. 2.3 (from
    memory).
    """
    middle = mean_pressure(found.place)
    place = np.array([[speed, middle]])
    across = (discrepancy(place, found.place, middle) @ found.inverse)[0]
    within = float(discrepancy(place, place, middle)[0, 0] - across @ discrepancy(found.place, place, middle)[:, 0])
    lever = np.vstack([np.diag(found.spread), -(across @ found.slope)[None]])
    mean = np.append(found.centre + found.spread * found.mean, across @ found.residual)
    covariance = lever @ found.covariance @ lever.T
    covariance[-1, -1] += max(within, 0.0)
    for estimate in (e for e in found.estimates if not e.learnt):
        k = found.names.index(estimate.name)
        gain = covariance[:, k] / (covariance[k, k] + found.spread[k] ** 2 / (WIDENED**2 - 1.0))
        mean, covariance = mean - gain * mean[k], covariance - np.outer(gain, covariance[k])
    fields = [name for name in found.names if not name.startswith(LOSS)]
    chosen = np.zeros((len(fields), mean.size))
    for row, name in enumerate(fields):
        chosen[row, found.names.index(name)] = 1.0
    chosen[fields.index("breathing"), -1] = 1.0
    covariance = chosen @ covariance @ chosen.T
    return Learnt(
        fields=tuple(fields),
        mean=tuple(map(float, chosen @ mean)),
        covariance=tuple(tuple(map(float, row)) for row in covariance),
        fed=tuple((name, float(found.fed[name])) for name in fields if name in PARTS),
        readings=int(found.residual.size),
        records=tuple(records),
        fuels=found.fuels,
        words=found.words,
    )


def cannot_tell(
    names: Sequence[str], spread: Array, covariance: Array, estimates: Sequence[Estimate]
) -> tuple[str, ...]:
    """Say what the records leave open.

    Parameters
    ----------
    names : sequence of str
        Of the k parameters.
    spread : array, shape (k,)
        Prior standard deviations; a parameter without any is fixed and left out [1].
    covariance : array, shape (k, k)
        Posterior in units of the prior's standard deviation [1].
    estimates : sequence of Estimate
        The estimated factors.

    Returns
    -------
    tuple of str
        One sentence each: two causes that go together in more than nine tenths, a factor that is as wide as before.
    """
    deviation = np.sqrt(np.diag(covariance))
    alike = covariance / np.outer(deviation, deviation)
    said = [
        f"The records cannot tell {_word(first)} from {_word(second)} (correlation {alike[i, j]:.2f}); "
        f"{WORDS[first][1]}."
        for i, first in enumerate(names)
        for j, second in enumerate(names)
        if j > i and first in ESTIMATED and abs(alike[i, j]) > ALIKE and min(spread[i], spread[j]) > LEAST_SPREAD
    ]
    said += [
        f"The records say nothing new about {_word(e.name)}: {e.low:.2f} to {e.high:.2f} after, "
        f"{e.prior_low:.2f} to {e.prior_high:.2f} before; {WORDS[e.name][1]}."
        for e in estimates
        if not e.learnt
    ]
    return tuple(said)


def _word(name: str) -> str:
    if name in WORDS:
        return WORDS[name][0]
    return PARTS[name][1] if name in PARTS else "the " + name.replace(":", " of", 1)
