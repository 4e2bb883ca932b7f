"""From the points of a sheet to a compressor map: lines in order, refusals, further lines between them."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from itertools import pairwise

import numpy as np

from graph.errors import OutOfRange
from graph.model import Array, Curve
from graph.physics.compressor_map import Line, SpeedMap

#: Steps at which two lines are compared where both are drawn.
STEPS = 60
FEWEST_LINES = 3
FEWEST_POINTS = 3
#: Lines drawn between two lines of a sheet, and points of each.
BETWEEN = 5
POINTS = 24


def speed_map(speed: Curve, flow: Curve, ratio: Curve, efficiency: Curve) -> SpeedMap:
    """Put the points of a sheet together to a map.

    Parameters
    ----------
    speed, flow, ratio, efficiency : Curve
        Over the number of the point: corrected speed of the wheel [1/s], corrected flow [kg/s], pressure ratio [1],
        efficiency [1].

    Returns
    -------
    SpeedMap
        Lines in rising order of speed, points in rising order of flow [SI].

    Raises
    ------
    OutOfRange
        The columns differ in length; too few lines or points; a pressure ratio or efficiency that cannot be; two
        lines that cross.

    References
    ----------
    Lines of constant corrected speed from surge to choke, as in SAE J1826 (scope; at least eight are asked there).

    Examples
    --------
    >>> points = tuple(float(i) for i in range(9))
    >>> made = speed_map(
    ...     Curve(x=points, y=(1500.0,) * 3 + (2000.0,) * 3 + (2500.0,) * 3),
    ...     Curve(x=points, y=(0.04, 0.08, 0.11, 0.07, 0.13, 0.17, 0.10, 0.18, 0.23)),
    ...     Curve(x=points, y=(1.5, 1.45, 1.2, 2.0, 1.9, 1.5, 2.8, 2.6, 1.9)),
    ...     Curve(x=points, y=(0.66, 0.72, 0.60, 0.68, 0.75, 0.62, 0.67, 0.73, 0.60)),
    ... )
    >>> float(made.speed_at(0.13, 1.9)), round(float(made.surge_flow(2.4)), 3), round(float(made.largest_flow(1.9)), 2)
    (2000.0, 0.085, 0.23)
    """
    return _made(speed.y, flow.y, ratio.y, efficiency.y)


def stated_map(curve: Callable[[str], Curve]) -> SpeedMap:
    """The map of a part from its rated columns.

    Parameters
    ----------
    curve : callable
        The column of a rating's name, over the number of the point [SI].

    Returns
    -------
    SpeedMap
        As :func:`speed_map` puts it together [SI].

    References
    ----------
    As :func:`speed_map`.

    Examples
    --------
    >>> points = tuple(float(i) for i in range(9))
    >>> columns = {
    ...     "speed line speed": (1500.0,) * 3 + (2000.0,) * 3 + (2500.0,) * 3,
    ...     "speed line flow": (0.04, 0.08, 0.11, 0.07, 0.13, 0.17, 0.10, 0.18, 0.23),
    ...     "speed line pressure ratio": (1.5, 1.45, 1.2, 2.0, 1.9, 1.5, 2.8, 2.6, 1.9),
    ...     "speed line efficiency": (0.66, 0.72, 0.60, 0.68, 0.75, 0.62, 0.67, 0.73, 0.60),
    ... }
    >>> stated_map(lambda name: Curve(x=points, y=columns[name])).highest_speed
    2500.0
    """
    return speed_map(*(curve(f"speed line {name}") for name in ("speed", "flow", "pressure ratio", "efficiency")))


@lru_cache(maxsize=512)
def _made(
    speed: tuple[float, ...], flow: tuple[float, ...], ratio: tuple[float, ...], efficiency: tuple[float, ...]
) -> SpeedMap:
    if not len(speed) == len(flow) == len(ratio) == len(efficiency):
        raise OutOfRange(
            "speed lines",
            f"{len(speed)} speeds, {len(flow)} flows, {len(ratio)} ratios, {len(efficiency)} efficiencies",
            "one of each for every point",
            "complete the rows",
        )
    points = sorted(zip(speed, flow, ratio, efficiency, strict=True))
    lines = []
    for wheel in sorted(set(speed)):
        own = [p[1:] for p in points if p[0] == wheel]
        flows, ratios, shares = zip(*own, strict=True)
        _refuse_line(wheel, flows, ratios, shares)
        lines.append(Line(speed=wheel, flow=flows, ratio=ratios, efficiency=shares))
    if len(lines) < FEWEST_LINES:
        raise OutOfRange("speed lines", f"{len(lines)}", f"{FEWEST_LINES} or more", "add lines, or state the envelope")
    for lower, upper in pairwise(lines):
        _refuse_crossing(lower, upper)
    return SpeedMap(lines=tuple(lines), fan=_fan(lines))


def _fan(lines: list[Line]) -> tuple[Line, ...]:
    """The lines of a sheet with others between them, by similarity."""
    along = np.linspace(0.0, 1.0, POINTS)
    drawn: list[Line] = []
    for lower, upper in pairwise(lines):
        drawn.append(lower)
        low, high = (_along(line, along) for line in (lower, upper))
        for share in np.linspace(0.0, 1.0, BETWEEN + 2)[1:-1]:
            speed = lower.speed + share * (upper.speed - lower.speed)
            start, end = (lower.flow[end] + share * (upper.flow[end] - lower.flow[end]) for end in (0, -1))
            head = speed**2 * ((1.0 - share) * low[0] / lower.speed**2 + share * high[0] / upper.speed**2)
            drawn.append(
                Line(
                    speed=float(speed),
                    flow=tuple(map(float, start + along * (end - start))),
                    ratio=tuple(map(float, 1.0 + head)),
                    efficiency=tuple(map(float, (1.0 - share) * low[1] + share * high[1])),
                )
            )
    return (*drawn, lines[-1])


def _along(line: Line, share: Array) -> tuple[Array, Array]:
    """Pressure rise and efficiency at shares of the way from surge to choke."""
    at = line.flow[0] + share * (line.flow[-1] - line.flow[0])
    return np.interp(at, line.flow, line.ratio) - 1.0, np.interp(at, line.flow, line.efficiency)


def _words(speed: float) -> str:
    return f"{speed * 60.0:.0f} 1/min"


def _refuse_line(speed: float, flow: tuple[float, ...], ratio: tuple[float, ...], share: tuple[float, ...]) -> None:
    """Refuse a line that cannot be one."""
    what = f"speed line of {_words(speed)}"
    if len(flow) < FEWEST_POINTS:
        raise OutOfRange(what, f"{len(flow)} points", f"{FEWEST_POINTS} or more", "add points from surge to choke")
    if len(set(flow)) < len(flow):
        raise OutOfRange(what, "two points at one flow", "each flow once", "remove one of the two")
    if min(ratio) < 1.0 or max(ratio) > 8.0:
        raise OutOfRange(what, f"pressure ratio {min(ratio):g} to {max(ratio):g}", "1 to 8", "check the column")
    if min(share) < 0.2 or max(share) > 0.88:
        raise OutOfRange(what, f"efficiency {min(share):g} to {max(share):g}", "0.2 to 0.88", "check the column")


def _refuse_crossing(lower: Line, upper: Line) -> None:
    """Refuse two lines of which the faster does not lie above the slower wherever both are drawn."""
    start, end = max(lower.flow[0], upper.flow[0]), min(lower.flow[-1], upper.flow[-1])
    if end > start:
        at = np.linspace(start, end, STEPS)
        gap = np.interp(at, upper.flow, upper.ratio) - np.interp(at, lower.flow, lower.ratio)
        if gap.min() <= 0.0:
            where = float(at[int(np.argmin(gap))])
            raise OutOfRange(
                f"speed lines of {_words(lower.speed)} and {_words(upper.speed)}",
                f"a crossing near {where * 1e3:.0f} g/s",
                "the faster line above the slower one at every flow",
                "check speed, flow and pressure ratio of their points",
            )
    if upper.ratio[0] <= lower.ratio[0]:
        raise OutOfRange(
            f"speed lines of {_words(lower.speed)} and {_words(upper.speed)}",
            f"a surge point at {upper.ratio[0]:g} on the faster and {lower.ratio[0]:g} on the slower",
            "a rising surge line",
            "check the first points of both",
        )
