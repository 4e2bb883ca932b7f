"""What a part really carries: its stated rating, weighed against pulls that reached its limit or did not.

The logarithm of the true capacity of one piece over the stated one is a sum of three deviations: one that all parts of
a kind share (how such ratings are stated and how this shop measures), one that all pieces of a part number share, one
of the piece itself. A pull that reached the limit measures the piece; one that did not leaves a lower bound. The
posterior is reckoned by quadrature over the two shared deviations and along the piece's own, without sampling.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType

import numpy as np

from graph.errors import OutOfRange
from graph.model import Array, Meaning

#: Shares of the variance of a rating that the kind, the part number and the single piece have (assumption) [1].
KIND_SHARE, PART_SHARE, PIECE_SHARE = 0.15, 0.35, 0.50
#: Share of pieces that are not as stated at all, worn, damaged, badly fitted, and how far they lie off (assumption) [1].
ODD_SHARE, ODD_SPREAD = 0.03, 0.25
#: Spread of a rating that states none (assumption) [1].
PLAIN_SPREAD = 0.05
_NODES = np.linspace(-4.0, 4.0, 33)
_WEIGHT = np.exp(-0.5 * _NODES**2) / np.exp(-0.5 * _NODES**2).sum()
_SQRT2 = math.sqrt(2.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """What one pull showed of one limit of one car.

    Parameters
    ----------
    car, slot : str
        The piece: what sits in this place of this car.
    kind : str
        Part kind.
    rating : str
        The rating that states the capacity.
    part : str or None
        Part number; None where the part is only claimed.
    reached : bool
        True where the limit was reached: `demand` is what the piece carried and not more. False where it was not:
        the piece carries at least that.
    demand : float
        What was asked of the part [SI].
    capacity : float
        What its stated rating would have let it carry there [SI, the same unit].
    rated : float
        The stated rating then [SI].
    spread : float
        Relative standard deviation of `demand` [1].
    source : str
        Name of the log.
    date : str or None
        ISO date.
    text : str
        How `demand` was found.
    """

    car: str
    slot: str
    kind: str
    rating: str
    part: str | None
    reached: bool
    demand: float
    capacity: float
    rated: float
    spread: float
    source: str = ""
    date: str | None = None
    text: str = ""

    def __post_init__(self) -> None:
        """Refuse numbers that are no measurement."""
        numbers = (self.demand, self.capacity, self.rated, self.spread)
        if not all(math.isfinite(n) and n > 0.0 for n in numbers) or self.spread > 1.0:
            raise OutOfRange(
                f"trial of the {self.slot} of {self.car}",
                ", ".join(f"{n:g}" for n in numbers),
                "demand, capacity and rating above zero, a spread up to 1",
                "judge the log again",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Stated:
    """What is stated of a part: rating [SI], its relative standard deviation [1] and what it means."""

    rated: float
    spread: float
    meaning: Meaning = Meaning.NOMINAL


@dataclass(frozen=True, slots=True, kw_only=True)
class Learned:
    """True capacity of a piece over the stated one, after the trials.

    Parameters
    ----------
    low, median, high : float
        5th, 50th and 95th percentile [1].
    reached, carried : int
        Trials that reached the limit and that did not, of this piece and of others that bear on it [1].
    own : int
        Of these, the trials of this very piece [1].
    """

    low: float
    median: float
    high: float
    reached: int
    carried: int
    own: int

    @property
    def spread(self) -> float:
        """Relative standard deviation that spans the same 90 % [1]."""
        sigma = math.log(self.high / self.low) / (2.0 * 1.6448536269514722)
        return math.sqrt(math.expm1(sigma**2))


def _standing(stated: Stated) -> tuple[float, float]:
    """Mean and standard deviation of the logarithm of true over stated capacity [1]."""
    sigma = math.sqrt(math.log1p((stated.spread or PLAIN_SPREAD) ** 2))
    if stated.meaning is Meaning.GUARANTEED:
        return 1.6448536269514722 * sigma, sigma
    if stated.meaning is Meaning.NOMINAL:
        return 0.0, sigma
    side = 1.0 if stated.meaning is Meaning.SURVIVED else -1.0
    return side * sigma * math.sqrt(2.0 / math.pi), sigma * math.sqrt(1.0 - 2.0 / math.pi)


def _normal(x: Array, mean: Array | float, sigma: Array | float) -> Array:
    return np.asarray(np.exp(-0.5 * ((x - mean) / sigma) ** 2) / (sigma * math.sqrt(2.0 * math.pi)))


def _below(z: Array) -> Array:
    """Standard normal distribution function."""
    return np.array([0.5 * math.erfc(-v / _SQRT2) for v in np.ravel(z)]).reshape(np.shape(z))


def _axis(mean: float, sigma: float, trials: Collection[tuple[float, float, bool]]) -> Array:
    """Points along the logarithm, close where something happens."""
    parts = [np.linspace(-1.5, 1.5, 121), mean + sigma * np.linspace(-8.0, 8.0, 161)]
    parts += [at + noise * np.linspace(-6.0, 6.0, 49) for at, noise, _ in trials]
    return np.unique(np.concatenate(parts))


def _likelihood(x: Array, trials: Collection[tuple[float, float, bool]]) -> Array:
    chance = np.ones_like(x)
    for at, noise, reached in trials:
        chance = chance * (np.exp(-0.5 * ((x - at) / noise) ** 2) if reached else _below((x - at) / noise))
    return chance


def _widths(x: Array) -> Array:
    return np.asarray(np.gradient(x))


def _piece(x: Array, centre: Array, sigma: float, odd: float) -> Array:
    """Density of a piece about the centre of its part number, shape (centres, x)."""
    plain = _normal(x[None, :], centre[:, None], sigma)
    return (1.0 - odd) * plain + odd * _normal(x[None, :], centre[:, None], math.hypot(sigma, ODD_SPREAD))


def learn(
    trials: Collection[Trial],
    part: str | None,
    piece: tuple[str, str] | None,
    stated: Mapping[str, Stated],
    *,
    odd: float = ODD_SHARE,
) -> Learned:
    """Weigh a rating against every trial of its kind.

    Parameters
    ----------
    trials : collection of Trial
        Of one rating of one kind; those of parts not in `stated` are left out.
    part : str
        Number of the part wanted.
    piece : (car, slot) or None
        The piece wanted; None for another piece of the same number.
    stated : mapping of str to Stated
        By part number, with the wanted part.
    odd : float
        Share of pieces that are not as stated at all [1].

    Returns
    -------
    Learned
        Factors on the stated rating [1].

    References
    ----------
    A. Gelman et al., Bayesian Data Analysis, 3rd edition, 2013, chapter 5 (hierarchical normal model) and section 8.7
    (censored data), from memory.

    Examples
    --------
    A rating of 5 % spread and one pull that reached the limit at 0.9 of it, measured to 5 %: half way.

    >>> trial = Trial(car="a", slot="s", kind="k", rating="r", part="p", reached=True, demand=0.9, capacity=1.0,
    ...               rated=1.0, spread=0.05)
    >>> found = learn([trial], "p", ("a", "s"), {"p": Stated(rated=1.0, spread=0.05)}, odd=0.0)
    >>> round(found.median, 3), round(0.9**0.5, 3)
    (0.949, 0.949)
    """
    table = tuple(sorted(stated.items()))
    return _learn(tuple(trials), part or "", piece, table, odd)


@lru_cache(maxsize=4096)
def _learn(
    trials: tuple[Trial, ...],
    part: str,
    piece: tuple[str, str] | None,
    table: tuple[tuple[str, Stated], ...],
    odd: float,
) -> Learned:
    stated: Mapping[str, Stated] = MappingProxyType(dict(table))
    pieces: dict[str, dict[tuple[str, str], list[tuple[float, float, bool]]]] = {part: {}}
    own: list[tuple[float, float, bool]] = []
    counted = [0, 0]
    for t in trials:
        mine = (t.car, t.slot) == piece
        number = part if mine else t.part
        if number is None or number not in stated:
            continue
        counted[t.reached] += 1
        at = math.log(t.demand / t.capacity * t.rated / stated[number].rated)
        seen = (at, max(math.sqrt(math.log1p(t.spread**2)), 1e-3), t.reached)
        if mine:
            own.append(seen)
        else:
            pieces.setdefault(number, {}).setdefault((t.car, t.slot), []).append(seen)
    log_kind = np.zeros(_NODES.size)
    nodes = np.zeros((_NODES.size, _NODES.size))
    for number, found in pieces.items():
        together = np.zeros((_NODES.size, _NODES.size))  # kind by part number
        for seen_there in found.values():
            together += _message(stated[number], tuple(seen_there), odd)
        if number == part:
            nodes = together
        else:
            top = together.max(axis=1, keepdims=True)
            log_kind += (np.log((np.exp(together - top) * _WEIGHT).sum(axis=1)) + top[:, 0]) if found else 0.0
    mean, sigma = _standing(stated[part])
    weight = nodes + log_kind[:, None]
    weight = np.exp(weight - weight.max()) * _WEIGHT[:, None] * _WEIGHT[None, :]
    x = _axis(mean, sigma, own)
    centre = _centres(mean, sigma).ravel()
    rough = np.linspace(centre.min(), centre.max(), 241)  # weights gathered on close centres, then one sum along x
    share = np.bincount(np.rint((centre - rough[0]) / (rough[1] - rough[0])).astype(int), weight.ravel(), rough.size)
    density = share @ _piece(x, rough, sigma * math.sqrt(PIECE_SHARE), odd) * _likelihood(x, own)
    total = np.concatenate([[0.0], np.cumsum(0.5 * (density[1:] + density[:-1]) * np.diff(x))])
    low, median, high = np.exp(np.interp(np.array([0.05, 0.5, 0.95]) * total[-1], total, x))
    return Learned(
        low=float(low),
        median=float(median),
        high=float(high),
        reached=counted[1],
        carried=counted[0],
        own=len(own),
    )


def _centres(mean: float, sigma: float) -> Array:
    """Centre of a part number for each deviation of its kind and its own, shape (kind, part number)."""
    return np.asarray(
        mean + sigma * (math.sqrt(KIND_SHARE) * _NODES[:, None] + math.sqrt(PART_SHARE) * _NODES[None, :])
    )


@lru_cache(maxsize=4096)
def _message(stated: Stated, seen: tuple[tuple[float, float, bool], ...], odd: float) -> Array:
    """Logarithm of the chance of what was seen of one piece, for each deviation of kind and part number."""
    mean, sigma = _standing(stated)
    x = _axis(mean, sigma, seen)
    centres = _centres(mean, sigma)
    rough = np.linspace(centres.min(), centres.max(), 97)
    chance = _piece(x, rough, sigma * math.sqrt(PIECE_SHARE), odd) @ (_likelihood(x, seen) * _widths(x))
    return np.asarray(np.interp(centres, rough, np.log(np.maximum(chance, 1e-280))))
