"""From signs to suspects: probabilities with what speaks for and against each."""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from graph.posterior import infer, network
from graph.symptom import Knowledge

#: Change of log odds below which a sign is not named as evidence.
NAMED = 0.10
#: Suspects are listed down to this probability.
LEAST = 0.02


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
