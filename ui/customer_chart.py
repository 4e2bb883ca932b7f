"""The picture of the customer page: a bar for each place in crank kW against the wish, drawn as SVG.

Readable in grey: what is missing is hatched, what is not known is dotted and marked with a question mark, and how a
limit is known is a shape. No number is drawn that the page does not print.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from xml.sax.saxutils import escape, quoteattr

WIDTH = 510.0
LEFT, RIGHT, TOP = 172.0, 500.0, 30.0
ROW = 13.0
FONT = "'Source Sans Pro', 'Source Sans 3', 'Source Sans', sans-serif"
INK, MUTE, NEED, PINCH, HAZE, RULE = "#1E2328", "#5C5F64", "#163A5C", "#A8481A", "#C9D2DC", "#D5D1C6"
#: Room above the largest value, and the step of the axis [kW].
ROOM = 1.06
#: Room to the right of the wish for the words at the narrowest place [1].
BESIDE = 1.17
GRID = 100.0
#: Width of a bold letter of the picture, on average.
LETTER = 4.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """One row.

    Parameters
    ----------
    label : str
        The place.
    value : float or None
        What it carries as printed [kW]; None where it is not known.
    text : str
        The same as printed.
    low, high : float or None
        Ends of its range [kW]; None runs to the edge.
    mark : str
        ○, ◐, ◉ or ●.
    note : str
        Words beside it.
    first : bool
        True for the narrowest.
    """

    label: str
    value: float | None
    text: str
    low: float | None = None
    high: float | None = None
    mark: str = "○"
    note: str = ""
    first: bool = False


def draw(bars: Iterable[Bar], target: float, wish: str, axis: str) -> str:
    """The picture.

    Parameters
    ----------
    bars : iterable of Bar
        From the top down.
    target : float
        Power wished for [kW].
    wish, axis : str
        Words at the line of the wish; word for an axis number with ``{value}`` in it.

    Returns
    -------
    str
        One SVG element with no reference outside itself.
    """
    rows = list(bars)
    known = [b.value for b in rows if b.value is not None]
    scale = max(target * BESIDE, max([0.0, *known]) * ROOM, *(_beside_needs(b) for b in rows))
    bottom = TOP + ROW * len(rows)

    def x(power: float) -> float:
        return LEFT + (RIGHT - LEFT) * min(max(power, 0.0), scale) / scale

    shapes = [_axis(x, scale, target, bottom, axis)]
    for n, bar in enumerate(rows):
        shapes.append(_row(bar, TOP + ROW * (n + 0.5), x, target, scale))
        if n % 5 == 4 and n + 1 < len(rows):
            shapes.append(_line(2.0, TOP + ROW * (n + 1), RIGHT, TOP + ROW * (n + 1), RULE, 0.4))
    shapes += [
        _line(x(target), TOP - 6, x(target), bottom + 3, INK, 1.3),
        _text(min(x(target), RIGHT - 44), TOP - 16, wish, anchor="middle", bold=True),
    ]
    height = bottom + 6
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_n(WIDTH)} {_n(height)}" font-family={quoteattr(FONT)}>'
        + "".join(shapes)
        + "</svg>"
    )


def _beside_needs(bar: Bar) -> float:
    """Scale at which the words at the narrowest place have room to the right of its bar [kW]."""
    if not bar.first or bar.value is None or not bar.note:
        return 0.0
    room = WIDTH - LEFT - 14.0 - LETTER * len(bar.note)
    return bar.value * (RIGHT - LEFT) / max(room, 0.3 * (RIGHT - LEFT))


def _n(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")


def _line(x1: float, y1: float, x2: float, y2: float, colour: str, width: float, dash: str = "") -> str:
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<line x1="{_n(x1)}" y1="{_n(y1)}" x2="{_n(x2)}" y2="{_n(y2)}" stroke="{colour}" '
        f'stroke-width="{_n(width)}"{dashed}/>'
    )


def _text(x: float, y: float, text: str, *, anchor: str = "start", bold: bool = False, colour: str = INK) -> str:
    weight = ' font-weight="600"' if bold else ""
    return (
        f'<text x="{_n(x)}" y="{_n(y)}" font-size="9" text-anchor="{anchor}" fill="{colour}"{weight}>'
        f"{escape(text)}</text>"
    )


def _axis(x, scale: float, target: float, bottom: float, word: str) -> str:  # type: ignore[no-untyped-def]  # noqa: ANN001
    shapes = []
    for n in range(int(scale // GRID) + 1):
        value = n * GRID
        shapes.append(_line(x(value), TOP - 3, x(value), bottom, RULE, 0.5))
        if abs(x(value) - x(target)) > 14:
            shapes.append(_text(x(value), TOP - 6, word.format(value=f"{value:.0f}"), anchor="middle", colour=MUTE))
    return "".join(shapes)


def _row(bar: Bar, y: float, x, target: float, scale: float) -> str:  # type: ignore[no-untyped-def]  # noqa: ANN001
    shapes = [
        _text(2.0, y + 3, bar.label, bold=bar.first),
        _text(LEFT - 8, y + 3, bar.text, anchor="end", bold=bar.first or bar.value is None),
    ]
    if bar.value is None:
        shapes.append(_line(x(0.0), y, RIGHT, y, INK, 0.8, "1 2.6"))
        if bar.note:
            wide = 4.3 * len(bar.note) + 4
            shapes.append(
                f'<rect x="{_n(x(0.0) + 10)}" y="{_n(y - 5)}" width="{_n(wide)}" height="10" fill="#FFFFFF"/>'
            )
            shapes.append(_text(x(0.0) + 13, y + 3, bar.note))
        return "".join(shapes)
    end, goal = x(bar.value), x(target)
    shapes.append(f'<rect x="{_n(x(0.0))}" y="{_n(y - 3.2)}" width="{_n(end - x(0.0))}" height="6.4" fill="{HAZE}"/>')
    place = end + 1.4
    while place < goal - 0.6:
        shapes.append(_line(place, y - 3.2, place, y + 3.2, PINCH, 0.7))
        place += 2.0
    low = x(bar.low if bar.low is not None else bar.value)
    high = x(bar.high if bar.high is not None else scale)
    shapes.append(_line(low, y, high, y, NEED, 1.0))
    shapes.append(_mark(bar.mark, end, y))
    if bar.first:
        shapes.append(
            f'<path d="M{_n(end - 6)},{_n(y - 6.5)}Q{_n(end)},{_n(y - 1.5)},{_n(end + 6)},{_n(y - 6.5)}'
            f'M{_n(end - 6)},{_n(y + 6.5)}Q{_n(end)},{_n(y + 1.5)},{_n(end + 6)},{_n(y + 6.5)}" '
            f'fill="none" stroke="{PINCH}" stroke-width="1.5"/>'
        )
        shapes.append(_beside(bar.note, goal, end, y))
    return "".join(shapes)


def _beside(note: str, goal: float, end: float, y: float) -> str:
    """The words at the narrowest place: right of the wish, as far as there is room."""
    left = max(goal, end + 6) + 6
    wide = LETTER * len(note)
    start = min(left, WIDTH - wide)
    ground = f'<rect x="{_n(start - 2)}" y="{_n(y - 5)}" width="{_n(wide)}" height="10" fill="#FFFFFF"/>'
    return ground + _text(start, y + 3, note, bold=True, colour=PINCH)


def _mark(mark: str, x: float, y: float) -> str:
    fill = NEED if mark == "●" else "#FFFFFF"
    shape = f'<circle cx="{_n(x)}" cy="{_n(y)}" r="2.6" fill="{fill}" stroke="{NEED}" stroke-width="0.9"/>'
    if mark == "◉":
        shape += f'<circle cx="{_n(x)}" cy="{_n(y)}" r="1.2" fill="{NEED}"/>'
    if mark == "◐":
        shape += f'<path d="M{_n(x)},{_n(y - 2.6)}A2.6,2.6,0,0,0,{_n(x)},{_n(y + 2.6)}Z" fill="{NEED}"/>'
    return shape
