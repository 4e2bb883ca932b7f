"""Money against power: a line of steps, what each riser buys, and the ways that are offered."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from graph.plan.record import Point
from graph.quantity import Quantity
from ui.dataset import Drawing, Rows, Spec, field, fixed, label
from ui.format import in_unit, kilowatts, number, power_unit
from ui.theme import Palette

TALL = 420
#: Room left and right of the powers, as a share of their range.
ROOM = 0.12
#: The axis is at least so long [in the person's unit].
SHORTEST = 40.0
NAMED = 2
#: Width of a letter of a name, as a share of the axis.
LETTER = 0.0072
THIN_THOUSANDS = "replace(format(datum.value, ',.0f'), ',', '\u202f')"


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """A point of the line that is offered, with its name."""

    name: str
    point: Point


def money_chart(
    points: Sequence[Point], ways: Sequence[Way], kinds: Mapping[str, str], currency: str, colours: Palette
) -> Spec:
    """The line, in the Vega-Lite language.

    Parameters
    ----------
    points : sequence of Point
        Rising in power and in money, at least one.
    ways : sequence of Way
        Marked with numbers.
    kinds : mapping of str to str
        Part number to what it is.
    currency : str
        For the axis.
    colours : Palette
        Of the ground.

    Returns
    -------
    dict
        Powers in the person's unit.
    """
    c = colours
    draw = Drawing()
    at = [in_unit(p.power, Quantity.POWER) or 0.0 for p in points]
    span = at[-1] - at[0]
    beside = max(ROOM * span, (SHORTEST - span) / 2.0)
    low, high = at[0] - beside, at[-1] + beside
    top = max(p.total for p in points) * 1.15 or 1.0
    words = {"labelColor": c.mute, "titleColor": c.mute, "titleFontWeight": 400, "labelExpr": THIN_THOUSANDS}
    x: Spec = {
        "field": "power",
        "type": "quantitative",
        "scale": {"domain": [low, high], "nice": False, "zero": False},
        "axis": {
            "grid": False,
            "domainColor": c.faint,
            "title": f"crank {power_unit()}",
            "tickCount": 8,
            "tickMinStep": 1,
            **words,
        },
    }
    y: Spec = {
        "field": "total",
        "type": "quantitative",
        "scale": {"domain": [0, top], "nice": False},
        "axis": {"grid": True, "gridColor": c.rule, "domain": False, "title": currency, "tickCount": 6, **words},
    }
    flat: Rows = []
    risers: Rows = []
    names: Rows = []
    before: tuple[str, ...] = ()
    left, total = low, 0.0
    for power, point in zip(at, points, strict=True):
        risers.append({"power": left, "total": total, "other": point.total})
        flat.append({"power": left, "far": power, "total": point.total})
        new = [kinds.get(n, n) for n in point.parts if n not in before]
        if new and point.total > total:
            more = f" and {len(new) - NAMED} more" if len(new) > NAMED else ""
            names.append({"power": left, "total": point.total, "label": ", ".join(new[:NAMED]) + more})
        left, total, before = power, point.total, point.parts
    draw.add(flat, "rule", {"color": c.ink, "strokeWidth": 2.6}, x=x, x2=field("far"), y=y)
    draw.add(risers[1:], "rule", {"color": c.ink, "strokeWidth": 2.6}, x=x, y=y, y2=field("other"))
    look: dict[str, Any] = {"color": c.ink, "fontSize": 13}
    # The line only rises: above it to the left and below it to the right there is room.
    before_it = [n["power"] - low > LETTER * len(n["label"]) * (high - low) for n in names[1:]]
    for there, place in ((True, {"align": "right", "dx": -8, "dy": -8}), (False, {"align": "left", "dx": 8, "dy": 16})):
        group = [n for n, has_room in zip(names[1:], before_it, strict=True) if has_room is there]
        draw.add(group, "text", {**look, **place}, x=x, y=y, text=label("label"))
    loose = [{"power": p, "total": q.total} for p, q in zip(at, points, strict=True) if not q.proven]
    draw.add(loose, "point", {"shape": "circle", "fill": c.paper, "stroke": c.ink, "size": 50, "opacity": 1}, x=x, y=y)
    marks = [
        {
            "power": in_unit(w.point.power, Quantity.POWER),
            "total": w.point.total,
            "number": str(n),
            "label": f"{w.name.capitalize()}: {kilowatts(w.point.power)} {power_unit()}, "
            f"{number(round(w.point.total / 50.0) * 50.0)} {currency}",
        }
        for n, w in enumerate(ways, start=1)
    ]
    ring = {"shape": "circle", "fill": c.paper, "stroke": c.ink, "strokeWidth": 2, "size": 520, "opacity": 1}
    draw.add(marks, "point", ring, x=x, y=y)
    draw.add(marks, "text", {"color": c.ink, "fontWeight": 700, "fontSize": 14}, x=x, y=y, text=label("number"))
    said: dict[str, Any] = {"color": c.ink, "fontWeight": 700, "fontSize": 14, "dy": 30}
    for group, align in ((marks[:1], "left"), (marks[1:-1], "center"), (marks[1:][-1:], "right")):
        draw.add(group, "text", {**said, "align": align}, x=x, y=y, text=label("label"))
    draw.add([{"total": 0}], "rule", {"color": c.faint}, y=y, x=fixed(0), x2=fixed("width"))
    return draw.finished(TALL, right=12)
