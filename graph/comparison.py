"""Two pulls of one car, before and after a change: what the difference is, and whether rollers can tell it at all."""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import dataclass

import numpy as np

from graph.measured import Measured, measure
from graph.trace import Pull

#: Two pulls of an unchanged car on one roller bed agree within this, 9 times in 10 (assumption) [1].
AGREE = 0.018
#: 95 % point of Student's t for 1, 2, ... degrees of freedom: the table in the handbook of every statistician.
_STUDENT = (6.314, 2.920, 2.353, 2.132, 2.015, 1.943, 1.895, 1.860, 1.833, 1.812)
_NORMAL = 1.645
#: Differences of a condition that explain a change of power by themselves: channel, unit, size [SI], words.
CONFOUNDERS = (
    ("charge temperature", 5.0, "K"),
    ("oil temperature", 10.0, "K"),
    ("ethanol", 0.03, "of ethanol"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """A change between two pulls.

    Parameters
    ----------
    before, after : Measured
        Largest power [W].
    gain, low, high : float
        Difference of the largest power and the interval that holds it 9 times in 10 [W].
    course : float or None
        Mean difference over the engine speeds that both pulls cover [W].
    agree : float
        Half width of that interval over the power before [1].
    told : bool
        True where the difference is larger than rollers scatter.
    sentence : str
        The answer.
    doubts : tuple of str
        Other things that differ between the pulls.
    """

    before: Measured
    after: Measured
    gain: float
    low: float
    high: float
    course: float | None
    agree: float
    told: bool
    sentence: str
    doubts: tuple[str, ...] = ()


def agreement(powers: Collection[float]) -> float:
    """How far two pulls of an unchanged car may lie apart, from repeats of it.

    Parameters
    ----------
    powers : collection of float
        Largest power of each repeat [W]; fewer than two leave the assumption.

    Returns
    -------
    float
        Half width of the interval that holds the difference of two pulls 9 times in 10 [1].

    Examples
    --------
    Three repeats with a standard deviation of 1 %: t for two degrees of freedom is 2.920.

    >>> round(agreement([99e3, 100e3, 101e3]), 4), round(2.920 * 2**0.5 * 0.01, 4)
    (0.0413, 0.0413)
    """
    values = np.asarray(list(powers), dtype=float)
    if values.size < 2:
        return AGREE
    factor = _STUDENT[values.size - 2] if values.size - 2 < len(_STUDENT) else _NORMAL
    return float(factor * math.sqrt(2.0) * values.std(ddof=1) / values.mean())


def compare(before: Pull, after: Pull, basis: str, repeats: Collection[Pull] = ()) -> Comparison | None:
    """Compare two pulls of one car.

    Parameters
    ----------
    before, after : Pull
        The traces [SI], each with a power on the basis asked or one that it follows from.
    basis : {'crank', 'wheel'}
        Where power is counted.
    repeats : collection of Pull
        Further pulls of the car before the change; they measure how well the rollers repeat.

    Returns
    -------
    Comparison or None
        None where one of the pulls has no power.

    Notes
    -----
    The loss of the drive is the same in both pulls and cancels; it widens no interval here.
    """
    one, other = measure(before, basis)[0], measure(after, basis)[0]
    if one is None or other is None:
        return None
    powers = [one.value, *(m.value for m in (measure(p, basis)[0] for p in repeats) if m is not None)]
    start, agree = float(np.mean(powers)), agreement(powers)
    gain, half = other.value - start, agree * start
    told = abs(gain) > half
    size = f"{abs(gain) / 1e3:.0f} kW ({abs(gain) / start * 100.0:.1f} %)"
    how = f"from {len(powers)} pulls before" if len(powers) > 1 else "assumed; more pulls before the change measure it"
    if told:
        answer = f"{size} {'more' if gain > 0.0 else 'less'} than before, outside the ±{agree * 100.0:.1f} % by which"
    else:
        answer = f"{size} is not a {'gain' if gain >= 0.0 else 'loss'}: within the ±{agree * 100.0:.1f} % by which"
    return Comparison(
        before=one,
        after=other,
        gain=gain,
        low=gain - half,
        high=gain + half,
        course=_course(before, after, basis),
        agree=agree,
        told=told,
        sentence=f"{answer} two pulls of an unchanged car differ ({how})",
        doubts=_doubts(before, after),
    )


def _course(before: Pull, after: Pull, basis: str) -> float | None:
    curves = [_curve(pull, basis) for pull in (before, after)]
    if curves[0] is None or curves[1] is None:
        return None
    low = max(c[0][0] for c in curves if c is not None)
    high = min(c[0][-1] for c in curves if c is not None)
    if high <= low:
        return None
    speed = np.linspace(low, high, 60)
    return float(np.mean(np.interp(speed, *curves[1]) - np.interp(speed, *curves[0])))


def _curve(pull: Pull, basis: str) -> tuple[np.ndarray, np.ndarray] | None:
    found = pull.on_speed(f"{basis} power")
    if found is None:
        return None
    order = np.argsort(found[0], kind="stable")
    return found[0][order], found[1][order]


def _doubts(before: Pull, after: Pull) -> tuple[str, ...]:
    said = []
    for channel, size, unit in CONFOUNDERS:
        found = [p.on_speed(channel) for p in (before, after)]
        if found[0] is None or found[1] is None:
            continue
        gap = float(found[1][1].mean() - found[0][1].mean())
        if abs(gap) > size:
            said.append(f"{channel} differs by {gap:+.2g} {unit}: it moves power by itself")
    days = (before, after)
    for name, size, unit in (("ambient_temperature", 5.0, "K"), ("ambient_pressure", 1000.0, "Pa")):
        there = [getattr(p, name) for p in days]
        if there[0] is None or there[1] is None:
            said.append(f"{name.replace('_', ' ')} is not stated for both pulls")
        elif abs(there[1] - there[0]) > size:
            said.append(f"{name.replace('_', ' ')} differs by {there[1] - there[0]:+.0f} {unit}")
    return tuple(said)
