"""Good, better and best on the line of money against power: the customer page's rule, read off the points."""

from __future__ import annotations

from collections.abc import Callable, Collection

from graph.plan.record import Point
from ui.money_chart import Way
from ui.way_rule import APART, CHEAPER, ENGINE, FINE, FUEL, GEARBOX, NAMES, RESERVE, TURBO, ways


def ways_on_line(
    points: Collection[Point], changed: Callable[[Point], Collection[str]], wish: float
) -> tuple[Way, ...]:
    """The points worth naming.

    Parameters
    ----------
    points : collection of Point
        Cheapest set for each power.
    changed : callable
        The kinds of part that the set of a point changes, ``fuel_grade`` among them where it is on another fuel.
    wish : float
        Power asked for [W].

    Returns
    -------
    tuple of Way
        Rising in power, at most three, as :func:`ui.way_rule.ways` chooses them.
    """
    line = _Line(points, changed)
    chosen = ways(line, wish)
    return tuple(
        Way(name=name, point=line.points[power]) for name, power in zip(NAMES.get(len(chosen), ()), chosen, strict=True)
    )


class _Line:
    """Sets of parts that are found already, one for each power."""

    def __init__(self, points: Collection[Point], changed: Callable[[Point], Collection[str]]) -> None:
        self.points = {p.power: p for p in points}
        self._changed = changed

    def highest(self, top: float, kept: frozenset[str]) -> float | None:
        fitting = (
            power for power, p in self.points.items() if power <= top + FINE and not kept.intersection(self._changed(p))
        )
        return max(fitting, default=None)

    def above(self, wish: float) -> float | None:
        within = (power for power in self.points if wish + APART - FINE <= power <= RESERVE * wish)
        return max(within, default=None)

    def halfway(self, best: float, kept: frozenset[str]) -> float | None:
        half, most = 0.5 * (best + min(self.points)), CHEAPER * self.total(best, kept)
        return max((power for power, p in self.points.items() if power <= half and p.total <= most), default=None)

    def total(self, power: float, _kept: frozenset[str]) -> float:
        return self.points[power].total

    def opened(self, power: float, _kept: frozenset[str]) -> frozenset[str]:
        return (FUEL | ENGINE | GEARBOX | TURBO).intersection(self._changed(self.points[power]))
