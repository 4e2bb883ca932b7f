"""Layers of a chart in the Vega-Lite language, as plain data: built in a millisecond, checked by the tests."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ui.theme import SANS

Rows = list[dict[str, Any]]
Spec = dict[str, Any]


def fixed(place: float | str) -> Spec:
    """A place in pixels, or a formula of the drawing's ``width``."""
    return {"value": {"expr": place} if isinstance(place, str) else place}


def field(name: str) -> Spec:
    """A second end, taken from a field."""
    return {"field": name}


def label(name: str) -> Spec:
    """A text, taken from a field."""
    return {"field": name, "type": "nominal"}


class Drawing:
    """Layers of one chart, each with the rows that it shows.

    The rows stand inside their layer: the page server hands them on as they are, where it would make a data frame of
    each named set, which takes longer than the check that the chart shows.

    Attributes
    ----------
    layers : list of dict
        From the lowest to the topmost.
    """

    def __init__(self) -> None:
        self.layers: list[Spec] = []

    def add(self, rows: Rows, mark: str, look: Mapping[str, Any], /, **encoding: Spec) -> None:
        """Add a layer; one without rows adds nothing.

        Parameters
        ----------
        rows : list of dict
            What it shows.
        mark : str
            Kind of mark, such as ``rule``.
        look : mapping
            Properties of the mark.
        encoding : dict
            Channel to field or value.
        """
        if not rows:
            return
        self.layers.append({"data": {"values": rows}, "mark": {"type": mark, **look}, "encoding": encoding})

    def finished(self, height: int, *, right: int = 0, below: int = 4) -> Spec:
        """The chart, as wide as its place on the page.

        Parameters
        ----------
        height : int
            Of the drawing area [px].
        right, below : int
            Room beside and below all marks [px].

        Returns
        -------
        dict
            In the Vega-Lite language, version 6.
        """
        return {
            "layer": self.layers,
            "height": height,
            "width": "container",
            "background": "transparent",
            "padding": {"left": 0, "right": right, "top": 4 if right else 0, "bottom": below},
            "autosize": {"type": "fit", "contains": "padding"},
            "config": {
                "font": SANS,
                "view": {"stroke": "transparent"},
                "text": {"font": SANS, "fontSize": 14},
                "axis": {"labelFont": SANS, "labelFontSize": 12, "ticks": False, "labelPadding": 6},
            },
        }
