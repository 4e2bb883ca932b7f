"""Colours and type of the pages, in one place: two hues, three sizes, hairlines."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import streamlit as st

SANS = "'Source Sans', 'Source Sans 3', sans-serif"
SERIF = "'Source Serif', 'Source Serif 4', serif"
WIDTH = 1190
PHONE = 640


@dataclass(frozen=True, slots=True, kw_only=True)
class Palette:
    """Colours of one ground; every text colour has a contrast of at least 4.5 to it.

    Parameters
    ----------
    paper, panel : str
        Page and input areas.
    ink, mute : str
        Text and second lines.
    need, pinch : str
        Limits and links; what is short.
    haze, rule, faint : str
        Bands, hairlines, ticks: never text.
    """

    paper: str
    panel: str
    ink: str
    mute: str
    need: str
    pinch: str
    haze: str
    rule: str
    faint: str


LIGHT = Palette(
    paper="#FBFAF6",
    panel="#F2F0E9",
    ink="#1E2328",
    mute="#5C5F64",
    need="#163A5C",
    pinch="#A8481A",
    haze="#B4C6D8",
    rule="#D5D1C6",
    faint="#8C8F93",
)
DARK = Palette(
    paper="#16191C",
    panel="#1F2327",
    ink="#E9E6DF",
    mute="#A9ADB2",
    need="#9CC3E6",
    pinch="#E8935F",
    haze="#4C6A87",
    rule="#3A3F45",
    faint="#7A7F85",
)
PALETTES: Mapping[str, Palette] = MappingProxyType({"light": LIGHT, "dark": DARK})


def palette() -> Palette:
    """Colours of the ground that the reader's browser shows."""
    return PALETTES.get(str(st.context.theme.type), LIGHT)


def options() -> dict[str, str]:
    """Settings of the page server for type and colours, as its command line takes them."""
    found = {
        "theme.font": "sans-serif",
        "theme.headingFont": "serif",
        "theme.baseFontSize": "14",
        "theme.baseRadius": "none",
        "theme.buttonRadius": "none",
        "theme.showWidgetBorder": "true",
        "theme.linkUnderline": "true",
    }
    for ground, colours in PALETTES.items():
        found |= {
            f"theme.{ground}.backgroundColor": colours.paper,
            f"theme.{ground}.secondaryBackgroundColor": colours.panel,
            f"theme.{ground}.textColor": colours.ink,
            f"theme.{ground}.primaryColor": colours.need,
            f"theme.{ground}.linkColor": colours.need,
            f"theme.{ground}.borderColor": colours.rule,
            f"theme.{ground}.redColor": colours.pinch,
        }
    return found


def style() -> None:
    """Put the page's rules for measure, tables and narrow screens on the page."""
    c = palette()
    st.html(
        f"""<style>
[data-testid="stMainBlockContainer"] {{max-width: {WIDTH}px; padding-top: 72px; padding-bottom: 48px;}}
[data-testid="stHeader"] {{background: {c.paper}; border-bottom: 1px solid {c.rule};}}
[data-testid="stDecoration"] {{display: none;}}
h1 {{font-size: 23px !important; font-weight: 600 !important; padding: 0 0 4px 0 !important;
  line-height: 1.3 !important;}}
h2 {{font-size: 18px !important; font-weight: 600 !important; padding: 24px 0 4px 0 !important;}}
h3 {{font-size: 15px !important; font-weight: 600 !important; padding: 8px 0 2px 0 !important;}}
[data-testid="stHeaderActionElements"] {{display: none;}}
.sheet {{width: 100%; border-collapse: collapse; font-size: 14px; font-variant-numeric: tabular-nums;}}
.sheet th {{font-weight: 400; font-size: 13px; color: {c.mute}; text-align: left; padding: 4px 16px 4px 0;
  border-bottom: 1px solid {c.faint}; vertical-align: bottom;}}
.sheet td {{padding: 4px 16px 4px 0; vertical-align: top; border: 0; line-height: 1.45;}}
.sheet tr:nth-child(5n) td {{border-bottom: 1px solid {c.rule};}}
.sheet .n {{text-align: right; white-space: nowrap;}}
.sheet .w {{font-weight: 600;}}
.sheet a, .note a, .lead a {{color: {c.need}; text-decoration-color: {c.haze}; text-underline-offset: 3px;}}
.note {{color: {c.mute}; font-size: 13px; line-height: 1.5; max-width: 92ch;}}
.lead {{font-size: 14px; line-height: 1.55; max-width: 92ch;}}
.short {{color: {c.pinch}; font-weight: 600;}}
.trouble {{border-left: 2px solid {c.ink}; padding-left: 12px; max-width: 92ch; line-height: 1.5;}}
.lead p {{margin: 0 0 6px 0;}}
.sheet .k {{white-space: nowrap;}}
.strip {{width: 180px; height: 18px; max-width: none; vertical-align: middle;}}
.pair {{border-collapse: collapse; font-size: 14px; line-height: 1.45;}}
.pair th {{color: {c.mute}; font-weight: 400; text-align: left; vertical-align: top; white-space: nowrap;
  padding: 2px 12px 2px 0;}}
.pair td {{padding: 2px 0; overflow-wrap: anywhere;}}
.pair a {{color: {c.need}; text-decoration-color: {c.haze}; text-underline-offset: 3px;}}
.pair th, .pair td {{border: 0;}}
.st-key-narrow {{display: none;}}
@media (max-width: {PHONE}px) {{
  .st-key-wide {{display: none;}}
  .st-key-narrow {{display: flex;}}
  [data-testid="stMainBlockContainer"] {{padding-left: 16px; padding-right: 16px;}}
  .sheet.wide thead {{display: none;}}
  .sheet.wide tr {{display: block; border-bottom: 1px solid {c.rule}; padding: 8px 0;}}
  .sheet.wide td {{display: inline; padding: 0 8px 0 0; border: 0 !important; white-space: normal;}}
  .sheet.wide td.b {{display: block;}}
  .sheet.wide td:empty {{display: none;}}
  .strip {{width: 140px;}}
  .sheet.wide td:not(.b):not([data-head=""])::before {{content: attr(data-head) " "; color: {c.mute}; font-size: 13px;}}
  .pair th, .pair td {{display: block; padding: 0;}}
  .pair td {{margin-bottom: 8px;}}
  a, button {{min-height: 24px;}}
}}
</style>"""
    )
