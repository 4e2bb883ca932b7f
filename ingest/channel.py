"""Column heads of logs to channels: English and German spellings, targets, cylinders, units.

The spellings stand in ``channel.csv`` beside this module, so that a new one needs no programming.
"""

from __future__ import annotations

import csv
import re
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from graph.quantity import Quantity
from ingest.vocabulary import plain_word

TABLE = Path(__file__).with_name("channel.csv")
TARGET_WORDS = frozenset(
    [
        "soll",
        "sollwert",
        "target",
        "tgt",
        "tar",
        "des",
        "desired",
        "req",
        "request",
        "requested",
        "sp",
        "setpoint",
        "spec",
        "cmd",
        "command",
        "vorgabe",
        "wunsch",
    ]
)
ACTUAL_WORDS = frozenset(
    [
        "ist",
        "istwert",
        "act",
        "actual",
        "measured",
        "meas",
        "gemessen",
        "min",
        "max",
        "worst",
        "peak",
        "at",
        "mittel",
        "mean",
        "avg",
    ]
)
#: Channels that have a target.
AIMED = {"boost": "boost target", "rail pressure": "rail target", "lambda": "lambda target"}
_CYLINDER = re.compile(r"(?:\b(?:cyl|cylinder|zyl|zylinder)\.?\s*)?#?(\d{1,2})$", re.I)
_BRACKETS = re.compile(r"[\[(]([^\[\]()]*)[\])]\s*$")


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelWord:
    """One line of the table of channels."""

    channel: str
    quantity: Quantity | None
    bare: str
    low: float
    high: float
    per_cylinder: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Head:
    """What a column's head says.

    Parameters
    ----------
    word : ChannelWord
        The channel.
    name : str
        The channel's name with target and cylinder resolved.
    unit : str
        As written; empty where none is.
    """

    word: ChannelWord
    name: str
    unit: str


def _key(text: str) -> str:
    return re.sub(r"[^a-z0-9%λ]", "", plain_word(text))


@cache
def channel_words() -> dict[str, ChannelWord]:
    """The table of channels by key of spelling."""
    quantities = {q.label: q for q in Quantity}
    found: dict[str, ChannelWord] = {}
    with TABLE.open(encoding="utf-8", newline="") as lines:
        for row in csv.DictReader(lines):
            word = ChannelWord(
                channel=row["channel"],
                quantity=quantities.get(row["quantity"]),
                bare=row["bare unit"],
                low=float(row["lowest SI"] or "-inf"),
                high=float(row["highest SI"] or "inf"),
                per_cylinder=row["per cylinder"] == "yes",
            )
            for name in (row["channel"], *row["names"].split(",")):
                found.setdefault(_key(name), word)
    return found


def split_unit(text: str) -> tuple[str, str]:
    """Part a head into its name and the unit in brackets behind it.

    Parameters
    ----------
    text : str
        As written.

    Returns
    -------
    name, unit : str
        The unit is empty where there is none.

    Examples
    --------
    >>> split_unit("Zeit [s]")
    ('Zeit', 's')
    """
    match = _BRACKETS.search(text.strip())
    if match is None:
        return text.strip(), ""
    return text.strip()[: match.start()].strip(), match[1].strip()


def read_head(text: str) -> Head | None:
    """Find the channel of a column.

    Parameters
    ----------
    text : str
        The column's head as written, a unit in brackets allowed.

    Returns
    -------
    Head or None
        None where no spelling fits.

    Examples
    --------
    >>> read_head("HDP_soll [bar]").name
    'rail target'
    >>> read_head("KR3").name
    'spark correction 3'
    """
    name, unit = split_unit(text)
    if (name, unit) == ("AFR", "E0"):
        unit = "afr"
    spaced = re.sub(r"(?<=[a-zäöü])(?=[A-Z])|(?<=[a-zA-Z]{3})(?=SP$)", " ", name)
    tokens = [t for t in re.split(r"[\s_.,/:-]+", plain_word(spaced)) if t]
    aimed = any(t in TARGET_WORDS for t in tokens)
    plain = [t for t in tokens if t not in TARGET_WORDS]
    bare = [t for t in plain if t not in ACTUAL_WORDS]
    words = channel_words()
    for listed in (plain, bare):
        word = words.get(_key("".join(listed)))
        if word is not None:
            return _resolved(word, aimed, None, unit)
    match = _CYLINDER.search(" ".join(bare))
    if match is not None:
        stem = " ".join(bare)[: match.start()].strip()
        word = words.get(_key(stem))
        if word is not None and word.per_cylinder:
            return _resolved(word, aimed, int(match[1]), unit)
    return None


def _resolved(word: ChannelWord, aimed: bool, cylinder: int | None, unit: str) -> Head | None:
    name = word.channel
    if aimed:
        if name not in AIMED:
            return None if name not in ("tank duty", "throttle") else Head(word=word, name=name, unit=unit)
        name = AIMED[name]
    if cylinder is not None:
        name = f"{name} {cylinder}"
    return Head(word=word, name=name, unit=unit)
