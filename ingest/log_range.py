"""What part of a log is the pull, and which of its channels stand at the end of their range."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from graph.model import Array
from graph.trace import Trace

#: Channels that have a range to run out of.
RANGED = ("boost", "air flow", "rail pressure", "lambda", "exhaust temperature", "low-side pressure")
_TARGETS = {"boost": "boost target", "rail pressure": "rail target", "lambda": "lambda target"}
#: A dip of the speed under this share of its top so far ends a pull [1].
DIP = 0.97
#: Speeds of a pull lie at least this factor apart.
_SPAN = 1.15


def full_load(traces: Mapping[str, Trace]) -> tuple[dict[str, Trace], list[str]]:
    """Cut a log to its longest run of rising engine speed with the throttle open.

    Parameters
    ----------
    traces : mapping of str to Trace
        The whole log [SI].

    Returns
    -------
    cut : dict of str to Trace
        Every channel within the run; the whole log where it holds no engine speed or nothing to leave out.
    told : list of str
        What was left out.
    """
    speed = traces.get("engine speed")
    if speed is None or speed.value.size < 4:
        return dict(traces), []
    open_enough = np.ones(speed.value.size, dtype=bool)
    throttle = traces.get("pedal") or traces.get("throttle")
    if throttle is not None and np.nanmax(throttle.value) > 0.5:
        at = np.interp(speed.time, throttle.time, np.nan_to_num(throttle.value, nan=0.0))
        open_enough = at >= 0.9 * np.nanmax(throttle.value)
    runs = _runs(speed, open_enough)
    if not runs:
        return dict(traces), []
    low, high = max(runs, key=lambda r: speed.value[r[1]] - speed.value[r[0]])
    start, end = speed.time[low], speed.time[high]
    told = []
    outside = speed.value.size - (high - low + 1)
    if outside:
        told.append(f"{outside} of {speed.value.size} rows lie outside the pull and are not judged")
    if len(runs) > 1:
        told.append(f"the log holds {len(runs)} pulls; the one with the widest range of speed is judged")
    cut = {}
    for name, trace in traces.items():
        inside = (trace.time >= start - 1e-9) & (trace.time <= end + 1e-9)
        if inside.sum() >= 2:
            cut[name] = replace(trace, time=trace.time[inside], value=trace.value[inside])
    return cut, told


def _runs(speed: Trace, allowed: Array) -> list[tuple[int, int]]:
    """First and last sample of each run of allowed samples whose speed rises, small dips forgiven."""
    value = speed.value
    runs: list[tuple[int, int]] = []
    first: int | None = None
    top = 0.0
    good = (allowed & np.isfinite(value)).tolist()
    for k, v in enumerate(value.tolist()):
        inside = good[k] and not (first is not None and v < DIP * top)
        if inside and (first is None or v > top):
            first, top = k if first is None else first, v
        if first is not None and (not inside or k == value.size - 1):
            last = k if inside else k - 1
            low = first + int(np.argmin(value[first : last + 1]))
            last = low + int(np.argmax(value[low : last + 1]))
            if value[last] > _SPAN * value[low]:
                runs.append((low, last))
            first = None
    return runs


def saturated(trace: Trace, traces: Mapping[str, Trace]) -> bool:
    """True if a channel stands still at its largest value while the engine's speed rises on.

    Parameters
    ----------
    trace : Trace
        The channel.
    traces : mapping of str to Trace
        All channels of the pull.

    Returns
    -------
    bool
        Never true for a channel that holds its target.
    """
    speed = traces.get("engine speed")
    if trace.channel not in RANGED or speed is None or trace.value.size < 5:
        return False
    value = trace.value
    top = np.nanmax(value)
    best, end = _longest(np.isclose(value, top, rtol=1e-6))
    if best < 4 or top <= 1.02 * np.nanmin(value):
        return False
    at = np.interp(trace.time, speed.time, speed.value)
    if at[end] < 1.08 * at[end - best + 1]:
        return False
    target = traces.get(_TARGETS.get(trace.channel, ""))
    if target is not None:
        aimed = np.interp(trace.time[end - best + 1 : end + 1], target.time, target.value)
        if np.abs(aimed / top - 1.0).min() < 0.02:
            return False
    return trace.channel in ("air flow", "exhaust temperature") or best >= 0.15 * value.size


def _longest(flags: NDArray[np.bool_]) -> tuple[int, int]:
    """Length and last place of the longest run of true flags, the first of equal ones."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], flags, [False]]).astype(np.int8)))
    if edges.size == 0:
        return 0, 0
    lengths = edges[1::2] - edges[::2]
    which = int(np.argmax(lengths))
    return int(lengths[which]), int(edges[1::2][which]) - 1
