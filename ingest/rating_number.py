"""The number of a rating: one value or the points of a curve, and what makes it unusable."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from itertools import pairwise

from graph.limit import RatingSpec
from graph.model import Curve
from graph.quantity import Quantity
from ingest.condition import parse_condition
from ingest.line import Line
from ingest.phrase import names_condition
from ingest.problem import Problem, UnreadableValue
from ingest.units import Measure, parse_quantity, read_unit, read_value

Add = Callable[[Problem], None]

_BARE = re.compile(r"[\s\d.,:;eE+\-−]+")
_REFERRED = (Quantity.ABSOLUTE_PRESSURE, Quantity.GAUGE_PRESSURE)
_FLOWS = (Quantity.MASS_FLOW, Quantity.VOLUME_FLOW)
_A_POWER = (
    "a power is no flow: which power it carries hangs on injection window, mixture and consumption; "
    "ask for the flow at a stated pressure"
)
#: Ratings that are stated at the wheel side of the gearing.
_AT_THE_WHEEL = ("shaft torque",)


def read_number(line: Line, spec: RatingSpec, add: Add) -> tuple[float | Curve | None, Measure | None]:
    """Read the number of a rating.

    Parameters
    ----------
    line : Line
        A data row with a rating.
    spec : RatingSpec
        What is rated.
    add : callable
        Takes every defect found.

    Returns
    -------
    value : float, Curve or None
        [SI]; None where it is no number, or out of all bounds.
    measure : Measure or None
        How it was read; None for a curve, and where it was not read.
    """
    value, measure = _value(line, spec, add)
    return (value if value is not None and _plausible(line, spec, value, add) else None), measure


def _value(line: Line, spec: RatingSpec, add: Add) -> tuple[float | Curve | None, Measure | None]:
    text, stored = line.text("rating"), line.value("rating")
    unit = line.text("unit") or line.unit("rating")
    if unit is not None and _BARE.fullmatch(text) and names_condition(unit):
        stored, unit = f"{text} {unit}", None  # '230' beside 'l/h bei 5,5 bar' is read as one text
    if unit is not None:
        try:
            read_unit(unit, spec.quantity)
        except UnreadableValue as defect:
            add(line.problem("unit" if line.text("unit") else "rating", defect.found, defect.expected, defect.remedy))
            return None, None
    if spec.over is not None and ":" in text:
        return _curve(line, text, unit, spec, spec.over, add), None
    try:
        measure = read_value(stored, spec.quantity, declared_unit=unit)
    except UnreadableValue as defect:
        field = "unit" if unit is None and "unit" in line.header.columns and _BARE.fullmatch(text) else "rating"
        remedy = _A_POWER if spec.quantity in _FLOWS and _is_power(text, unit) else defect.remedy
        add(line.problem(field, defect.found, defect.expected, remedy))
        return None, None
    refused = _refused(measure, spec, unit)
    if refused is not None:
        add(line.problem("rating", *refused))
        return None, measure
    return measure.value, measure


def _is_power(text: str, unit: str | None) -> bool:
    try:
        return bool(parse_quantity(text.partition(" at ")[0], Quantity.POWER, declared_unit=unit).value)
    except UnreadableValue:
        return False


def _refused(measure: Measure, spec: RatingSpec, unit: str | None) -> tuple[str, str, str] | None:
    """What makes a readable value unusable as a rating: found, expected, remedy."""
    shown = repr(measure.text.strip())
    for qualifier in ("doubtful", "approximately", "at most"):
        if qualifier in measure.qualifiers:
            return (
                f"{shown} ({qualifier})",
                "a number that somebody stands for",
                "measure it, or write the number and a wider ± %",
            )
    if unit is not None and not measure.declared and read_unit(unit, spec.quantity).unit.label != measure.unit:
        return f"{shown} and the unit {unit!r}", "one unit", "write the unit once, in its column or behind the number"
    if spec.quantity in _REFERRED and measure.reference is None:
        word = "abs" if spec.quantity is Quantity.ABSOLUTE_PRESSURE else "gauge"
        return (
            f"{shown} {unit or ''}".strip() + ", which says neither abs nor gauge",
            f"a {spec.quantity.label}",
            f"write 'bar {word}' if that is what it is; the two differ by the air pressure of the day",
        )
    if measure.basis == "wheel" and spec.name not in _AT_THE_WHEEL:
        return f"{shown}, at the wheel", f"{spec.quantity.label} at the crank", "state the value at the crank"
    return None


def _curve(line: Line, text: str, unit: str | None, spec: RatingSpec, over: Quantity, add: Add) -> Curve | None:
    points: list[tuple[float, float]] = []
    for piece in (p.strip() for p in text.split(";")):
        if not piece:
            continue
        left, colon, right = piece.partition(":")
        if not colon or ":" in right:
            add(line.problem("rating", repr(piece), "points as 'x: y; x: y'", "write each point with one colon"))
            return None
        field = "rating"
        try:
            x = parse_condition(left, over)
            field = "unit" if unit is None and "unit" in line.header.columns and _BARE.fullmatch(right) else "rating"
            y = parse_quantity(right, spec.quantity, declared_unit=unit)
        except UnreadableValue as defect:
            add(line.problem(field, f"{defect.found} in the point {piece!r}", defect.expected, defect.remedy))
            return None
        refused = _refused(y, spec, unit) or (
            (f"{piece!r}", "one number for each point", "write one number") if y.qualifiers or y.condition else None
        )
        if refused is not None:
            add(line.problem("rating", *refused))
            return None
        points.append((x.value, y.value))
    if len(points) < 2 or any(b[0] <= a[0] for a, b in pairwise(points)):
        add(
            line.problem(
                "rating", repr(text), "two or more points in rising order", "sort the points and remove doubles"
            )
        )
        return None
    return Curve(x=tuple(x for x, _ in points), y=tuple(y for _, y in points))


def width_of(measure: Measure | None) -> float:
    """Relative standard deviation [1] of a range, which is taken as evenly spread; 0 where the number is no range."""
    if measure is None or measure.low is None or measure.high is None or not measure.value:
        return 0.0
    return (measure.high - measure.low) / math.sqrt(12.0) / abs(measure.value)


def _plausible(line: Line, spec: RatingSpec, value: float | Curve, add: Add) -> bool:
    low, high = spec.plausible
    worst = [n for n in (value.y if isinstance(value, Curve) else (value,)) if not low <= n <= high]
    if worst:
        unit = line.text("unit") or line.unit("rating") or ""
        found = f"{line.text('rating')!r} {unit}".strip()
        add(
            line.problem(
                "rating",
                f"{found} ({worst[0]:.4g} {spec.quantity.unit})",
                f"{spec.label}: between {low:.4g} and {high:.4g} {spec.quantity.unit}",
                "check the unit and the decimal sign",
            )
        )
    return not worst
