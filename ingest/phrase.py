"""Taking a cell's text apart: number or range, unit text, condition behind ``@``, and the words around them."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

from graph.quantity import Quantity
from ingest.number import Decimal, take_number
from ingest.problem import UnreadableValue
from ingest.spelling import normalise_text
from ingest.unit_list import EXAMPLE, measured_by, quantity_phrase

_CONDITION = re.compile(r"@|(?<=[^\d\s])\s+(?:at|bei)\s+(?=\d)", re.IGNORECASE)
_LEADING = (
    ("at least", re.compile(r"(?:>\s?=?|≥|⩾|(?:at least|min\.|min|mindestens|not less than)(?=[\s\d]))\s*", re.I)),
    ("at most", re.compile(r"(?:<\s?=?|≤|⩽|(?:up to|at most|max\.|max|bis zu|bis|no more than)(?=[\s\d]))\s*", re.I)),
    ("approximately", re.compile(r"(?:[~≈∼]|(?:ca\.|ca|circa|approx\.|approx|about|etwa)(?=[\s\d]))\s*", re.I)),
)
_TRAILING = (
    ("at least", re.compile(r"\s*\+$|\s+(?:min\.?|minimum)$", re.I)),
    ("at most", re.compile(r"\s+(?:max\.?|maximum)$", re.I)),
)
_DOUBT = re.compile(r"\s*(?:\(\?\)|\?)+$")
_RANGE = re.compile(r"(?P<left>\s*)(?P<sign>-|–|—|/|\.{2,3}|…|to\b|bis\b)(?P<right>\s*)(?=[+-]?[.,]?[\d½¼¾])", re.I)
_COUNT_NOTE = re.compile(r"(?P<unit>[^()]*)\((?P<note>[^\W\d][^()\d]*)\)")
_MONTHS = "(?:jan|feb|mar|mär|apr|may|mai|jun|jul|aug|sep|oct|okt|nov|dec|dez)[a-zä]*"
_DATE = re.compile(
    rf"\b\d{{1,2}}\.?[ -]?{_MONTHS}\b|\b{_MONTHS}\.?[ -]\d{{1,4}}\b"
    r"|^\d{4}-\d{1,2}-\d{1,2}\b|^\d{1,2}(?P<dot>[./-])\d{1,2}(?P=dot)(?:\d{4}|\d{2})?(?=$|\s)|^\d{1,2}[/-](?:19|20)\d\d\b",
    re.I,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Phrase:
    """A text taken apart, with nothing converted.

    Parameters
    ----------
    first : float
        The number, or the lower end of a range [unit as written].
    second : float or None
        The upper end of a range [unit as written].
    unit : str
        The text of the unit with its reference and basis; may be empty.
    condition : str
        What stands behind ``@``, unread.
    qualifiers : tuple of str
        Of ``approximately``, ``at least``, ``at most``, ``range``, ``doubtful``.
    """

    first: float
    second: float | None
    unit: str
    condition: str
    qualifiers: tuple[str, ...]


@lru_cache(maxsize=8192)  # a book repeats its words
def take_apart(text: str, quantity: Quantity, decimal: Decimal | None = None) -> Phrase:
    """Take a cell's text apart, or refuse it.

    Parameters
    ----------
    text : str
        The cell's text.
    quantity : Quantity
        What belongs in the cell.
    decimal : {'.', ','} or None
        The sheet's declared decimal sign.

    Returns
    -------
    Phrase
        Numbers, unit text, condition and qualifiers.

    Raises
    ------
    UnreadableValue
        Nothing, a date, words, a number with two readings, a range that is none, contradicting bounds.

    Examples
    --------
    >>> take_apart("ca. 400-450 hp", Quantity.POWER).qualifiers
    ('approximately', 'range')
    """
    expected = quantity_phrase(quantity)
    example = EXAMPLE[quantity]
    shown = repr(text.strip())
    main, condition = _split_condition(normalise_text(text), shown, expected)
    if not main:
        raise UnreadableValue("nothing" if not condition else f"{shown} with no number before '@'", expected,
                              f"write a value as in {example}")  # fmt: skip
    if _DATE.search(main):
        raise UnreadableValue(
            f"{shown}, a date", expected, f"format the cell as text and write the value, such as {example}"
        )
    if not re.search(r"[0-9½¼¾]", main):
        raise UnreadableValue(
            f"{shown}, words without a number",
            expected,
            f"write a value as in {example}, or leave the cell empty if it is not known",
        )
    qualifiers: list[str] = []
    if match := _DOUBT.search(main):
        qualifiers.append("doubtful")
        main = main[: match.start()]
    main = _take_leading(main, qualifiers)
    second: float | None = None
    try:
        first, rest = take_number(main, expected, decimal)
        if match := _RANGE.match(rest):
            behind = rest[match.end() :]
            second, rest = take_number(behind, expected, decimal)
            _check_range(first, second, main, match, behind, expected)
            qualifiers.append("range")
    except UnreadableValue as error:
        found = error.found if error.found.startswith(shown) else f"{error.found}, in {shown}"
        raise UnreadableValue(found, expected, error.remedy) from None
    if rest.startswith("+"):
        qualifiers.append("at least")
        rest = rest[1:]
    rest = rest.strip()
    if quantity is Quantity.COUNT and not condition and (note := _COUNT_NOTE.fullmatch(rest)):
        rest, condition = note["unit"].strip(), note["note"].strip()
    rest = _take_trailing(rest, qualifiers)
    bounds = [word for word in qualifiers if word in ("at least", "at most", "range")]
    if len(bounds) > 1:
        raise UnreadableValue(
            f"{shown} with {' and '.join(bounds)} at once", expected, "state one bound, or a range as 400-450"
        )
    return Phrase(first=first, second=second, unit=rest, condition=condition, qualifiers=tuple(qualifiers))


def _split_condition(main: str, shown: str, expected: str) -> tuple[str, str]:
    """Return the text before the first ``@`` and the text behind it."""
    at = _CONDITION.search(main)
    if at is None:
        return main, ""
    condition = main[at.end() :].strip()
    if not condition:
        raise UnreadableValue(
            f"{shown} with nothing behind '@'", expected, "write the condition behind '@' or remove the '@'"
        )
    return main[: at.start()].strip(), condition


def _take_leading(main: str, qualifiers: list[str]) -> str:
    """Return the text without the words before its number; note what they say."""
    while True:
        for name, pattern in _LEADING:
            match = pattern.match(main)
            if match is not None and name not in qualifiers:
                qualifiers.append(name)
                main = main[match.end() :]
                break
        else:
            return main


def _take_trailing(rest: str, qualifiers: list[str]) -> str:
    """Return the unit text without the bounds behind it; note what they say."""
    if measured_by(rest):
        return rest  # "min" alone is minutes, "x" pieces
    for name, pattern in _TRAILING:
        match = pattern.search(rest)
        if match is not None:
            qualifiers.append(name)
            return rest[: match.start()].strip()
    return rest


def _check_range(first: float, second: float, main: str, match: re.Match[str], behind: str, expected: str) -> None:
    """Refuse two numbers that are not clearly a rising range."""
    remedy = "write one number, or a rising range as 400-450"
    sign = match["sign"]
    if bool(match["left"]) != bool(match["right"]) and sign in "-–—":
        raise UnreadableValue(f"{main!r}, a range or a negative number", expected, remedy)
    if behind.startswith(("+", "-")) and sign in "-–—/":
        raise UnreadableValue(f"{main!r} with two signs in a row", expected, "write the range as -5 to 10")
    if sign == "/" and (second <= 31 or second in (32, 64)) and re.match(r"[+-]?\d+\s*/\s*\d+(?![\d.,])", main):
        raise UnreadableValue(
            f"{main!r}, a fraction, a date or a range", expected, "write a fraction as 0.5 and a range as 2-3"
        )
    if second <= first:
        raise UnreadableValue(f"{main!r}, two numbers that do not rise", expected, remedy)


def names_condition(text: str) -> bool:
    """Return whether a text goes on with the condition of a rating.

    Parameters
    ----------
    text : str
        Such as a unit.

    Returns
    -------
    bool
        True for ``L/h @ 5.5 bar`` and ``l/h bei 5,5 bar``.

    Examples
    --------
    >>> names_condition("l/h bei 5,5 bar"), names_condition("L/h")
    (True, False)
    """
    return _CONDITION.search(text) is not None
