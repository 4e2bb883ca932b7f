"""How a shop's jobs turn out: hours that vary, and what may be found when a place is opened."""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from graph.errors import OutOfRange
from graph.model import Array

#: Standard deviations between the median and the 5th or 95th percentile of a normal distribution [1].
AT_95 = NormalDist().inv_cdf(0.95)
#: Share of the variance of all hours that the jobs on one car have in common: its rust, its access, its mechanic [1].
#: A reckoning; a shop's own job cards replace it.
COMMON = 0.3


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """Three values of something that varies: one case in 20 is lower, half are lower, one in 20 is higher.

    Parameters
    ----------
    low, usual, high : float
        5th, 50th and 95th percentile, in one unit; all 0 for nothing.

    Raises
    ------
    OutOfRange
        They do not rise, or some are 0 and others not.
    """

    low: float
    usual: float
    high: float

    def __post_init__(self) -> None:
        nothing = self.low == self.usual == self.high == 0.0
        if not nothing and not 0.0 < self.low <= self.usual <= self.high < math.inf:
            found = f"{self.low:g}, {self.usual:g}, {self.high:g}"
            raise OutOfRange("low, usual and high", found, "rising numbers above 0", "write the lowest first")

    def at(self, deviation: Array) -> Array:
        """Values at standard normal deviates.

        Parameters
        ----------
        deviation : array
            Deviates [1].

        Returns
        -------
        array of the same shape
            Log-normal on either side of the median, so that the three values are met at deviates of -1.645, 0, 1.645.

        Examples
        --------
        >>> import numpy as np
        >>> Spread(low=8.0, usual=10.0, high=15.0).at(np.array([-1.6448536, 0.0, 1.6448536])).round(3).tolist()
        [8.0, 10.0, 15.0]
        """
        if self.usual == 0.0:
            return np.zeros_like(deviation)
        below, above = math.log(self.usual / self.low) / AT_95, math.log(self.high / self.usual) / AT_95
        return self.usual * np.exp(deviation * np.where(deviation < 0.0, below, above))


@dataclass(frozen=True, slots=True, kw_only=True)
class JobTime:
    """How long a job takes.

    Parameters
    ----------
    job : str
        Kind, or number, of the part that is fitted.
    labour : Spread
        Labour of a car's job on its own [s]; a part with other labour in the book takes it in proportion.
    """

    job: str
    labour: Spread


@dataclass(frozen=True, slots=True, kw_only=True)
class Surprise:
    """Something that may be found when a place is opened.

    Parameters
    ----------
    key, text : str
        Name, and what is found in words.
    jobs : frozenset of str
        Kinds, or numbers, of the parts whose fitting shows it; one of them in the plan is enough.
    unless : frozenset of str
        Kinds of parts that a plan renews anyway, so that nothing is added.
    probability : float
        Share of such jobs on which it is found [1].
    labour : Spread
        Work that it adds [s].
    parts : Spread
        Net price of what it needs [currency].
    source : str
        How that is known.
    """

    key: str
    text: str
    jobs: frozenset[str]
    probability: float
    labour: Spread
    parts: Spread
    unless: frozenset[str] = frozenset()
    source: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Experience:
    """What a shop knows of how its jobs turn out.

    Parameters
    ----------
    times : tuple of JobTime
        Jobs with hours of their own; a part number comes before its kind.
    surprises : tuple of Surprise
        Findings.
    other : Spread
        Share of the book's labour that any other job takes [1].
    common : float
        Share of the variance that jobs on one car have in common [1].
    """

    times: tuple[JobTime, ...] = ()
    surprises: tuple[Surprise, ...] = ()
    other: Spread = Spread(low=0.85, usual=1.0, high=1.35)
    common: float = COMMON
