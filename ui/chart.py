"""The ladder of ceilings: one row a part, one axis of crank power, the narrow place marked."""

from __future__ import annotations

from typing import Any

from graph.quantity import Quantity
from graph.report import Finding, Report, Verdict
from ui.dataset import Drawing, Rows, Spec, field, fixed, label
from ui.format import gap, in_unit, kilowatts, percent, power_unit
from ui.mark import INSIDE, PINCH, RING, VERDICTS, how_known, keys
from ui.theme import Palette

ROW = 24
HATCHES, FEW_HATCHES = 96, 44
#: Room for words left and right of the axis [px].
WIDE, NARROW = (196, 226), (168, 62)
#: Length of the axis up to which it is numbered finely, and where numbers end [kW].
WIDE_STEPS, HIGHEST = 320, 2000
FIRST_SHOWN = 0.01
SELECT = "chosen"


def ladder_rows(report: Report) -> Rows:
    """Rows of the ladder, lowest ceiling first, parts that are not known last.

    Parameters
    ----------
    report : Report
        Of a check.

    Returns
    -------
    list of dict
        Powers in kW, texts as shown, None where there is no number.
    """
    rows: Rows = []
    for key, finding in keys(report.findings).items():
        if finding.ceiling is not None:
            rows.append(_row(key, finding, report))
    named = {row["slot"] for row in rows}
    rows += [
        {"key": f"{u.slot}?", "slot": u.slot, "known": False, "why": u.why, "verdict": Verdict.UNKNOWN.value}
        for u in {u.slot: u for u in report.unknown}.values()
        if u.slot not in named
    ]
    return [{"place": i + 1, **row} for i, row in enumerate(rows)]


def _row(key: str, finding: Finding, report: Report) -> dict[str, Any]:
    interval = finding.ceiling_interval
    ceiling = finding.ceiling or 0.0
    chance = finding.weakest_probability
    return {
        "key": key,
        "slot": finding.slot,
        "known": finding.verdict is not Verdict.UNKNOWN,
        "kw": in_unit(ceiling, Quantity.POWER),
        "low": in_unit(interval.low if interval is not None else None, Quantity.POWER),
        "high": in_unit(interval.high if interval is not None else None, Quantity.POWER),
        "open": interval is not None and interval.high is None,
        "text": kilowatts(ceiling),
        "gap": gap(ceiling - report.target.power),
        "chance": percent(chance) if report.samples and chance >= FIRST_SHOWN else "",
        "axis": finding.axis.value if finding.axis is not None else "knock and boost",
        "verdict": finding.verdict.value,
        "how": how_known(finding),
        "first": finding is report.weakest,
        "why": "",
    }


def ladder_domain(rows: Rows, target: float) -> tuple[float, float]:
    """Ends of the power axis [kW]: all ceilings and the target are inside, long ranges are cut."""
    known = [row["kw"] for row in rows if "kw" in row]
    low = min([target, *known, *(row["low"] for row in rows if row.get("low") is not None)])
    return low - 6.0, max([target, *known]) * 1.03


def ladder_chart(report: Report, colours: Palette, *, chosen: str = "", narrow: bool = False) -> Spec:
    """The ladder as a chart in the Vega-Lite language.

    Parameters
    ----------
    report : Report
        Of a check.
    colours : Palette
        Of the ground.
    chosen : str
        Key of the row whose evidence is shown.
    narrow : bool
        True for a phone: name, value, range and mark only.

    Returns
    -------
    dict
        With the selection :data:`SELECT` on the row's key.
    """
    rows = ladder_rows(report)
    target = in_unit(report.target.power, Quantity.POWER) or 0.0
    low, high = ladder_domain(rows, target)
    for row in rows:
        row["left"] = low
        if row.get("low") is not None:
            row["high"] = high if row["high"] is None else min(row["high"], high)
    draw = _Ladder(colours, rows, (low, high), target, narrow)
    draw.ground(chosen)
    draw.ranges()
    draw.narrowest()
    draw.marks()
    draw.words()
    draw.touch()
    return draw.finished(ROW * max(1, len(rows)))


class _Ladder(Drawing):
    """Layers of one ladder."""

    def __init__(self, colours: Palette, rows: Rows, domain: tuple[float, float], target: float, narrow: bool) -> None:
        super().__init__()
        self.c, self.rows, self.domain, self.target, self.narrow = colours, rows, domain, target, narrow
        self.left, right = NARROW if narrow else WIDE
        self.edge = {"x": fixed(-self.left), "x2": fixed(f"width + {right}")}
        order = [r["key"] for r in rows]
        self.y: Spec = {"field": "key", "type": "nominal", "sort": order, "axis": None, "scale": {"padding": 0}}
        step = 20 if not narrow and domain[1] - domain[0] < WIDE_STEPS else 50
        shown = [v for v in range(0, HIGHEST, step) if domain[0] <= v <= domain[1] and abs(v - target) > step / 2]
        self.axis: Spec = {
            "orient": "top",
            "values": shown,
            "title": None,
            "labelColor": colours.mute,
            "grid": True,
            "gridColor": colours.rule,
            "domain": False,
            "labelOverlap": True,
        }

    def at(self, name: str) -> Spec:
        """The power axis for a field."""
        scale = {"domain": list(self.domain), "nice": False, "zero": False}
        return {"field": name, "type": "quantitative", "scale": scale, "axis": self.axis}

    def colour(self, row: dict[str, Any]) -> str:
        """Colour that repeats a verdict."""
        return self.c.pinch if row["verdict"] == Verdict.EXCEEDED.value else self.c.need

    def ground(self, chosen: str) -> None:
        """The row that is selected, and a hairline every five rows."""
        self.add([r for r in self.rows if r["key"] == chosen], "rect", {"color": self.c.panel}, y=self.y, **self.edge)
        fifth = [r for i, r in enumerate(self.rows) if i % 5 == 4 and i + 1 < len(self.rows)]
        self.add(fifth, "rule", {"color": self.c.rule, "yOffset": ROW / 2}, y=self.y, **self.edge)

    def ranges(self) -> None:
        """Leader dots, then the range that holds 9 in 10; a dotted line where nothing is known."""
        known = [r for r in self.rows if r.get("low") is not None]
        bare = [r for r in self.rows if "kw" in r and r.get("low") is None]
        blank = [r for r in self.rows if "kw" not in r]
        leader = {"color": self.c.faint, "strokeDash": [1, 4]}
        self.add(known, "rule", leader, y=self.y, x=self.at("left"), x2=field("low"))
        self.add(bare, "rule", leader, y=self.y, x=self.at("left"), x2=field("kw"))
        for short in (True, False):
            group = [r for r in known if (r["verdict"] == Verdict.EXCEEDED.value) is short]
            look = {"color": self.c.pinch if short else self.c.need, "strokeWidth": 1.6}
            self.add(group, "rule", look, y=self.y, x=self.at("low"), x2=field("high"))
        dotted = {"color": self.c.mute, "strokeDash": [1, 4], "strokeWidth": 1.5}
        self.add(blank, "rule", dotted, y=self.y, x=fixed(0), x2=fixed("width"))

    def narrowest(self) -> None:
        """Target line; what does not get through the weakest as hatching; the pinch mark on it."""
        x, c = self.at("kw"), self.c
        goal = [{"kw": self.target, "label": f"target {self.target:.0f} {power_unit()}"}]
        self.add(goal, "rule", {"color": c.ink, "strokeWidth": 2}, x=x)
        bold = {"color": c.ink, "fontWeight": 700, "baseline": "bottom"}
        self.add(goal, "text", bold, x=x, y=fixed(-24), text=label("label"))
        first = next((r for r in self.rows if r.get("first")), None)
        if first is None:
            return
        step = (self.domain[1] - self.domain[0]) / (FEW_HATCHES if self.narrow else HATCHES)
        count = max(0, int((self.target - first["kw"]) / step))
        strokes = [{"key": first["key"], "kw": first["kw"] + step * (i + 0.5)} for i in range(1, count)]
        hatch = {"color": c.pinch, "size": 13, "thickness": 1, "orient": "vertical"}
        self.add(strokes, "tick", hatch, x=x, y=self.y)
        pinch = {"shape": PINCH, "size": 520, "filled": False, "color": c.pinch, "strokeWidth": 2.6, "opacity": 1}
        self.add([first], "point", pinch, x=x, y=self.y)
        if self.target > first["kw"] and not self.narrow:
            said = {**first, "kw": self.target, "label": f"{first['gap'].lstrip('−')} {power_unit()} short"}
            short = {"color": c.pinch, "fontWeight": 700, "fontSize": 13, "align": "left", "dx": 10}
            self.add([said], "text", short, x=x, y=self.y, text=label("label"))

    def marks(self) -> None:
        """The value of each row by how it is known, and the verdict at the right."""
        x, c = self.at("kw"), self.c
        known = [r for r in self.rows if "kw" in r]
        ring = {"shape": RING, "size": 84, "fill": c.paper, "stroke": c.ink, "strokeWidth": 1.4, "opacity": 1}
        self.add(known, "point", ring, x=x, y=self.y)
        for how, shape in INSIDE.items():
            look = {"shape": shape, "size": 84, "filled": True, "color": c.ink, "opacity": 1}
            self.add([r for r in known if r["how"] == how], "point", look, x=x, y=self.y)
        for verdict, shape in VERDICTS.items():
            short = verdict is Verdict.EXCEEDED
            stroke = c.pinch if short else c.need
            fill = stroke if short else "transparent"
            look = {"shape": shape, "size": 80, "fill": fill, "stroke": stroke, "strokeWidth": 1.6, "opacity": 1}
            group = [r for r in self.rows if r["verdict"] == verdict.value]
            self.add(group, "point", look, x=fixed("width + 16"), y=self.y)

    def words(self) -> None:
        """Columns at the left and at the right of the axis."""
        c = self.c
        first = [r for r in self.rows if r.get("first")]
        rest = [r for r in self.rows if not r.get("first")]
        blank = [{**r, "mark": "?"} for r in self.rows if r["verdict"] == Verdict.UNKNOWN.value]
        name_at = -self.left + (4 if self.narrow else 30)
        for group, weight in ((first, 700), (rest, 400)):
            self.column(group, "slot", name_at, "left", c.ink, weight)
            self.column(group, "text", -10, "right", c.ink, weight)
            self.column(group, "gap", "width + 56", "right", c.ink, weight)
            if not self.narrow:
                self.column(group, "chance", "width + 98", "right", c.ink, weight)
        self.column([r for r in blank if "kw" not in r], "mark", -10, "right", c.ink, 700)
        self.column(blank, "mark", "width + 16", "center", c.ink, 700)
        heads: list[tuple[float | str, str, str]] = [(-10, "right", power_unit()), ("width + 56", "right", "± target")]
        if not self.narrow:
            known = [r for r in self.rows if "kw" in r]
            self.column(known, "place", -self.left + 20, "right", c.mute, 400)
            self.column(known, "axis", "width + 112", "left", c.mute, 400)
            heads += [("width + 98", "right", "first*"), ("width + 112", "left", "runs out of")]
        for place, align, head in heads:
            look = {"align": align, "color": c.mute, "fontSize": 12, "baseline": "bottom"}
            self.add([{"head": head}], "text", look, x=fixed(place), y=fixed(-7), text=label("head"))

    def column(self, rows: Rows, name: str, place: float | str, align: str, colour: str, weight: int) -> None:
        """One column of texts; rows without the text stay blank."""
        look = {"align": align, "color": colour, "fontWeight": weight, "limit": 170}
        self.add([r for r in rows if r.get(name)], "text", look, x=fixed(place), y=self.y, text=label(name))

    def touch(self) -> None:
        """Rows that answer to a click, over their whole width."""
        look = {"opacity": 0, "cursor": "pointer", "tooltip": None}
        self.add(self.rows, "rect", look, y=self.y, **self.edge)
        if self.rows:
            pick = {"type": "point", "fields": ["key"], "on": "click", "clear": False}
            self.layers[-1]["params"] = [{"name": SELECT, "select": pick}]
