"""Bare numbers among the options of a command: finite, within bounds, and refused in one sentence."""

from __future__ import annotations

import math
import re
from typing import Any

import click


class Amount(click.ParamType[float]):
    """A number without a unit, such as an amount of money, days, or per cent.

    Parameters
    ----------
    low, high : float
        What is allowed.
    """

    name = "number"

    def __init__(self, low: float = 0.0, high: float = 1.0e9) -> None:
        self.low, self.high = low, high

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """The number, with a point or a comma before one or two decimals, or a refusal."""
        text = str(value).strip()
        try:
            number = float(text.replace(",", ".") if re.fullmatch(r"[+-]?\d+,\d{1,2}", text) else text)
        except ValueError:
            number = math.nan
        if not self.low <= number <= self.high:
            self.fail(
                f"found {str(value)[:60]!r}; expected is a number from {self.low:g} to {self.high:g}, without a unit"
                " or a thousands separator",
                param,
                ctx,
            )
        return number
