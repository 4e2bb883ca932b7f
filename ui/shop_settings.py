"""What a shop prints on its sheets: name, rates, and the rules that it has entered with their sources."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from pathlib import Path
from types import MappingProxyType

from graph.errors import UsageError

RULES = ("law", "insurance", "warranty")
_TEXT = ("name", "address", "currency")


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """A rule that the shop states, and where it comes from."""

    text: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ShopSettings:
    """A shop as its sheets show it.

    Parameters
    ----------
    name, address : str
        As printed.
    currency : str
        ISO code.
    tax : float
        Share added to the net price [1].
    hourly_rate : float
        Net price of an hour of labour [currency per 3600 s of labour].
    overrun : float
        Most that a bill may exceed its offer without a new signature [1].
    deposit : float
        Share of the total due with the order [1].
    valid_days : int
        Days for which prices hold.
    price_rise : float
        Most by which parts prices may rise after that [1].
    oil_distance, check_distance : float or None
        Distance between oil changes, and to the first check [km]; None prints nothing.
    warm_oil : float or None
        Oil temperature from which full power may be used [degC].
    rules : mapping of str to Rule
        Of :data:`RULES`; what is missing is printed as not checked.
    """

    name: str
    address: str = ""
    currency: str = "EUR"
    tax: float = 0.20
    hourly_rate: float = 95.0
    overrun: float = 0.10
    deposit: float = 0.30
    valid_days: int = 30
    price_rise: float = 0.05
    oil_distance: float | None = None
    check_distance: float | None = None
    warm_oil: float | None = None
    rules: Mapping[str, Rule] = field(default_factory=lambda: MappingProxyType({}))


def read_shop(path: Path) -> ShopSettings:
    """Settings of a shop from a TOML file.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    ShopSettings
        As entered; what the file leaves out has its default.

    Raises
    ------
    UsageError
        The file cannot be read, or an entry is unknown, of the wrong kind or out of range.
    """
    try:
        read = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise UsageError(f"{path}: the shop's settings cannot be read: {error}") from error
    known = {f.name for f in fields(ShopSettings)}
    if "name" not in read:
        raise UsageError(f'{path}: found no name of the shop; add a line such as name = "My Workshop"')
    for key, value in read.items():
        if key not in known:
            raise UsageError(f"{path}: found {key!r}; known are {', '.join(sorted(known))}")
        if key in _TEXT:
            if not isinstance(value, str):
                raise UsageError(f"{path}: {key}: found {value!r}; expected is a text in quotes")
        elif key != "rules" and (isinstance(value, bool) or not isinstance(value, int | float) or not 0 <= value < 1e6):
            raise UsageError(f"{path}: {key}: found {value!r}; expected is a number that is not negative")
        if key in ("tax", "overrun", "deposit", "price_rise") and value > 1:
            raise UsageError(f"{path}: {key}: found {value!r}; expected is a share, such as 0.20 for 20 %")
    rules = read.pop("rules", {})
    return ShopSettings(**read, rules=MappingProxyType(_rules(path, rules)))


def _rules(path: Path, read: object) -> dict[str, Rule]:
    if not isinstance(read, dict):
        raise UsageError(f"{path}: rules: expected is a table with {', '.join(RULES)}")
    found = {}
    for name, entry in read.items():
        if name not in RULES:
            raise UsageError(f"{path}: rules: found {name!r}; known are {', '.join(RULES)}")
        if not isinstance(entry, dict) or not all(
            isinstance(entry.get(k), str) and entry[k] for k in ("text", "source")
        ):
            raise UsageError(f"{path}: rules.{name}: a rule needs a text and its source, both in quotes")
        found[name] = Rule(text=entry["text"], source=entry["source"])
    return found
