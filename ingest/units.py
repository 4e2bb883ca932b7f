"""Reading quantities as a workshop writes them, and writing them back.

The grammar is closed: ``[qualifier] number[-number] unit [abs|gauge] [wheel|crank] [?] [@ condition]``. Whatever does
not fit is refused with a remedy. Gauge or absolute is a reference and not part of the unit; wheel or crank likewise.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from datetime import date, time, timedelta

from graph.errors import OutOfRange
from graph.quantity import Quantity
from ingest.conversion import convert_expression
from ingest.number import Decimal
from ingest.phrase import take_apart
from ingest.problem import UnreadableValue
from ingest.reference import Basis, Reference, UnitWords, read_unit
from ingest.unit_list import EXAMPLE, SI, Unit, find_unit, measured_by, quantity_phrase

__all__ = ["Measure", "UnitWords", "convert", "format_quantity", "parse_quantity", "read_unit", "read_value"]

_WRITTEN = {Quantity.ABSOLUTE_PRESSURE: " abs", Quantity.GAUGE_PRESSURE: " gauge"}
_BARE = (Quantity.PRESSURE_RATIO, Quantity.OCTANE_NUMBER, Quantity.COUNT)
_NEVER_NEGATIVE = (Quantity.ABSOLUTE_PRESSURE, Quantity.TEMPERATURE, Quantity.COUNT)

_WORDS_ONLY = re.compile(r"\(?(?:absolute|abs\.?|gauge|relative|rel\.?|diff\.?|wheels?|crank)\)?", re.I)
_TO_ONE = re.compile(r":[\s\u00a0]*1")


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
        The bounds that the text states [SI unit of the quantity]: both for a range, one for "at least" or "at most".
    reference : {'absolute', 'gauge'} or None
        What the text or the declared unit says about a pressure; None when neither does.
    basis : {'wheel', 'crank'} or None
        Where a power or torque was measured, when the text or the declared unit says so.
    text : str
        The text as written.
    unit : str
        Label of the unit found in the text, or else declared.
    declared : bool
        True where the unit is the declared one.
    condition : str
        What stands behind ``@``, unread, and for a count what stands in brackets; empty when nothing does.
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
    shown = repr(text.strip())
    phrase = take_apart(text, quantity, decimal)
    own = None if declared_unit is None else read_unit(declared_unit, quantity)
    words, declared = _unit_of(phrase.unit, quantity, own, shown)
    first = _to_si(phrase.first, words.unit, quantity)
    second = None if phrase.second is None else _to_si(phrase.second, words.unit, quantity)
    for value in (first,) if second is None else (first, second):
        if not math.isfinite(value):
            raise UnreadableValue(f"{shown}, beyond every number", expected, "correct the power of ten")
        if value < 0 and quantity in _NEVER_NEGATIVE:
            raise UnreadableValue(
                f"{shown}, below {'zero' if quantity is Quantity.COUNT else 'absolute zero'}",
                expected,
                "correct the sign, the number or the unit",
            )
        if quantity is Quantity.COUNT and not value.is_integer():
            raise UnreadableValue(f"{shown}, not a whole number", expected, "write a whole number of pieces")
    bounds = (first, second) if second is not None else (
        first if "at least" in phrase.qualifiers else None, first if "at most" in phrase.qualifiers else None
    )  # fmt: skip
    return Measure(
        quantity=quantity,
        value=first if second is None else 0.5 * (first + second),
        low=bounds[0],
        high=bounds[1],
        reference=words.reference or (own.reference if own else None),
        basis=words.basis or (own.basis if own else None),
        text=text,
        unit=words.unit.label,
        declared=declared,
        condition=phrase.condition,
        qualifiers=phrase.qualifiers,
    )


def read_value(
    value: object, quantity: Quantity, *, declared_unit: str | None = None, decimal: Decimal | None = None
) -> Measure:
    """Read a quantity from a cell's raw value, whatever its type.

    Parameters
    ----------
    value : object
        The value as the spreadsheet stores it; a stored number has one reading only and needs no decimal sign.
    quantity : Quantity
        What belongs in the cell.
    declared_unit : str or None
        The unit that the column's header states.
    decimal : {'.', ','} or None
        The sheet's declared decimal sign, for cells that hold text.

    Returns
    -------
    Measure
        Values in the SI unit of the quantity.

    Raises
    ------
    UnreadableValue
        When the cell is empty, holds a date, a time or a truth value, or a text with no certain reading.

    Examples
    --------
    >>> read_value(1.234, Quantity.PRESSURE_RATIO).value
    1.234
    """
    if value is None or isinstance(value, str):
        return parse_quantity(value or "", quantity, declared_unit=declared_unit, decimal=decimal)
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        if not math.isfinite(value):
            raise UnreadableValue(f"{value!r}", quantity_phrase(quantity), f"write {EXAMPLE[quantity]}")
        return parse_quantity(_number_text(value), quantity, declared_unit=declared_unit, decimal=".")
    kind = "a date" if isinstance(value, date) else "a time" if isinstance(value, (time, timedelta)) else "no number"
    raise UnreadableValue(
        f"{str(value)!r}, {kind}",
        quantity_phrase(quantity),
        f"format the cell as text and write the value, such as {EXAMPLE[quantity]}",
    )


def convert(value: float, from_unit: str, to_unit: str, quantity: Quantity) -> float:
    """Convert a number between two units of one quantity.

    Parameters
    ----------
    value : float
        The number [from_unit].
    from_unit, to_unit : str
        Spellings from the closed list.
    quantity : Quantity
        What is measured; gauge and absolute pressure are two quantities and never converted here.

    Returns
    -------
    float
        The number [to_unit].

    Raises
    ------
    UnreadableValue
        When a unit does not measure the quantity.

    Examples
    --------
    >>> round(convert(340.0, "kW", "PS", Quantity.POWER), 1)
    462.3
    """
    source, target = (read_unit(unit, quantity).unit for unit in (from_unit, to_unit))
    return convert_expression(value, source.expression, target.expression)


def format_quantity(value: float, quantity: Quantity, unit: str) -> str:
    """Write a quantity so that :func:`parse_quantity` reads the same value back.

    Parameters
    ----------
    value : float
        The value [SI unit of the quantity].
    quantity : Quantity
        What is measured.
    unit : str
        A spelling from the closed list.

    Returns
    -------
    str
        All digits that the value has, a decimal point, the unit's label and the reference of a pressure.

    Raises
    ------
    UnreadableValue
        When the unit does not measure the quantity.
    OutOfRange
        When the value is not a finite number.

    Examples
    --------
    >>> format_quantity(320000.0, Quantity.ABSOLUTE_PRESSURE, "bar")
    '3.2 bar abs'
    """
    words = read_unit(unit, quantity)
    if not math.isfinite(value):
        raise OutOfRange(quantity.label, str(value), "a finite number", "leave an unknown value empty")
    number = _number_text(convert(value, SI[quantity], words.unit.label, quantity))
    if words.unit.label == "1":
        return number if quantity in _BARE else f"{number} [1]"
    return f"{number} {words.unit.label}{_WRITTEN.get(quantity, '')}{f' {words.basis}' if words.basis else ''}"


def _unit_of(rest: str, quantity: Quantity, own: UnitWords | None, shown: str) -> tuple[UnitWords, bool]:
    """Return the unit of a text's remainder, and whether it is the declared one."""
    expected = quantity_phrase(quantity)
    if not rest:
        if own is not None:
            return own, True
        if quantity in _BARE:
            return read_unit("1", quantity), False
        raise UnreadableValue(
            f"{shown} without a unit", expected, "write the unit behind the number or in the column's header"
        )
    if quantity in (Quantity.RATIO, Quantity.PRESSURE_RATIO) and _TO_ONE.fullmatch(rest):
        return read_unit("1", quantity), False
    if own is not None and _WORDS_ONLY.fullmatch(rest):
        return read_unit(f"{own.unit.label} {rest}", quantity), True
    try:
        if rest not in ("1", "-"):
            return read_unit(rest, quantity), False
    except UnreadableValue as error:
        if measured_by(rest) or not re.search(r"\d", rest):
            found = error.found.removeprefix(repr(rest))
            raise UnreadableValue(f"{shown} with {rest!r}{found}", expected, error.remedy) from None
    raise UnreadableValue(
        f"{shown}, several numbers or words behind the number",
        expected,
        f"write one value as in {EXAMPLE[quantity]}, and a condition behind '@'",
    )


def _to_si(value: float, unit: Unit, quantity: Quantity) -> float:
    """Return a number in the SI unit of its quantity."""
    target = find_unit(SI[quantity], quantity)
    assert target is not None, quantity
    return convert_expression(value, unit.expression, target.expression)


def _number_text(value: float) -> str:
    """Return all digits of a number, never in a form with two readings."""
    if float(value).is_integer() and abs(value) < 1e15:
        return str(int(value))
    text = repr(float(value))
    return f"{text}0" if re.fullmatch(r"-?[1-9]\d{0,2}\.\d{3}", text) else text
