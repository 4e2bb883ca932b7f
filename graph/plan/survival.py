"""In which joint samples a limit lets a target power pass, and how often it is exceeded when judged alone."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from graph.ceiling import first_crossing
from graph.judge import SPENT, Bench
from graph.limit import Control
from graph.model import Array
from graph.sampling import Response, ceilings
from graph.subject import Subject

Flags = NDArray[np.bool_]
NEARLY = 1.0 - 1e-9


def pack(flags: Flags) -> int:
    """Flags of all samples as the bits of one integer."""
    return int.from_bytes(np.packbits(flags).tobytes(), "big")


def exceeded_share(subject: Subject, bench: Bench, configuration: int) -> float | None:
    """Share of samples in which a limit, judged alone, is passed at the target.

    Parameters
    ----------
    subject : Subject
        The limit.
    bench : Bench
        Solved for its configuration.
    configuration : int
        In which it is judged alone.

    Returns
    -------
    float or None
        [1]; None where it cannot be said because no operating point exists.
    """
    at = bench.question.at_target
    rule = subject.rule
    if rule.control is Control.SPARK and rule.no_ceiling is None:
        own = bench.last_power(configuration).sample(bench.draws)[:, 0]
        free = bench.last_power(0).sample(bench.draws)[:, 0]
        ceiling = np.where(own < free * (1.0 - SPENT), own, np.inf)
        return float((ceiling < bench.question.target.power * NEARLY).mean())
    response, _ = bench.utilisation(subject, configuration)
    if rule.no_ceiling is not None:
        if not np.isfinite(response.nominal[at]):
            return None
        return float((_at(response, at, bench.draws) > 1.0).mean())
    return float(1.0 - passes(response, bench.last_power(configuration), bench).mean())


def passes(response: Response, last: Response, bench: Bench) -> Flags:
    """Samples in which the ceiling of a limit is at or above the target.

    Parameters
    ----------
    response : Response
        Of the utilisation over the powers [1].
    last : Response
        Of the highest power with an operating point [W].
    bench : Bench
        For the question and the draws.

    Returns
    -------
    array of bool, shape (S,)
        The same answer as comparing every sampled ceiling, found from the powers up to the target alone.
    """
    at = bench.question.at_target
    count = bench.draws.shape[0]
    if not np.isfinite(response.nominal[: at + 1]).all():
        found = ceilings(bench.question.powers, response, last, bench.draws)
        return np.asarray(found >= bench.question.target.power * NEARLY)
    z = bench.draws[:, response.which]
    most = np.abs(z).max(axis=0) if z.size else np.zeros(response.which.size)
    reach = most @ np.abs(response.linear) + (most * most) @ np.maximum(response.curved, 0.0)
    near = np.flatnonzero(response.nominal[: at + 1] * np.exp(np.minimum(reach[: at + 1], 5.0)) > 1.0)
    if near.size == 0:
        return np.ones(count, dtype=bool)
    over = np.zeros(count, dtype=bool)
    for index in near:
        over |= _at(response, int(index), bench.draws) > 1.0
    return ~over


def carried_by(response: Response, last: Response, bench: Bench) -> Array | None:
    """Ceiling of a limit in each sample.

    Parameters
    ----------
    response : Response
        Of the utilisation over the powers [1].
    last : Response
        Of the highest power with an operating point [W].
    bench : Bench
        For the powers and the draws.

    Returns
    -------
    array, shape (S,), or None
        [W]; None where it is passed at none of the powers in any sample.
    """
    if np.isfinite(response.nominal).all():
        z = bench.draws[:, response.which]
        most = np.abs(z).max(axis=0) if z.size else np.zeros(response.which.size)
        reach = most @ np.abs(response.linear) + (most * most) @ np.maximum(response.curved, 0.0)
        if not (response.nominal * np.exp(np.minimum(reach, 5.0)) > 1.0).any():
            return None
    found = first_crossing(bench.question.powers, response.sample(bench.draws), last.sample(bench.draws)[:, 0])
    return None if np.isinf(found).all() else found


def _at(response: Response, index: int, draws: Array) -> Array:
    """The sampled quantity at one power, shape (S,)."""
    z = draws[:, response.which]
    exponent = z @ response.linear[:, index] + (z * z) @ response.curved[:, index]
    return np.asarray(response.nominal[index] * np.exp(np.clip(exponent, -5.0, 5.0)))


def reaches(subject: Subject, bench: Bench, configuration: int) -> float:
    """Ceiling of a limit with the car's own parts in place, without spreads [W]; infinity where it is not passed."""
    rule = subject.rule
    if rule.no_ceiling is not None or rule.control is Control.SPARK:
        return float("inf")
    worst = bench.fine.worst(bench.fine.utilisation(subject, configuration))
    return float(first_crossing(bench.question.powers, worst, bench.fine.last_power[configuration]))
