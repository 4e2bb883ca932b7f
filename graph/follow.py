"""What a quantity of a pull follows: shares of its course that other channels explain."""

from __future__ import annotations

from itertools import combinations

import numpy as np

from graph.model import Array
from graph.trace import Pull

#: Share of the course below which a channel is not named [1].
LEAST = 0.15


def followed(pull: Pull, course: Array, speed: Array) -> str:
    """Name what a course follows.

    Parameters
    ----------
    pull : Pull
        Candidates: mixture leaner than its target, charge temperature, boost.
    course : array, shape (N,)
        The quantity, such as spark pulled [any unit].
    speed : array, shape (N,)
        Engine speed of its samples [1/s].

    Returns
    -------
    str
        Candidates with their shares of the explained course, the largest first; empty where nothing fits.

    Notes
    -----
    Least squares with coefficients that cannot be negative, over all subsets of the candidates. It is a correlation
    and no proof: a channel that runs alongside may be named for the cause.
    """
    candidates: dict[str, Array] = {}
    pair = pull.pair("lambda", "lambda target")
    if pair is not None:
        candidates["mixture leaner than its target"] = np.interp(
            speed, *_ordered(pair[0], np.maximum(pair[1] - pair[2], 0))
        )
    for channel, name in (("charge temperature", "charge temperature"), ("boost", "boost")):
        found = pull.on_speed(channel)
        if found is not None:
            candidates[name] = np.interp(speed, *_ordered(*found))
    moving = {n: v - v.min() for n, v in candidates.items() if np.ptp(v) > 1e-9}
    total = float(((course - course.mean()) ** 2).sum())
    if not moving or total <= 1e-12 or course.size < 6:
        return ""
    best: tuple[float, dict[str, float]] = (0.2, {})
    for size in (1, 2):
        for names in combinations(moving, size):
            matrix = np.column_stack([*(moving[n] for n in names), np.ones_like(course)])
            weights, *_ = np.linalg.lstsq(matrix, course, rcond=None)
            if (weights[:-1] <= 0.0).any():
                continue
            fit = 1.0 - float(((matrix @ weights - course) ** 2).sum()) / total
            if fit > best[0] + 0.1 * (size - 1):
                parts = {n: float(w * np.ptp(moving[n])) for n, w in zip(names, weights, strict=False)}
                best = (fit, parts)
    whole = sum(best[1].values())
    named = sorted(((p / whole, n) for n, p in best[1].items() if p / whole >= LEAST), reverse=True)
    return " and ".join(f"{n} ({s * 100:.0f} %)" for s, n in named)


def _ordered(x: Array, y: Array) -> tuple[Array, Array]:
    order = np.argsort(x, kind="stable")
    return x[order], y[order]
