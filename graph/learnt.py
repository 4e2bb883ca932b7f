"""What a car's own rollers taught of its engine: factors on the model, with how they move together."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

#: Largest effectiveness that a factor may lead to [1].
MOST_EFFECTIVE = 0.98
#: Variance of a logarithm below which nothing moves [1].
NOTHING = 1e-12


@dataclass(frozen=True, slots=True, kw_only=True)
class Learnt:
    """Factors that dyno records put on the model of one car's engine.

    Parameters
    ----------
    fields : tuple of str
        Fields of the path that the k factors act on.
    mean : tuple of float
        Of the logarithms of the factors [1].
    covariance : tuple of tuple of float
        Of the logarithms, k times k [1].
    fed : tuple of (str, float)
        Those of the fields that belong to a part, with what the part fed when it was measured [SI]; the factor goes
        with the part. The others belong to the engine.
    readings : int
        How many were compared.
    records : tuple of str
        From which sheets and logs.
    fuels : tuple of str
        Fuels that were in the tank.
    words : tuple of str
        What the records could not tell.
    by, at : str
        Who kept it and when (ISO date and time); the store fills them in.
    """

    fields: tuple[str, ...]
    mean: tuple[float, ...]
    covariance: tuple[tuple[float, ...], ...]
    fed: tuple[tuple[str, float], ...] = ()
    readings: int = 0
    records: tuple[str, ...] = ()
    fuels: tuple[str, ...] = ()
    words: tuple[str, ...] = ()
    by: str = ""
    at: str = ""

    def applied(self, path: Mapping[str, float]) -> dict[str, float]:
        """A configuration with the most likely factors on it.

        Parameters
        ----------
        path : mapping of str to float
            Fields as the parts feed them [SI].

        Returns
        -------
        dict of str to float
            [SI]; a part other than the measured one keeps what its sheet states.
        """
        fed, found = dict(self.fed), dict(path)
        for field, mean in zip(self.fields, self.mean, strict=True):
            if field not in fed or _same(path.get(field), fed[field]):
                found[field] = _held(field, path.get(field, 1.0) * float(np.exp(mean)))
        return found

    def factors(self, field: str, deviations: float) -> dict[str, float]:
        """Factors on the fields that move together, so many standard deviations along one of as many directions [1].

        The direction called by a field moves that field and, by what the records say, those listed after it.
        """
        at = self.fields.index(field)
        along = _root(self.covariance)[:, at]
        return {f: float(np.exp(c * deviations)) for f, c in zip(self.fields, along, strict=True) if c != 0.0}

    def moved(self, path: Mapping[str, float], factors: Mapping[str, float]) -> dict[str, float]:
        """A configuration that :meth:`applied` gave, with further factors on it.

        Parameters
        ----------
        path : mapping of str to float
            [SI]
        factors : mapping of str to float
            From :meth:`factors` [1].

        Returns
        -------
        dict of str to float
            [SI]
        """
        fed, found = dict(self.fed), dict(path)
        for field, factor in factors.items():
            learnt = fed.get(field, 1.0) * float(np.exp(self.mean[self.fields.index(field)]))
            if field not in fed or _same(path.get(field), _held(field, learnt)):
                found[field] = _held(field, path.get(field, 1.0) * factor)
        return found

    def steady(self, moved: Mapping[str, float], nominal: Mapping[str, float]) -> dict[str, float]:
        """What a part feeds with a rating moved, without what the records say of the part already.

        Parameters
        ----------
        moved, nominal : mapping of str to float
            What the part feeds with the rating moved and as stated [SI].

        Returns
        -------
        dict of str to float
            [SI]
        """
        known = {f: v for f, v in self.fed if _same(nominal.get(f), v)}
        return {**moved, **{f: nominal[f] for f in known}}

    def spread(self, field: str) -> float:
        """Standard deviation of the logarithm of one factor [1]."""
        at = self.fields.index(field)
        return float(np.sqrt(self.covariance[at][at]))


def _same(value: float | None, other: float) -> bool:
    return value is not None and abs(value - other) <= 1e-9 * abs(other)


def _held(field: str, value: float) -> float:
    return min(value, MOST_EFFECTIVE) if field == "cooler_effectiveness" else value


@lru_cache(maxsize=64)
def _root(covariance: tuple[tuple[float, ...], ...]) -> NDArray[np.float64]:
    """Lower triangle whose product with its transpose is the covariance."""
    matrix = np.array(covariance)
    return np.linalg.cholesky(0.5 * (matrix + matrix.T) + NOTHING * np.eye(len(matrix)))
