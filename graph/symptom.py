"""What a workshop knows about faults and their signs: chances, looks, and how the shop's own counts change them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from graph.errors import OutOfRange, UnknownName

#: A prior holds within a factor of two, and a chance within 0.2, about 19 times in 20.
PRIOR_SPREAD = 0.35
CHANCE_SPREAD = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class Sign:
    """Something that can be observed on a car: a symptom, or what an inspection finds.

    Parameters
    ----------
    id : str
        Its key.
    name : str
        In words.
    aliases : tuple of str
        Other words for it.
    leak : float
        Chance that it shows with none of the faults present [1].
    evidence : str
        How the figures are known.
    """

    id: str
    name: str
    aliases: tuple[str, ...] = ()
    leak: float = 0.05
    evidence: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One way in which a car fails.

    Parameters
    ----------
    id : str
        Its key.
    name : str
        In words.
    slot : str or None
        Place on the car where it sits; None where it is no part.
    prior : float
        Share of the arriving cars that have it [1].
    stake : float
        What a wrong verdict on it costs against that on an ordinary fault [1].
    chances : mapping of str to float
        For each sign that it raises: the chance that the sign shows if this fault alone is present [1].
    evidence : str
        How the figures are known.
    """

    id: str
    name: str
    slot: str | None
    prior: float
    chances: Mapping[str, float]
    stake: float = 1.0
    evidence: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Inspection:
    """A look or a measurement, and the signs that it settles.

    Parameters
    ----------
    id : str
        Its key.
    name : str
        What is done.
    duration : float
        Work [s].
    wait : float
        Time until the result is there [s].
    rollers : bool
        True where the car is loaded for it.
    signs : tuple of str
        Keys of the signs that it settles.
    evidence : str
        How the figures are known.
    """

    id: str
    name: str
    duration: float
    signs: tuple[str, ...]
    wait: float = 0.0
    rollers: bool = False
    evidence: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mistake:
    """A usual mistake in fitting a part, and the check for it.

    Parameters
    ----------
    slot : str
        Place on the car.
    mistake : str
        What is done wrong.
    check : str
        How it is seen or measured.
    cautions : tuple of str
        Codes of the cautions that belong to the check; those of the part's kind come on top.
    sign : str or None
        Key of the sign that it shows as.
    evidence : str
        How it is known.
    """

    slot: str
    mistake: str
    check: str
    cautions: tuple[str, ...] = ()
    sign: str | None = None
    evidence: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Knowledge:
    """Faults, signs, inspections and mistakes of fitting that belong together.

    Parameters
    ----------
    faults, signs, inspections, mistakes : tuple
        In the order of the sheets.
    """

    faults: tuple[Fault, ...]
    signs: tuple[Sign, ...]
    inspections: tuple[Inspection, ...] = ()
    mistakes: tuple[Mistake, ...] = ()

    def sign(self, key: str) -> Sign:
        """The sign with a key.

        Parameters
        ----------
        key : str
            Its key.

        Returns
        -------
        Sign
            The record.

        Raises
        ------
        UnknownName
            There is none.
        """
        for sign in self.signs:
            if sign.id == key:
                return sign
        raise UnknownName("sign", key, [s.id for s in self.signs])


@dataclass(frozen=True, slots=True, kw_only=True)
class Count:
    """What the shop has counted itself.

    Parameters
    ----------
    fault : str
        Key of the fault.
    sign : str or None
        None for cars that had the fault among all cars; a sign's key for cars that showed it among those with the
        fault alone.
    hits, cars : int
        Cars counted [1].
    """

    fault: str
    hits: int
    cars: int
    sign: str | None = None


def beta_mean(mean: float, deviation: float, hits: int, cars: int) -> float:
    """Mean of a Beta distribution after a binomial count.

    Parameters
    ----------
    mean : float
        Mean before the count [1], between 0 and 1.
    deviation : float
        Standard deviation before the count [1].
    hits, cars : int
        Cars that had it, cars looked at [1].

    Returns
    -------
    float
        Mean after the count [1].

    Raises
    ------
    OutOfRange
        More hits than cars, or a mean outside 0 to 1.

    References
    ----------
    A. Gelman et al., Bayesian Data Analysis, 3rd edition, 2013, section 2.4: conjugate prior of the binomial, and
    appendix A: a + b = mean (1 - mean) / variance - 1 (from memory).

    Examples
    --------
    >>> round(beta_mean(0.5, 0.5 / 3**0.5, 3, 3), 6)  # an even prior a = b = 1 after three of three: 4/5
    0.8
    """
    if not 0.0 < mean < 1.0:
        raise OutOfRange("chance", f"{mean:g}", "more than 0 and less than 1", "correct the sheet")
    if not 0 <= hits <= cars:
        raise OutOfRange("count", f"{hits} of {cars}", f"0 to {cars} of {cars}", "correct the count")
    weight = max(mean * (1.0 - mean) / deviation**2 - 1.0, 1.0)
    return (mean * weight + hits) / (weight + cars)


def learn_counts(knowledge: Knowledge, counts: Iterable[Count]) -> Knowledge:
    """Replace judged priors and chances by their means after the shop's counts.

    Parameters
    ----------
    knowledge : Knowledge
        As judged.
    counts : iterable of Count
        The shop's own; each fault and sign once.

    Returns
    -------
    Knowledge
        With moved figures; where nothing was counted the judgement stays.

    Raises
    ------
    UnknownName
        A count names a fault or sign that is not known.
    OutOfRange
        A count is no count.
    """
    faults = {f.id: f for f in knowledge.faults}
    for count in counts:
        if count.fault not in faults:
            raise UnknownName("fault", count.fault, list(faults))
        fault = faults[count.fault]
        counted = f"{fault.evidence}; own count {count.hits} of {count.cars}"
        if count.sign is None:
            prior = beta_mean(fault.prior, PRIOR_SPREAD * fault.prior, count.hits, count.cars)
            faults[fault.id] = replace(fault, prior=prior, evidence=counted)
            continue
        before = fault.chances.get(count.sign, knowledge.sign(count.sign).leak)
        chance = beta_mean(before, CHANCE_SPREAD, count.hits, count.cars)
        faults[fault.id] = replace(fault, chances={**fault.chances, count.sign: chance}, evidence=counted)
    return replace(knowledge, faults=tuple(faults.values()))
