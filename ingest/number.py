"""Reading a number as people type it; what has two readings is asked back, never guessed.

Decimal comma and decimal point are both read. A single comma or point before exactly three digits is a decimal
sign in one country and a thousands separator in the next: only a declared decimal sign settles it.
"""

from __future__ import annotations

import math
import re
from typing import Literal

from ingest.problem import UnreadableValue
from ingest.spelling import SUPERSCRIPT

Decimal = Literal[".", ","]

_VULGAR = {"½": 0.5, "¼": 0.25, "¾": 0.75}

_NUMBER = re.compile(
    r"""(?P<sign>[+-][ \u00a0]?)?
    (?:
        (?P<whole>[0-9]+)?[ \u00a0]?(?P<vulgar>[½¼¾])
      | (?P<grouped>[0-9]{1,3}(?:[ \u00a0'][0-9]{3})+)(?![0-9])(?P<rest>[.,][0-9]+)?
      | (?P<plain>[0-9]+(?:[.,][0-9]+)*|[.,][0-9]+)
        (?:[eE](?P<exponent>[+-]?[0-9]+)
          |[ \u00a0]*[x×·*][ \u00a0]*10(?:\^\(?(?P<power>[+-]?[0-9]+)\)?|(?P<raised>[⁻⁺]?[⁰¹²³⁴⁵⁶⁷⁸⁹]+)))?
    )""",
    re.VERBOSE,
)


def take_number(text: str, expected: str, decimal: Decimal | None = None) -> tuple[float, str]:
    """Read the number at the start of a text.

    Parameters
    ----------
    text : str
        Text that has been through :func:`ingest.spelling.normalise_text`.
    expected : str
        What should stand there, for the error.
    decimal : {'.', ','} or None
        The sheet's declared decimal sign. It decides only what is ambiguous otherwise.

    Returns
    -------
    value : float
        The number [unit as written].
    rest : str
        The text behind the number, not stripped.

    Raises
    ------
    UnreadableValue
        When there is no number, or one with two readings.

    Examples
    --------
    >>> take_number("1.234,5 kW", "a power")
    (1234.5, ' kW')
    >>> take_number("1,200", "a power")
    Traceback (most recent call last):
        ...
    ingest.problem.UnreadableValue: found '1,200', which is 1200 or 1.2, expected a power; write it without a \
thousands separator, or declare the sheet's decimal sign
    """
    match = _NUMBER.match(text)
    if match is None:
        raise UnreadableValue(f"{text!r}", expected, "write a number first, then its unit")
    shown = match[0].strip()
    if match["vulgar"]:
        whole = match["whole"] or "0"
        _refuse_leading_zero(whole, shown, expected)
        value = int(whole) + _VULGAR[match["vulgar"]]
    elif match["grouped"]:
        value = _grouped(match["grouped"], match["rest"] or "", shown, expected)
    elif exponent := match["exponent"] or match["power"] or match["raised"]:
        if len(re.findall("[.,]", match["plain"])) > 1:
            raise UnreadableValue(f"{shown!r}", expected, "write a power of ten with one decimal sign")
        value = float(f"{match['plain'].replace(',', '.')}e{exponent.translate(SUPERSCRIPT)}")
    else:
        value = _plain(match["plain"], decimal, shown, expected)
    if not math.isfinite(value):
        raise UnreadableValue(f"{shown!r}, beyond every number", expected, "correct the power of ten")
    if (match["sign"] or "").startswith("-"):
        value = -value
    return value, text[match.end() :]


def _grouped(groups: str, rest: str, shown: str, expected: str) -> float:
    """Return a number whose thousands stand apart by spaces or apostrophes."""
    parts = re.split(r"[ \u00a0']", groups)
    _refuse_leading_zero(parts[0], shown, expected)
    # "400 450" with an ordinary space may be two numbers; "120 000" cannot be, no number starts with 0
    if " " in groups and (len(parts[0]) == 3 and not parts[1].startswith("0")):
        raise UnreadableValue(
            f"{shown!r}, one number with a thousands space or two numbers",
            expected,
            "write one number without spaces, or a range as 400-450",
        )
    if len(set(re.findall(r"[ \u00a0']", groups))) > 1:
        raise UnreadableValue(f"{shown!r} with mixed separators", expected, "write one number without spaces")
    return float("".join(parts) + rest.replace(",", "."))


def _plain(body: str, decimal: Decimal | None, shown: str, expected: str) -> float:
    """Return a number made of digits, commas and points."""
    signs = re.findall("[.,]", body)
    parts = re.split("[.,]", body)
    _refuse_leading_zero(parts[0], shown, expected)
    if not signs:
        return float(body)
    groups_fit = 1 <= len(parts[0]) <= 3 and parts[0] != "0" and all(len(part) == 3 for part in parts[1:-1])
    if len(signs) == 1:
        as_decimal = float(f"{parts[0] or '0'}.{parts[1]}")
        if not (groups_fit and len(parts[1]) == 3):
            return as_decimal
        as_thousands = float(parts[0] + parts[1])
        if decimal is None:
            raise UnreadableValue(
                f"{shown!r}, which is {as_thousands:g} or {as_decimal:g}",
                expected,
                "write it without a thousands separator, or declare the sheet's decimal sign",
            )
        return as_decimal if signs[0] == decimal else as_thousands
    if groups_fit and len(set(signs)) == 1 and len(parts[-1]) == 3 and signs[0] != decimal:
        return float("".join(parts))
    if groups_fit and len(set(signs[:-1])) == 1 and signs[-1] != signs[0]:
        return float("".join(parts[:-1]) + "." + parts[-1])
    raise UnreadableValue(
        f"{shown!r}, whose commas and points make no number", expected, "write it with one decimal sign and no other"
    )


def _refuse_leading_zero(whole: str, shown: str, expected: str) -> None:
    """Refuse ``05``: part of a date or of a part number, not of a quantity."""
    if len(whole) > 1 and whole.startswith("0"):
        raise UnreadableValue(
            f"{shown!r}, which starts with a zero like a date or a part number",
            expected,
            "write the number without the leading zero",
        )
