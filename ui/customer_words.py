"""Words of the customer page: every sentence from one sheet for each language, every number made in one place."""

from __future__ import annotations

import datetime
import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from graph.errors import UnknownName
from graph.model import Fuel
from graph.report import Interval
from ui.format import MINUS, THIN

LANGUAGES = ("en", "de")
#: Powers whose interval is wider than this are printed in steps of STEP [W].
WIDE = 20.0e3
STEP = 5.0
#: Above this share of ethanol by volume a fuel is called by it [1].
ETHANOL = 0.20
SIGNS: Mapping[str, str] = {"EUR": "€", "GBP": "£", "USD": "$"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """Sentences of one language and the numbers put into them.

    Parameters
    ----------
    sheet : mapping
        The language's sheet as read.
    """

    sheet: Mapping[str, Any]

    @property
    def language(self) -> str:
        """Code of the language."""
        return str(self.sheet["language"])

    def say(self, key: str, **values: str) -> str:
        """A sentence with its places filled; the values are taken literally."""
        return str(self.sheet["say"][key]).format(**values)

    def slot(self, kind: str, name: str | None = None) -> str:
        """The customer's word for a place; its own name where the sheet has none."""
        return str(self.sheet["slot"].get(kind, name or kind))

    def skip(self, kind: str) -> str:
        """What happens where the place is too narrow."""
        return str(self.sheet["skip"].get(kind, ""))

    def look(self, key: str) -> str | None:
        """An inspection in the customer's words."""
        found = self.sheet["look"].get(key)
        return None if found is None else str(found)

    def gate(self, key: str) -> str:
        """What stands between a car and the rollers, in the customer's words."""
        return str(self.sheet["gate"].get(key, key))

    def finding(self, key: str, text: str) -> str:
        """Something that may be found, in the customer's words; its own text where the sheet has none."""
        return str(self.sheet["finding"].get(key, text))

    def terms(self) -> Mapping[str, str]:
        """Short words that a sheet may hold, and what they mean."""
        return {str(k): str(v) for k, v in self.sheet["term"].items()}

    def care(self, code: str) -> str:
        """One word for a standing caution."""
        return str(self.sheet["care"].get(code, code))

    def caution(self, code: str, text: str) -> str:
        """A standing caution; its own text where the sheet has none."""
        return str(self.sheet.get("caution", {}).get(code, text))

    def number(self, value: float, digits: int = 0) -> str:
        """A number with thin spaces in the thousands, a true minus and the language's decimal mark."""
        text = f"{value:,.{digits}f}".replace(",", THIN).replace("-", MINUS)
        return text.replace(".", str(self.sheet["decimal"]))

    def power(self, power: float, interval: Interval | None) -> str:
        """A power [W] in kW: whole where its interval is narrow, in steps of 5 where it is wider than 20 kW."""
        return self.number(kilowatts(power, interval))

    def span(self, interval: Interval) -> str:
        """An interval of powers [W] in kW, without its unit."""
        low = self.power(interval.low, interval)
        if interval.high is None:
            return self.say("from", low=low)
        return self.say("to", low=low, high=self.power(interval.high, interval))

    def sign(self, currency: str) -> str:
        """The sign of a currency, or its code."""
        return SIGNS.get(currency, currency)

    def money(self, amount: float, currency: str, step: float = 1.0) -> str:
        """An amount, rounded to a step [currency]."""
        return f"{self.number(round(amount / step) * step)}{THIN}{self.sign(currency)}"

    def date(self, day: datetime.date) -> str:
        """A date with its month as a word."""
        return self.say("date", day=str(day.day), month=str(self.sheet["months"][day.month - 1]), year=str(day.year))

    def fuel(self, fuel: Fuel, *, short: bool = False) -> str:
        """A fuel as a driver calls it."""
        if fuel.ethanol > ETHANOL:
            return self.say("fuel_ethanol" if short else "ethanol", share=self.number(fuel.ethanol * 100.0))
        return self.say("fuel_octane" if short else "octane", octane=self.number(fuel.research_octane))

    def duration(self, seconds: float) -> str:
        """A time in seconds below two minutes, in minutes above."""
        if seconds < 120.0:
            return self.say("seconds", value=self.number(seconds))
        return self.say("minutes", value=self.number(seconds / 60.0))

    def chance(self, share: float) -> str:
        """A probability [1] as so many in a hundred, never nought and never all."""
        if share < 0.05:
            return self.say("hardly", value="5")
        if share > 0.95:
            return self.say("at_least", value="95")
        return self.say("times", value=self.number(round(share * 20.0) * 5.0))


def kilowatts(power: float, interval: Interval | None) -> float:
    """A power [W] in kW, with no more digits than its interval supports.

    Parameters
    ----------
    power : float
        [W]
    interval : Interval or None
        [W]; None, or one without an upper end, counts as wide.

    Returns
    -------
    float
        [kW], whole, in steps of 5 where the interval is wider than 20 kW; half a step goes up.
    """
    wide = interval is None or interval.high is None or interval.high - interval.low > WIDE
    step = STEP if wide else 1.0
    return math.floor(power / 1e3 / step + 0.5) * step


@cache
def words(language: str) -> Words:
    """Sentences of a language.

    Parameters
    ----------
    language : str
        One of :data:`LANGUAGES`.

    Returns
    -------
    Words
        Its sheet.

    Raises
    ------
    UnknownName
        No such language.
    """
    if language not in LANGUAGES:
        raise UnknownName("language", language, list(LANGUAGES))
    path = Path(__file__).with_name(f"words_{language}.toml")
    return Words(sheet=tomllib.loads(path.read_text(encoding="utf-8")))
