"""The next look: inspections in the order of what they settle for each minute."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from graph.diagnose import Observation
from graph.model import Array
from graph.posterior import MOST_PRESENT, Network, infer, network, outcomes
from graph.symptom import Fault, Inspection, Knowledge

#: Signs of one inspection whose joint results are all reckoned.
MOST_RESULTS = 6
#: A second that the car waits for a result costs this much of a second of work: a day is worth 20 minutes.
WAITING = 1200.0 / 86400.0
#: What settling a fault that explains nothing seen is worth against one that does: the customer came about the signs.
INCIDENTAL = 0.25


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


def misjudgement(probability: Array, stake: Array) -> float:
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
    """How far a fault can be behind what the customer came about [1]."""
    if not seen.present:
        return 1.0
    strongest = max(fault.chances.get(key, 0.0) for key in seen.present)
    return INCIDENTAL + (1.0 - INCIDENTAL) * strongest


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
