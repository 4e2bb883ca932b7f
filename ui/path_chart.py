"""The paths of air, fuel, torque, exhaust and heat as channels: what a target needs, and how wide each part is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

import numpy as np

from graph.kinds import discover
from graph.report import Finding, Report, Verdict
from ui.dataset import Drawing, Rows, Spec, field, label
from ui.format import NOT_KNOWN, kilowatts, percent, power_unit
from ui.mark import PINCH, VERDICTS
from ui.theme import Palette

#: Path -> the areas of the parts book that lie on it.
AREAS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "Air": ("Air",),
        "Fuel": ("Fuel",),
        "Spark and torque": ("Engine", "Drive"),
        "Exhaust": ("Exhaust",),
        "Heat and brakes": ("Cooling", "Chassis", "Control"),
    }
)
#: Order in which the flow meets the parts; a kind that is not named comes after those that are.
ORDER = (
    *("air_box", "air_flow_meter", "inlet_pipe", "compressor", "intercooler", "charge_pipe", "throttle"),
    *("pressure_sensor", "intake_manifold", "pump_wiring", "pump_controller", "pump_heat_plate", "tank_pump"),
    *("fuel_filter", "fuel_line", "high_pressure_pump", "follower", "rail", "injectors", "port_injection"),
    *("fuel_grade", "ethanol_sensor", "coils", "plugs", "valves", "pistons", "head_clamp", "rods", "clutch"),
    *("packs", "gears", "driveshafts", "exhaust_manifold", "wastegate", "turbine", "catalyst", "silencer"),
)
#: Walls are drawn from this width to that one [1, the need].
NARROWEST, WIDEST = 0.25, 1.45
TALL = 150
POINTS = 24
HATCHES = 260
#: From so many parts on a path their names stand in two lines.
CROWDED = 7


@dataclass(frozen=True, slots=True, kw_only=True)
class Station:
    """One place on a path.

    Parameters
    ----------
    slot : str
        Its name.
    width : float or None
        What it carries over what the target needs [1]; None where that is not known.
    text : str
        Share of the limit used, or the power that passes, or that it is not known.
    verdict : Verdict
        Of the limit that is used most.
    first : bool
        True for the weakest of the whole car.
    """

    slot: str
    width: float | None
    text: str
    verdict: Verdict
    first: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Path:
    """One path with its places in the order of the flow."""

    name: str
    places: tuple[Station, ...]
    narrowest: str = ""

    @property
    def sentence(self) -> str:
        """The path in words, for those who do not see it."""
        return f"{self.name}: " + ", ".join(f"{p.slot} {p.text}" for p in self.places)


def gather_paths(report: Report) -> tuple[Path, ...]:
    """Sort the limits of a check into paths.

    Parameters
    ----------
    report : Report
        Of a check.

    Returns
    -------
    tuple of Path
        Only paths with a place that is judged or not known.
    """
    kinds = discover()
    worst: dict[str, Finding] = {}
    for f in report.findings:
        before = worst.get(f.slot)
        if before is None or _pressed(f, report.target.power) > _pressed(before, report.target.power):
            worst[f.slot] = f
    unknown = {u.slot for u in report.unknown}
    found: dict[str, list[tuple[int, Station]]] = {name: [] for name in AREAS}
    for place in report.build.places:
        kind, name = kinds.get(place.slot.kind), place.slot.name
        path = next((p for p, areas in AREAS.items() if kind is not None and kind.area in areas), None)
        finding = worst.get(name)
        if path is None or (finding is None and name not in unknown):
            continue
        if finding is None or name in unknown:
            width, text, verdict = None, f"? {NOT_KNOWN}", Verdict.UNKNOWN
        else:
            width, text = _width_of(finding, report.target.power)
            verdict = finding.verdict
            text = text or f"> {kilowatts(report.engine_alone)} {power_unit()}"  # not passed where the engine ends
        first = report.weakest is not None and report.weakest.slot == name
        order = ORDER.index(place.slot.kind) if place.slot.kind in ORDER else len(ORDER)
        found[path].append((order, Station(slot=name, width=width, text=text, verdict=verdict, first=first)))
    weakest = report.weakest
    said = (
        ""
        if weakest is None
        else f"narrowest: lets {kilowatts(weakest.ceiling)} of {kilowatts(report.target.power)} {power_unit()} pass"
    )
    return tuple(
        Path(
            name=name,
            places=tuple(s for _, s in sorted(rows, key=lambda row: row[0])),
            narrowest=said if any(s.first for _, s in rows) else "",
        )
        for name, rows in found.items()
        if rows
    )


def _pressed(finding: Finding, power: float) -> float:
    """How far a limit is used, for comparing the limits of one place [1]."""
    width, _ = _width_of(finding, power)
    return 0.0 if width is None else 1.0 / width


def _width_of(finding: Finding, power: float) -> tuple[float | None, str]:
    """How wide a place is, and what is said of it; without an operating point at the target the power that passes."""
    if finding.utilisation is not None:
        return 1.0 / max(finding.utilisation, 1e-6), percent(finding.utilisation)
    if finding.ceiling is not None:
        return finding.ceiling / power, f"{kilowatts(finding.ceiling)} {power_unit()}"
    return None, ""


def path_chart(path: Path, colours: Palette) -> Spec:
    """One path as a channel, in the Vega-Lite language.

    Parameters
    ----------
    path : Path
        Its places.
    colours : Palette
        Of the ground.

    Returns
    -------
    dict
        Share used as number, mark and width; colour repeats it.
    """
    draw = _Channel(path, colours)
    draw.band()
    draw.walls()
    draw.words()
    return draw.finished(TALL, right=4)


class _Channel(Drawing):
    """Layers of one path."""

    def __init__(self, path: Path, colours: Palette) -> None:
        super().__init__()
        self.path, self.c = path, colours
        self.count = len(path.places)
        two = self.count >= CROWDED
        self.top = 2.75 if two else 2.2
        scale: dict[str, Any] = {"nice": False, "zero": False}
        self.x: Spec = {
            "field": "x",
            "type": "quantitative",
            "axis": None,
            "scale": {"domain": [0, self.count], **scale},
        }
        low = -2.3 if path.narrowest else -1.6
        self.y: Spec = {
            "field": "y",
            "type": "quantitative",
            "axis": None,
            "scale": {"domain": [low, self.top], **scale},
        }
        self.two = two

    def band(self) -> None:
        """What the target needs."""
        need = [{"x": 0, "far": self.count, "y": -1.0, "other": 1.0}]
        look = {"color": self.c.haze, "opacity": 0.45}
        self.add(need, "rect", look, x=self.x, x2=field("far"), y=self.y, y2=field("other"))

    def walls(self) -> None:
        """How wide each part is, hatched where less gets through than is needed; dotted where nothing is known."""
        for run in _runs(self.path.places):
            x, width = _walls(run, self.path.places)
            for side in (1.0, -1.0):
                wall = [{"x": float(a), "y": float(side * b)} for a, b in zip(x, width, strict=True)]
                self.add(wall, "line", {"color": self.c.ink, "strokeWidth": 2.0}, x=self.x, y=self.y)
                fine = np.linspace(x[0], x[-1], max(2, int(HATCHES * (x[-1] - x[0]) / self.count)))
                inside = np.interp(fine, x, width)
                hatch = [
                    {"x": float(a), "y": float(side * b), "other": side}
                    for a, b in zip(fine, inside, strict=True)
                    if b < 1.0 - 1e-9
                ]
                self.add(
                    hatch, "rule", {"color": self.c.pinch, "strokeWidth": 1}, x=self.x, y=self.y, y2=field("other")
                )
        blank = [
            {"x": i, "far": i + 1, "y": side}
            for i, p in enumerate(self.path.places)
            if p.width is None
            for side in (1.0, -1.0)
        ]
        dotted = {"color": self.c.mute, "strokeDash": [1, 4], "strokeWidth": 2}
        self.add(blank, "rule", dotted, x=self.x, x2=field("far"), y=self.y)

    def words(self) -> None:
        """Name, mark and number of every place."""
        rows: Rows = []
        for i, p in enumerate(self.path.places):
            upper = 2.3 if self.two and i % 2 else 1.75
            rows.append(
                {
                    "x": i + 0.5,
                    "y": upper,
                    "foot": 1.06 if p.width is None else max(1.06, min(WIDEST, p.width) + 0.06),
                    "middle": 0.0,
                    "slot": p.slot,
                    "used": p.text,
                    "verdict": p.verdict.value,
                    "first": p.first,
                    "short": p.verdict is Verdict.EXCEEDED,
                    "known": p.width is not None,
                }
            )
        stem = [{**r, "y": r["y"] - 0.12} for r in rows if r["y"] - 0.12 > r["foot"]]
        self.add(stem, "rule", {"color": self.c.faint}, x=self.x, y=self.y, y2=field("foot"))
        for bold in (True, False):
            group = [r for r in rows if r["first"] is bold]
            look = {"color": self.c.ink, "fontSize": 13, "fontWeight": 700 if bold else 400, "baseline": "bottom"}
            self.add(group, "text", look, x=self.x, y=self.y, text=label("slot"))
        middle = {**self.y, "field": "middle"}
        for short in (True, False):
            group = [r for r in rows if r["short"] is short]
            shift = 6 if short else 8
            look = {"color": self.c.ink, "fontWeight": 700 if short else 400, "dx": shift, "fontSize": 14}
            self.add([r for r in group if r["known"]], "text", look, x=self.x, y=middle, text=label("used"))
        self.add(
            [r for r in rows if not r["known"]], "text", {"color": self.c.ink}, x=self.x, y=middle, text=label("used")
        )
        for verdict, shape in VERDICTS.items():
            short = verdict is Verdict.EXCEEDED
            stroke = self.c.pinch if short else self.c.need
            fill = stroke if short else "transparent"
            look = {
                "shape": shape,
                "size": 80,
                "fill": fill,
                "stroke": stroke,
                "strokeWidth": 1.6,
                "opacity": 1,
                "xOffset": -24,
            }
            group = [r for r in rows if r["verdict"] == verdict.value and r["known"]]
            self.add(group, "point", look, x=self.x, y=middle)
        first = [{**r, "label": self.path.narrowest, "y": -1.62} for r in rows if r["first"]]
        pinch = {"shape": PINCH, "size": 2600, "filled": False, "color": self.c.pinch, "strokeWidth": 2.6, "opacity": 1}
        self.add(first, "point", pinch, x=self.x, y=middle)
        at = next((i for i, p in enumerate(self.path.places) if p.first), 0)
        align = "left" if at == 0 else "right" if at == self.count - 1 else "center"
        look = {"color": self.c.pinch, "fontWeight": 700, "fontSize": 13, "baseline": "top", "align": align}
        self.add(first, "text", look, x=self.x, y=self.y, text=label("label"))


def _runs(places: Sequence[Station]) -> list[tuple[int, int]]:
    """First and last place of each stretch without a gap."""
    found: list[tuple[int, int]] = []
    for i, place in enumerate(places):
        if place.width is None:
            continue
        if found and found[-1][1] == i - 1:
            found[-1] = (found[-1][0], i)
        else:
            found.append((i, i))
    return found


def _walls(run: tuple[int, int], places: Sequence[Station]) -> tuple[np.ndarray[Any, Any], np.ndarray[Any, Any]]:
    """Place along the path and half width of one stretch; parts are joined by a smooth step."""
    x: list[float] = []
    width: list[float] = []
    first, last = run
    for i in range(first, last + 1):
        mine = _width(places[i])
        x += [i + (0.0 if i == first else 0.2), i + (1.0 if i == last else 0.8)]
        width += [mine, mine]
        if i < last:
            following = _width(places[i + 1])
            t = np.linspace(0.0, 1.0, POINTS)[1:-1]
            x += list(i + 0.8 + 0.4 * t)
            width += list(mine + (following - mine) * t * t * (3.0 - 2.0 * t))
    return np.asarray(x), np.asarray(width)


def _width(place: Station) -> float:
    return float(np.clip(place.width or 1.0, NARROWEST, WIDEST))
