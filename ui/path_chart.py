"""The paths drawn as channels: what a target needs, and how wide each part is."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from graph.report import Verdict
from ui.dataset import Drawing, Rows, Spec, field, label
from ui.mark import PINCH, VERDICTS
from ui.path_place import Path, Station
from ui.theme import Palette

#: Walls are drawn from this width to that one [1, the need].
NARROWEST, WIDEST = 0.25, 1.45
TALL = 150
POINTS = 24
HATCHES = 260
#: From so many parts on a path their names stand in two lines.
CROWDED = 7


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
