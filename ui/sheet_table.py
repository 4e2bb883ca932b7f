"""Tables of the pages as plain HTML: hairlines every five rows, numbers at the right, every text escaped."""

from __future__ import annotations

import re
from base64 import b64encode
from collections.abc import Iterable, Mapping, Sequence
from html import escape
from urllib.parse import urlencode

import streamlit as st

from ui.theme import Palette

_BEFORE_UNIT = re.compile(r"(?<=\d) (?=(?:%|kW|N·m|bar|°C|hPa|1/min|s\b|min\b))")
#: Texts up to this length are not broken into lines.
UNBROKEN = 14


class Markup(str):
    """Text that is markup already and is not escaped again."""

    __slots__ = ()


def cell(value: str | Markup) -> Markup:
    """A value as markup."""
    return value if isinstance(value, Markup) else Markup(escape(value))


def unbroken(text: str) -> str:
    """Text in which no line ends between a number and its unit."""
    return _BEFORE_UNIT.sub("\u00a0", text)


def link(text: str, page: str, parameters: Mapping[str, str]) -> Markup:
    """A link to a page of this program, with its address parameters."""
    return Markup(f'<a href="/{escape(page)}?{escape(urlencode(parameters))}" target="_self">{escape(text)}</a>')


def table(heads: Sequence[str], rows: Iterable[Sequence[str | Markup]], right: Iterable[int] = ()) -> None:
    """Show a table.

    Parameters
    ----------
    heads : sequence of str
        Column heads; a trailing unit belongs there, not into the cells.
    rows : iterable of sequence of str or Markup
        Cells.
    right : iterable of int
        Columns of numbers.
    """
    numbers = set(right)

    def column(i: int, value: str = "") -> str:
        short = "" if value and len(value) > UNBROKEN and not isinstance(value, Markup) else " k"
        return f' class="{"n" if i in numbers else "t"}{" b" if i == 0 else ""}{short}"'

    head = "".join(f'<th scope="col"{column(i)}>{cell(h)}</th>' for i, h in enumerate(heads))
    body = "".join(
        "<tr>"
        + "".join(f'<td{column(i, v)} data-head="{cell(heads[i])}">{cell(v)}</td>' for i, v in enumerate(row))
        + "</tr>"
        for row in rows
    )
    st.html(f'<table class="sheet wide"><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>')


def pairs(entries: Iterable[tuple[str, str | Markup]]) -> None:
    """Show names and their values below each other; empty values are left out."""
    body = "".join(
        f'<tr><th scope="row">{cell(name)}</th><td>{cell(value)}</td></tr>' for name, value in entries if value
    )
    st.html(f'<table class="pair"><tbody>{body}</tbody></table>')


def note(text: str | Markup) -> None:
    """A second line."""
    st.html(f'<div class="note">{cell(text)}</div>')


def lead(*lines: str | Markup) -> None:
    """Lines of body text."""
    st.html('<div class="lead">' + "".join(f"<p>{cell(line)}</p>" for line in lines) + "</div>")


def trouble(text: str) -> None:
    """An error at its place: ink with a rule at the left."""
    st.html(f'<div class="trouble" role="alert">{cell(text)}</div>')


def strip(
    low: float, value: float, high: float | None, ends: tuple[float, float], colours: Palette, *, first: bool = True
) -> Markup:
    """A tiny range with its value, on an axis shared by the rows of a table.

    Parameters
    ----------
    low, value, high : float
        Range and value, any unit; an open upper end is None.
    ends : tuple of float
        Ends of the axis in the same unit.
    colours : Palette
        Of the ground.
    first : bool
        True to put the pinch mark on the value.

    Returns
    -------
    Markup
        An inline picture.
    """
    width, middle = 180.0, 9.0
    scale = (width - 12.0) / ((ends[1] - ends[0]) or 1.0)

    def at(number: float) -> float:
        return 6.0 + (min(max(number, ends[0]), ends[1]) - ends[0]) * scale

    upper = ends[1] if high is None else high
    pinch = (
        f'<path d="M{at(value) - 7:.1f},1.5Q{at(value):.1f},7.5,{at(value) + 7:.1f},1.5'
        f'M{at(value) - 7:.1f},16.5Q{at(value):.1f},10.5,{at(value) + 7:.1f},16.5" fill="none" '
        f'stroke="{colours.pinch}" stroke-width="2"/>'
        if first
        else ""
    )
    picture = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:.0f}" height="18" viewBox="0 0 {width:.0f} 18" >'
        f'<line x1="0" y1="{middle}" x2="{at(low):.1f}" y2="{middle}" stroke="{colours.faint}" stroke-dasharray="1 4"/>'
        f'<line x1="{at(low):.1f}" y1="{middle}" x2="{at(upper):.1f}" y2="{middle}" stroke="{colours.need}" '
        f'stroke-width="1.6"/>'
        f'{pinch}<circle cx="{at(value):.1f}" cy="{middle}" r="3.2" fill="{colours.ink}"/></svg>'
    )
    coded = b64encode(picture.encode()).decode()
    return Markup(f'<img class="strip" alt="" src="data:image/svg+xml;base64,{coded}">')
