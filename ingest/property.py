"""Rows of property, value and unit, as platform and car sheets have them."""

from __future__ import annotations

from collections.abc import Iterable

from graph.quantity import Quantity
from ingest.line import Line
from ingest.problem import UnreadableValue
from ingest.sheet import Reading
from ingest.units import Measure, read_unit, read_value
from ingest.vocabulary import plain_word


def property_name(line: Line, reading: Reading, known: Iterable[str]) -> str:
    """Return the program's name of a row's property.

    Parameters
    ----------
    line : Line
        The row.
    reading : Reading
        For words in other languages.
    known : iterable of str
        The names.

    Returns
    -------
    str
        The row's own word where it means none of them.
    """
    said = plain_word(line.text("property"))
    return reading.words.words["property"].get(said) or next((k for k in known if plain_word(k) == said), said)


def read_property(
    line: Line, quantity: Quantity, reading: Reading, allowed: tuple[float, float] | None = None, field: str = "rating"
) -> float | None:
    """Value of a row with a unit column.

    Parameters
    ----------
    line : Line
        The row.
    quantity : Quantity
        What is stated.
    reading : Reading
        Takes the defect.
    allowed : (float, float) or None
        Smallest and largest believable value [SI].
    field : str
        Field of the value.

    Returns
    -------
    float or None
        [SI]; None and one problem where it cannot be read.
    """
    unit = line.text("unit") or line.unit(field)
    at = "unit" if line.text("unit") else field
    try:
        if unit is not None:
            read_unit(unit, quantity)
        at = "unit" if unit is None and "unit" in line.header.columns else field
        measure = read_value(line.value(field), quantity, declared_unit=unit)
        at = field
        _refuse(measure, quantity)
    except UnreadableValue as defect:
        reading.problems.append(line.problem(at, defect.found, defect.expected, defect.remedy))
        return None
    if allowed is not None and not allowed[0] <= measure.value <= allowed[1]:
        reading.problems.append(
            line.problem(
                field,
                f"{line.text(field)} {unit or ''} ({measure.value:.4g} {quantity.unit})",
                f"between {allowed[0]:.4g} and {allowed[1]:.4g} {quantity.unit}",
                "check the unit and the decimal sign",
            )
        )
        return None
    return measure.value


def _refuse(measure: Measure, quantity: Quantity) -> None:
    if measure.qualifiers or measure.condition:
        raise UnreadableValue(repr(measure.text), f"one plain {quantity.label}", "write one number with its unit")
    if quantity in (Quantity.GAUGE_PRESSURE, Quantity.ABSOLUTE_PRESSURE) and measure.reference is None:
        word = "gauge" if quantity is Quantity.GAUGE_PRESSURE else "abs"
        raise UnreadableValue(
            f"{measure.text!r} {measure.unit}, which says neither abs nor gauge",
            f"a {quantity.label}",
            f"write 'bar {word}' if that is what it is; the two differ by the air pressure of the day",
        )
    if measure.basis == "wheel":
        raise UnreadableValue(
            f"{measure.text!r}, at the wheel", f"{quantity.label} at the crank", "state the value at the crank"
        )
