"""Curves over engine speed: what a limit is asked and what it carries, and the state of the engine."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from graph.course import Course
from graph.model import Array
from graph.quantity import Quantity
from graph.report import Report
from ui.dataset import Drawing, Rows, Spec, field, label
from ui.format import in_unit, kilowatts, power_unit, quantity, unit
from ui.mark import PINCH
from ui.theme import Palette

STROKES = 130
FEWEST_TICKS = 4
TALL, SMALL = 230, 150  # px
THIN_THOUSANDS = "replace(format(datum.value, ',.0f'), ',', '\u202f')"


def _shown(values: Array, what: Quantity) -> list[float | None]:
    return [in_unit(float(v), what) for v in values]


def _points(speed: Array, values: Array, what: Quantity, name: str) -> Rows:
    pairs = zip(_shown(speed, Quantity.ROTATIONAL_SPEED), _shown(values, what), strict=True)
    return [{"speed": s, "value": v, "name": name} for s, v in pairs if v is not None]


class _Curves(Drawing):
    """Lines over engine speed on axes that hold all of them."""

    def __init__(self, speed: Array, lines: Sequence[Rows], colours: Palette) -> None:
        super().__init__()
        self.c = colours
        values = [p["value"] for line in lines for p in line] or [0.0, 1.0]
        low, high = min(values), max(values)
        room = (high - low or abs(high) or 1.0) * 0.12
        floor = 0.0 if 0.0 <= low < 0.45 * high else low - room
        ends = _shown(speed[[0, -1]], Quantity.ROTATIONAL_SPEED)
        words = {"title": None, "labelColor": colours.mute, "tickCount": FEWEST_TICKS}
        self.x: Spec = {
            "field": "speed",
            "type": "quantitative",
            "scale": {"domain": ends, "nice": False, "zero": False},
            "axis": {"grid": False, "domainColor": colours.faint, "labelExpr": THIN_THOUSANDS, **words},
        }
        self.y: Spec = {
            "field": "value",
            "type": "quantitative",
            "scale": {"domain": [floor, high + room], "nice": False, "zero": False},
            "axis": {"grid": True, "gridColor": colours.rule, "domain": False, **words},
        }

    def line(self, points: Rows, colour: str, width: float, dash: tuple[int, int] = (1, 0)) -> None:
        """One curve."""
        look = {"color": colour, "strokeWidth": width, "strokeDash": list(dash), "clip": True}
        self.add(points, "line", look, x=self.x, y=self.y)

    def name(self, point: dict[str, Any], colour: str, **look: Any) -> None:
        """The name of a curve at one of its points."""
        look = {"color": colour, "fontSize": 13, "fontWeight": 600, **look}
        self.add([point], "text", look, x=self.x, y=self.y, text=label("name"))


def course_chart(course: Course, colours: Palette) -> Spec:
    """What one limit is asked and what it carries, over engine speed.

    Parameters
    ----------
    course : Course
        Of the limit [SI].
    colours : Palette
        Of the ground.

    Returns
    -------
    dict
        Hatched where less gets through than is asked; the worst speed carries the pinch mark.
    """
    c = colours
    asked = _points(course.speed, course.demand, course.quantity, f"{kilowatts(course.power)} {power_unit()} asks")
    carried = _points(course.speed, course.capacity, course.quantity, "limit")
    draw = _Curves(course.speed, [asked, carried], c)
    over = _over(course)
    draw.add(over, "rule", {"color": c.pinch, "strokeWidth": 1}, x=draw.x, y=draw.y, y2=field("other"))
    draw.line(carried, c.need, 2.0)
    draw.line(asked, c.ink, 2.4)
    if over:
        worst = max(over, key=lambda p: float(p["share"]))
        middle = {**worst, "value": (worst["value"] + worst["other"]) / 2.0}
        look = {"shape": PINCH, "size": 520, "filled": False, "color": c.pinch, "strokeWidth": 2.6, "opacity": 1}
        draw.add([middle], "point", look, x=draw.x, y=draw.y)
    if asked and carried:
        above = asked[-1]["value"] >= carried[-1]["value"]
        high: dict[str, Any] = {"align": "right", "dx": -2, "baseline": "bottom", "dy": -8}
        low: dict[str, Any] = {"align": "right", "dx": -2, "baseline": "top", "dy": 8}
        draw.name(asked[-1], c.ink, **(high if above else low))
        draw.name(carried[-1], c.need, **(low if above else high))
    return draw.finished(TALL, right=12)


def _over(course: Course) -> Rows:
    """Strokes from the limit to what is asked, where it is more."""
    fine = np.linspace(course.speed[0], course.speed[-1], STROKES)
    asked = np.interp(fine, course.speed, course.demand)
    carried = np.interp(fine, course.speed, course.capacity)
    found: Rows = []
    for speed, value, other in zip(
        _shown(fine, Quantity.ROTATIONAL_SPEED),
        _shown(asked, course.quantity),
        _shown(carried, course.quantity),
        strict=True,
    ):
        if value is not None and other is not None and value > other > 0.0:
            found.append({"speed": speed, "value": value, "other": other, "share": value / other})
    return found


def course_sentence(course: Course) -> str:
    """What the curves of a limit show, in a sentence."""
    share = np.divide(course.demand, course.capacity, out=np.zeros_like(course.demand), where=course.capacity > 0.0)
    share = np.where(np.isfinite(share), share, -1.0)
    at = int(np.argmax(share))
    at = int(np.flatnonzero(share >= share[at] * (1.0 - 1e-6))[-1])
    speed = quantity(float(course.speed[at]), Quantity.ROTATIONAL_SPEED)
    asked, carried = (quantity(float(v[at]), course.quantity) for v in (course.demand, course.capacity))
    return f"At {speed}, the tightest speed, {kilowatts(course.power)} {power_unit()} asks for {asked}; the limit is {carried}."


def course_unit(course: Course) -> str:
    """Unit of the curves of a limit."""
    label = unit(course.quantity)
    return "share" if label == "1" else label


def engine_chart(report: Report, what: str, colours: Palette) -> Spec:
    """One property of the car's own curve over engine speed.

    Parameters
    ----------
    report : Report
        Of a check.
    what : str
        ``torque``, ``boost`` or ``fuel``.
    colours : Palette
        Of the ground.

    Returns
    -------
    dict
        Small, labelled at the line.
    """
    c, curve, cap = colours, report.curve, report.target.boost_cap
    values, unit_of = {
        "torque": (curve.torque, Quantity.TORQUE),
        "boost": (curve.manifold_pressure - report.target.weather.pressure, Quantity.GAUGE_PRESSURE),
        "fuel": (curve.fuel_flow, Quantity.MASS_FLOW),
    }[what]
    made = np.where(curve.cause == 0, values, math.nan)
    drawn = _points(curve.speed, made, unit_of, f"{kilowatts(report.curve_power)} {power_unit()}")
    bound: Rows = []
    if what == "torque":
        bound = _points(curve.speed, report.torque_allowed, unit_of, "allowed")
    elif what == "boost" and cap is not None:
        bound = _points(curve.speed, np.full_like(curve.speed, cap), unit_of, "cap")
    draw = _Curves(curve.speed, [drawn, bound], c)
    draw.line(bound, c.need, 1.6, (5, 3))
    draw.line(drawn, c.ink, 2.2)
    if bound:
        draw.name(max(bound, key=lambda p: float(p["value"])), c.need, align="left", dy=-9)
    if drawn:
        draw.name(drawn[len(drawn) * 2 // 3], c.ink, align="left", baseline="top", dy=9)
    return draw.finished(SMALL, right=12)


def engine_unit(what: str) -> str:
    """Heading of one small chart, with its unit."""
    kinds = {"torque": Quantity.TORQUE, "boost": Quantity.GAUGE_PRESSURE, "fuel": Quantity.MASS_FLOW}
    return f"{what.capitalize()}, {unit(kinds[what])}"
