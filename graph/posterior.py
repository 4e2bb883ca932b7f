"""Exact probabilities of several simultaneous faults in a two-layer noisy-OR network.

A sign stays away only if its leak and every present fault fail to raise it. Signs seen to be away factor over the
faults. For the signs that are there, the state is the set of those already raised; faults are taken one after the
other. All terms are positive, so nothing cancels, and the cost grows with 2 to the number of signs present.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from graph.errors import OutOfRange
from graph.model import Array
from graph.symptom import Knowledge

#: Signs present at once that are reckoned exactly.
MOST_PRESENT = 14


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Network:
    """A noisy-OR network as arrays.

    Parameters
    ----------
    faults, signs : tuple of str
        Keys in the order of the arrays.
    prior : array, shape (F,)
        Probability of each fault [1].
    link : array, shape (F, S)
        Chance that a present fault raises a sign by itself, its leak apart [1].
    leak : array, shape (S,)
        Chance that a sign shows without a fault [1].
    """

    faults: tuple[str, ...]
    signs: tuple[str, ...]
    prior: Array
    link: Array
    leak: Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Posterior:
    """What the observed signs say.

    Parameters
    ----------
    likelihood : float
        Probability of the observed signs [1].
    fault : array, shape (F,)
        Probability of each fault given them [1].
    """

    likelihood: float
    fault: Array


def network(knowledge: Knowledge) -> Network:
    """Lay knowledge out as arrays.

    Parameters
    ----------
    knowledge : Knowledge
        A stated chance includes the leak: it is the chance that the sign shows if this fault alone is present.

    Returns
    -------
    Network
        With the leak taken out of the links: 1 - link = (1 - chance) / (1 - leak).

    References
    ----------
    M. Henrion, Some practical issues in constructing belief networks, Uncertainty in Artificial Intelligence 3,
    1989, p. 161 ff.: leaky noisy-OR, compound chances (from memory).
    """
    index = {s.id: j for j, s in enumerate(knowledge.signs)}
    leak = np.array([s.leak for s in knowledge.signs])
    link = np.zeros((len(knowledge.faults), len(index)))
    for i, fault in enumerate(knowledge.faults):
        for key, chance in fault.chances.items():
            j = index[knowledge.sign(key).id]
            link[i, j] = max(0.0, 1.0 - (1.0 - chance) / (1.0 - leak[j]))
    return Network(
        faults=tuple(f.id for f in knowledge.faults),
        signs=tuple(index),
        prior=np.array([f.prior for f in knowledge.faults]),
        link=link,
        leak=leak,
    )


def infer(net: Network, present: Collection[str], absent: Collection[str] = ()) -> Posterior:
    """Probability of every fault given observed signs; signs not named are not observed.

    Parameters
    ----------
    net : Network
        The network.
    present, absent : collection of str
        Keys of the signs seen to be there, and seen not to be there.

    Returns
    -------
    Posterior
        Exact.

    Raises
    ------
    OutOfRange
        More signs present at once than are reckoned exactly, or a sign both there and not there.

    References
    ----------
    D. Heckerman, A tractable inference algorithm for diagnosing multiple diseases, Uncertainty in Artificial
    Intelligence 5, 1990, p. 163 ff., names the same network and cost; here in a form without alternating signs.
    """
    both = set(present) & set(absent)
    if both:
        raise OutOfRange("signs", f"{', '.join(sorted(both))} both present and absent", "one of the two", "drop one")
    index = {key: j for j, key in enumerate(net.signs)}
    there = sorted({index[key] for key in present})
    if len(there) > MOST_PRESENT:
        raise OutOfRange("signs present", str(len(there)), f"up to {MOST_PRESENT}", "leave out the least certain ones")
    away = [index[key] for key in set(absent)]
    silent = np.prod(1.0 - net.link[:, away], axis=1)
    linked = net.link[:, there].any(axis=1)
    weight = net.prior * silent
    plain = weight[~linked] + 1.0 - net.prior[~linked]
    fault = np.empty_like(net.prior)
    fault[~linked] = weight[~linked] / plain
    total, inner = _raised(net, there, np.flatnonzero(linked), silent)
    fault[linked] = inner
    return Posterior(likelihood=float(total * plain.prod() * np.prod(1.0 - net.leak[away])), fault=fault)


def _raised(net: Network, there: list[int], faults: NDArray[np.intp], silent: Array) -> tuple[float, Array]:
    """Probability that every sign of `there` is raised, and the faults' probabilities given it.

    A state is a number whose bits say which signs are raised already.
    """
    size = 2 ** len(there)
    start = np.zeros(size)
    start[0] = 1.0
    forward = [_spread(start, net.leak[there])]
    for i in faults:
        before = forward[-1]
        raised = _spread(before, net.link[i, there])
        forward.append((1.0 - net.prior[i]) * before + net.prior[i] * silent[i] * raised)
    total = float(forward[-1][-1])
    after = np.zeros(size)
    after[-1] = 1.0
    inner = np.empty(len(faults))
    for k in range(len(faults) - 1, -1, -1):
        i = faults[k]
        lifted = _gather(after, net.link[i, there])
        inner[k] = net.prior[i] * silent[i] * float(forward[k] @ lifted) / total
        after = (1.0 - net.prior[i]) * after + net.prior[i] * silent[i] * lifted
    return total, inner


def _spread(state: Array, chances: Array) -> Array:
    """Let each sign be raised with its chance: mass moves from "not yet" to "raised"."""
    state = state.copy()
    for bit in np.flatnonzero(chances):
        pairs = state.reshape(-1, 2, 2 ** int(bit))
        moved = chances[bit] * pairs[:, 0]
        pairs[:, 1] += moved
        pairs[:, 0] -= moved
    return state


def _gather(value: Array, chances: Array) -> Array:
    """Expected value after :func:`_spread`, for each state before it."""
    value = value.copy()
    for bit in np.flatnonzero(chances):
        pairs = value.reshape(-1, 2, 2 ** int(bit))
        pairs[:, 0] += chances[bit] * (pairs[:, 1] - pairs[:, 0])
    return value


def outcomes(
    net: Network, present: Collection[str], absent: Collection[str], signs: Collection[str]
) -> Mapping[tuple[bool, ...], Posterior]:
    """Every joint result of looking at some signs, with its probability and what it would say.

    Parameters
    ----------
    net : Network
        The network.
    present, absent : collection of str
        Signs observed so far.
    signs : collection of str
        Keys of the signs to look at, none of them observed so far.

    Returns
    -------
    mapping of tuple of bool to Posterior
        Results in the order of `signs`, True for present; likelihoods are joint with the signs observed so far [1].
    """
    keys = list(signs)
    found: dict[tuple[bool, ...], Posterior] = {}
    for code in range(2 ** len(keys)):
        result = tuple(bool(code >> k & 1) for k in range(len(keys)))
        there = [*present, *(key for key, is_there in zip(keys, result, strict=True) if is_there)]
        gone = [*absent, *(key for key, is_there in zip(keys, result, strict=True) if not is_there)]
        found[result] = infer(net, there, gone)
    return found
