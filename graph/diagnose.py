"""From signs to suspects, and from suspects to the next look: what settles most per minute."""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from graph.posterior import MOST_PRESENT, Network, infer, network, outcomes
from graph.symptom import Fault, Inspection, Knowledge

#: Change of log odds below which a sign is not named as evidence.
NAMED = 0.10
#: Suspects are listed down to this probability.
LEAST = 0.02
#: Signs of one inspection whose joint results are all reckoned.
MOST_RESULTS = 6
#: A second that the car waits for a result costs this much of a second of work: a day is worth 20 minutes.
WAITING = 1200.0 / 86400.0
#: What settling a fault that explains nothing seen is worth against one that does: the customer came about the signs.
INCIDENTAL = 0.25


@dataclass(frozen=True, slots=True, kw_only=True)
class Observation:
    """What was seen on a car; a sign in neither tuple was not looked at.

    Parameters
    ----------
    present, absent : tuple of str
        Keys of signs.
    done : tuple of str
        Keys of inspections already made.
    """

    present: tuple[str, ...] = ()
    absent: tuple[str, ...] = ()
    done: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspect:
    """One fault with what speaks for it and against it.

    Parameters
    ----------
    fault : str
        Its key.
    name : str
        In words.
    slot : str or None
        Where it sits.
    probability : float
        Given everything seen [1]; several faults may be present, so the sum may exceed 1.
    prior : float
        Before anything was seen [1].
    evidence_for, evidence_against : tuple of str
        Sentences, the strongest first.
    """

    fault: str
    name: str
    slot: str | None
    probability: float
    prior: float
    evidence_for: tuple[str, ...] = ()
    evidence_against: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """An inspection worth making.

    Parameters
    ----------
    inspection : str
        Its key.
    name : str
        What is done.
    duration : float
        Work [s].
    wait : float
        Until the result is there [s].
    value : float
        Expected fall of the misjudgement, in faults of ordinary stake [1].
    rate : float
        Value for each second of work, waiting included at its price [1/s].
    why : str
        What it settles.
    """

    inspection: str
    name: str
    duration: float
    wait: float
    value: float
    rate: float
    why: str


def suspects(knowledge: Knowledge, seen: Observation, least: float = LEAST) -> tuple[Suspect, ...]:
    """Faults in the order of their probability.

    Parameters
    ----------
    knowledge : Knowledge
        Faults and signs.
    seen : Observation
        What was seen.
    least : float
        Probability down to which faults are listed [1].

    Returns
    -------
    tuple of Suspect
        The most probable first.

    Raises
    ------
    OutOfRange
        Too many signs at once, or one both present and absent.
    """
    net = network(knowledge)
    now = infer(net, seen.present, seen.absent).fault
    without = {
        key: infer(net, [k for k in seen.present if k != key], [k for k in seen.absent if k != key]).fault
        for key in (*seen.present, *seen.absent)
    }
    found = []
    for i, fault in enumerate(knowledge.faults):
        if now[i] < least:
            continue
        change = {key: _log_odds(now[i]) - _log_odds(before[i]) for key, before in without.items()}
        ordered = sorted(change.items(), key=lambda item: -abs(item[1]))
        found.append(
            Suspect(
                fault=fault.id,
                name=fault.name,
                slot=fault.slot,
                probability=float(now[i]),
                prior=fault.prior,
                evidence_for=tuple(_sentence(knowledge, seen, k, c) for k, c in ordered if c >= NAMED),
                evidence_against=tuple(_sentence(knowledge, seen, k, c) for k, c in ordered if c <= -NAMED),
            )
        )
    return tuple(sorted(found, key=lambda s: -s.probability))


def _log_odds(p: float) -> float:
    p = min(max(p, 1e-12), 1.0 - 1e-12)
    return math.log(p / (1.0 - p))


def _sentence(knowledge: Knowledge, seen: Observation, key: str, change: float) -> str:
    state = "" if key in seen.present else "not seen: "
    return f"{state}{knowledge.sign(key).name} (odds × {math.exp(change):.2g})"


def misjudgement(probability: np.ndarray, stake: np.ndarray) -> float:
    """Expected cost of acting on probabilities that are not certain yet.

    Parameters
    ----------
    probability : array, shape (F,)
        Of each fault [1].
    stake : array, shape (F,)
        Cost of a wrong verdict [1].

    Returns
    -------
    float
        Sum of stake × p (1 - p) [1]. Where a fault is acted on above a threshold t, and a miss costs (1 - t) and a
        needless repair t, the mean over all thresholds of the expected cost is p (1 - p) / 2.

    References
    ----------
    I. J. Schervish, A general method for comparing probability assessors, Annals of Statistics 17, 1989, p. 1856 ff.:
    a proper score as a mean over decision problems (from memory).

    Examples
    --------
    >>> misjudgement(np.array([0.5, 1.0]), np.array([1.0, 3.0]))
    0.25
    """
    return float((stake * probability * (1.0 - probability)).sum())


def value_of(
    knowledge: Knowledge, net: Network, seen: Observation, inspection: Inspection
) -> tuple[float, tuple[str, ...]]:
    """Expected fall of the misjudgement by one inspection, and the faults that it settles most.

    Parameters
    ----------
    knowledge : Knowledge
        Faults and signs.
    net : Network
        Of the same knowledge.
    seen : Observation
        What was seen so far.
    inspection : Inspection
        The look.

    Returns
    -------
    value : float
        [1], never negative beyond rounding.
    settled : tuple of str
        Names of up to three faults, the one that it settles most first.
    """
    known = {*seen.present, *seen.absent}
    room = min(MOST_RESULTS, MOST_PRESENT - len(seen.present))
    signs = [key for key in inspection.signs if key not in known][: max(room, 0)]
    if not signs:
        return 0.0, ()
    stake = np.array([f.stake * _concern(f, seen) for f in knowledge.faults])
    now = infer(net, seen.present, seen.absent)
    fall = stake * now.fault * (1.0 - now.fault)
    for posterior in outcomes(net, seen.present, seen.absent, signs).values():
        fall -= posterior.likelihood / now.likelihood * stake * posterior.fault * (1.0 - posterior.fault)
    order = np.argsort(-fall)[:3]
    largest = fall[order[0]]
    settled = tuple(knowledge.faults[i].name for i in order if fall[i] > 0.2 * largest > 0.0)
    return float(max(fall.sum(), 0.0)), settled


def _concern(fault: Fault, seen: Observation) -> float:
    return 1.0 if not seen.present or any(key in fault.chances for key in seen.present) else INCIDENTAL


def next_looks(
    knowledge: Knowledge, seen: Observation, agreed: float, *, rollers: bool = False, all_of_them: bool = False
) -> tuple[Look, ...]:
    """Inspections in the order of value for each minute, up to the time agreed with the customer.

    Parameters
    ----------
    knowledge : Knowledge
        Faults, signs and inspections.
    seen : Observation
        What was seen so far.
    agreed : float
        Time agreed [s].
    rollers : bool
        True if the car may be loaded; inspections that load it are left out otherwise.
    all_of_them : bool
        True to list those that no longer fit the time too.

    Returns
    -------
    tuple of Look
        Each judged as the next one: enter its result and ask again for the one after it.

    Raises
    ------
    OutOfRange
        Too many signs at once.
    """
    net = network(knowledge)
    found = []
    for inspection in knowledge.inspections:
        if inspection.id in seen.done or (inspection.rollers and not rollers):
            continue
        value, settled = value_of(knowledge, net, seen, inspection)
        if value > 1e-6:
            why = "settles most about: " + "; ".join(settled)
            if inspection.wait:
                why += f"; the result takes {inspection.wait / 86400.0:.0f} days"
            found.append(
                Look(
                    inspection=inspection.id,
                    name=inspection.name,
                    duration=inspection.duration,
                    wait=inspection.wait,
                    value=value,
                    rate=value / (inspection.duration + WAITING * inspection.wait),
                    why=why,
                )
            )
    found.sort(key=lambda look: -look.rate)
    if all_of_them:
        return tuple(found)
    fitting, left = [], agreed
    for look in found:
        if look.duration <= left:
            fitting.append(look)
            left -= look.duration
    return tuple(fitting)


def calibration_error(probability: Collection[float], truth: Collection[bool], bins: int = 10) -> float:
    """Expected calibration error: mean gap of stated probability and frequency over bins, weighted by their counts.

    Parameters
    ----------
    probability : collection of float, length N
        Stated [1].
    truth : collection of bool, length N
        What was so.
    bins : int
        Equal bins of the probability [1].

    Returns
    -------
    float
        [1]; 0 is perfect.

    References
    ----------
    M. P. Naeini, G. F. Cooper, M. Hauskrecht, Obtaining well calibrated probabilities using Bayesian binning,
    AAAI 2015 (from memory).

    Examples
    --------
    >>> calibration_error([0.25, 0.25, 0.25, 0.25], [True, False, False, False])
    0.0
    """
    p, t = np.asarray(list(probability), dtype=float), np.asarray(list(truth), dtype=float)
    gap = 0.0
    for low, high in pairwise(np.linspace(0.0, 1.0, bins + 1)):
        inside = (p >= low) & ((p < high) | (high == 1.0))
        if inside.any():
            gap += inside.sum() / p.size * abs(p[inside].mean() - t[inside].mean())
    return float(gap)
