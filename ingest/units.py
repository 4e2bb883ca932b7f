"""Reading quantities as a workshop writes them, and writing them back.

The grammar is closed: ``[qualifier] number[-number] unit [abs|gauge] [wheel|crank] [?] [@ condition]``. Whatever does
not fit is refused with a remedy. Gauge or absolute is a reference and not part of the unit; wheel or crank likewise.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, time, timedelta
from typing import Literal

from graph.quantity import Quantity
from ingest.conversion import convert_expression
from ingest.number import Decimal, take_number
from ingest.problem import UnreadableValue
from ingest.spelling import normalise_text
from ingest.unit_list import EXAMPLE, SI, Unit, find_unit, measured_by, quantity_phrase

Reference = Literal["absolute", "gauge"]
Basis = Literal["wheel", "crank"]

_PRESSURES = (Quantity.ABSOLUTE_PRESSURE, Quantity.GAUGE_PRESSURE, Quantity.PRESSURE_DIFFERENCE)
_DEMANDED = {
    Quantity.ABSOLUTE_PRESSURE: "absolute",
    Quantity.GAUGE_PRESSURE: "gauge",
    Quantity.PRESSURE_DIFFERENCE: "difference",
}
_BARE = (Quantity.PRESSURE_RATIO, Quantity.OCTANE_NUMBER, Quantity.COUNT)
_NEVER_NEGATIVE = (Quantity.ABSOLUTE_PRESSURE, Quantity.TEMPERATURE, Quantity.COUNT)

_CONDITION = re.compile(r"@|(?<=[^\d\s])\s+(?:at|bei)\s+(?=\d)", re.IGNORECASE)
_LEADING = (
    ("at least", re.compile(r"(?:>\s?=?|≥|⩾|(?:at least|min\.|min|mindestens|not less than)(?=[\s\d]))\s*", re.I)),
    (
        "at most",
        re.compile(r"(?:<\s?=?|≤|⩽|(?:up to|at most|max\.|max|bis zu|bis|maximal|no more than)(?=[\s\d]))\s*", re.I),
    ),
    ("approximately", re.compile(r"(?:[~≈∼]|(?:ca\.|ca|circa|approx\.|approx|about|etwa)(?=[\s\d]))\s*", re.I)),
)
_TRAILING = {"at least": re.compile(r"(?:\+|\s(?:min|minimum))$", re.I), "at most": re.compile(r"\s(?:max|maximum)\.?$", re.I)}
_RANGE = re.compile(r"(\s*)(-|–|—|/|\.{2,3}|…|to\b|bis\b)(\s*)(?=[+-]?[.,]?[\d½¼¾])", re.I)
_BASIS = re.compile(
    r"\s*\(?(?:(?:at\s+(?:the\s+)?)?(?P<wheel>wheels?)|(?:at\s+(?:the\s+)?)?(?P<crank>crank|crankshaft|flywheel))\)?$", re.I
)
_REFERENCE = re.compile(
    r"(?P<unit>.+?)[\s\u00a0]*(?P<open>\(?)"
    r"(?:(?P<absolute>absolute|absolut|abs\.|abs|a)|(?P<gauge>gauge|gage|relative|rel\.|rel|g|ü|überdruck)"
    r"|(?P<difference>differential|difference|diff\.|diff))(?P<close>\)?)",
    re.I,
)
_MONTH = re.compile(
    r"\b\d{1,2}\.?[ -]?(?:jan|feb|mar|mär|apr|may|mai|jun|jul|aug|sep|oct|okt|nov|dec|dez)[a-zä]*\b\.?"
    r"|\b(?:jan|feb|mar|mär|apr|may|mai|jun|jul|aug|sep|oct|okt|nov|dec|dez)[a-zä]*\.?[ -]\d{1,4}\b",
    re.I,
)
_DATE = re.compile(r"\d{4}-\d{1,2}-\d{1,2}\b|\d{1,2}([./-])\d{1,2}\1(?:\d{4}|\d{2})?(?:$|\s)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Measure:
    """A quantity as read from a text.

    Parameters
    ----------
    quantity : Quantity
        What is measured.
    value : float
        The number [SI unit of the quantity]; the middle of a range, the bound itself for "at least" and "at most".
    low, high : float or None
        The bounds that the text states [SI unit of the quantity]; both for a range, one for "at least" and "at most".
    reference : {'absolute', 'gauge'} or None
        What the text or the declared unit says about a pressure; None when neither does.
    basis : {'wheel', 'crank'} or None
        Where a power or torque was measured, when the text says so.
    text : str
        The text as written.
    unit : str
        Label of the unit found in the text, or else declared.
    declared : bool
        True where the unit is the declared one.
    condition : str
        What stands behind ``@``, unread; empty when nothing does.
    qualifiers : tuple of str
        Of ``approximately``, ``at least``, ``at most``, ``range``, ``doubtful``.
    """

    quantity: Quantity
    value: float
    low: float | None = None
    high: float | None = None
    reference: Reference | None = None
    basis: Basis | None = None
    text: str
    unit: str
    declared: bool = False
    condition: str = ""
    qualifiers: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitWords:
    """A unit with the words that may stand behind it.

    Parameters
    ----------
    unit : Unit
        The unit of the closed list.
    reference : {'absolute', 'gauge'} or None
        What is said about a pressure.
    basis : {'wheel', 'crank'} or None
        Where a power or torque was measured.
    """

    unit: Unit
    reference: Reference | None = None
    basis: Basis | None = None


def read_unit(text: str, quantity: Quantity) -> UnitWords:
    """Read a unit that stands alone, as in a column's header.

    Parameters
    ----------
    text : str
        Such as ``bar g``, ``[L/h]``, ``hp wheel``.
    quantity : Quantity
        The quantity it must measure.

    Returns
    -------
    UnitWords
        The unit, its reference and its basis.

    Raises
    ------
    UnreadableValue
        Unknown unit, unit of another quantity, or a reference that contradicts the quantity.

    Examples
    --------
    >>> read_unit("bar g", Quantity.GAUGE_PRESSURE).reference
    'gauge'
    """
    plain = normalise_text(text)
    if plain.startswith("[") and plain.endswith("]"):
        plain = plain[1:-1].strip()
    basis: Basis | None = None
    if quantity in (Quantity.POWER, Quantity.TORQUE):
        if plain.casefold() == "whp":
            plain, basis = "hp", "wheel"
        elif match := _BASIS.search(plain):
            plain, basis = plain[: match.start()], "wheel" if match["wheel"] else "crank"
    unit = find_unit(plain, quantity)
    stated: str | None = None
    if unit is None and quantity in _PRESSURES:
        match = _REFERENCE.fullmatch(plain)
        if match is not None and bool(match["open"]) == bool(match["close"]):
            unit = find_unit(match["unit"], quantity)
            stated = next(name for name in ("absolute", "gauge", "difference") if match[name])
    if unit is None:
        others = [other.label for other in measured_by(plain)]
        found = f"{text.strip()!r}, " + (f"a unit of {' or '.join(others)}" if others else "which is no known unit")
        raise UnreadableValue(found, quantity_phrase(quantity), f"write the unit as in {EXAMPLE[quantity]}")
    if stated is not None and stated != _DEMANDED[quantity]:
        raise UnreadableValue(
            f"{text.strip()!r}, which says {stated}",
            quantity_phrase(quantity),
            f"state the {quantity.label}, or correct the reference; the two differ by the air pressure of the day",
        )
    reference: Reference | None = "absolute" if stated == "absolute" else "gauge" if stated == "gauge" else None
    return UnitWords(unit=unit, reference=reference, basis=basis)


def parse_quantity(
    text: str, quantity: Quantity, *, declared_unit: str | None = None, decimal: Decimal | None = None
) -> Measure:
    """Read a quantity from a cell's text, or refuse with a remedy.

    Parameters
    ----------
    text : str
        The cell's text.
    quantity : Quantity
        What belongs in the cell.
    declared_unit : str or None
        The unit that the column's header states, with ``abs`` or ``gauge`` where it says so; a unit in the text wins.
    decimal : {'.', ','} or None
        The sheet's declared decimal sign; it decides only numbers with two readings, such as ``1,200``.

    Returns
    -------
    Measure
        Values in the SI unit of the quantity.

    Raises
    ------
    UnreadableValue
        When the text has no certain reading.

    Examples
    --------
    >>> parse_quantity("1.234,5 kW", Quantity.POWER).value
    1234500.0
    >>> measure = parse_quantity("16,5g/s@100", Quantity.MASS_FLOW)
    >>> measure.value, measure.condition
    (0.0165, '100')
    """
    expected = quantity_phrase(quantity)

    def refuse(reason: str, remedy: str) -> UnreadableValue:
        return UnreadableValue(f"{text.strip()!r}{reason}", expected, remedy)

    main, condition, at = normalise_text(text), "", _CONDITION.search(normalise_text(text))
    if at is not None:
        main, condition = main[: at.start()].strip(), main[at.end() :].strip()
        if not condition:
            raise refuse(" with nothing behind '@'", "write the condition behind '@' or remove the '@'")
    if not main:
        raise UnreadableValue("nothing", expected, f"write {EXAMPLE[quantity]}")
    if _MONTH.search(main) or _DATE.match(main):
        raise refuse(", a date", f"write the number itself, such as {EXAMPLE[quantity]}, in a cell formatted as text")
    if not re.search(r"[\d½¼¾]", main):
        raise refuse(", words without a number", f"write {EXAMPLE[quantity]}, or leave the cell empty if it is not known")
    qualifiers: list[str] = []
    if main.endswith(("(?)", "?")):
        qualifiers.append("doubtful")
        main = re.sub(r"\s*(?:\(\?\)|\?+)$", "", main)
    main = _take_leading(main, qualifiers)

    try:
        first, rest = take_number(main, expected, decimal)
        second: float | None = None
        if rest.startswith("+"):
            qualifiers.append("at least")
            rest = rest[1:]
        elif match := _RANGE.match(rest):
            second, rest = take_number(rest[match.end() :], expected, decimal)
            _check_range(first, second, main, match)
            qualifiers.append("range")
    except UnreadableValue as error:
        reason = "" if error.found == repr(text.strip()) else f", in which {error.found}"
        raise refuse(reason if not error.found.startswith(repr(text.strip())) else error.found[len(repr(text.strip())) :],
                     error.remedy) from None
    rest = rest.strip()
    if quantity is Quantity.COUNT and (match := re.fullmatch(r"(.*?)\s*\(([^\W\d][\w -]*)\)", rest)) and not condition:
        rest, condition = match[1], match[2]
    rest = _take_trailing(rest, quantity, qualifiers)
    if len({"at least", "at most", "range"} & set(qualifiers)) > 1 or len(qualifiers) != len(set(qualifiers)):
        raise refuse(" with contradicting bounds", "state one bound, or a range as 400-450")

    words, declared = _unit_of(rest, quantity, declared_unit, text)
    low, high = min(first, second or first), max(first, second if second is not None else first)
    del low, high
    raise NotImplementedError
