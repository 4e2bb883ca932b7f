"""A unit with the words that may stand behind it: gauge or absolute, wheel or crank."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from graph.quantity import Quantity
from ingest.problem import UnreadableValue
from ingest.spelling import normalise_text
from ingest.unit_list import EXAMPLE, Unit, find_unit, measured_by, quantity_phrase

Reference = Literal["absolute", "gauge"]
Basis = Literal["wheel", "crank"]

_DEMANDED = {
    Quantity.ABSOLUTE_PRESSURE: "absolute",
    Quantity.GAUGE_PRESSURE: "gauge",
    Quantity.PRESSURE_DIFFERENCE: "difference",
}
_BASIS = re.compile(
    r"(?:^|\s+|(?=\())\(?(?:at\s+(?:the\s+)?)?(?:(?P<wheel>wheels?)|(?P<crank>crankshaft|crank|flywheel))\)?$", re.I
)
_REFERENCE = re.compile(
    r"(?P<unit>.+?)[\s\u00a0]*(?P<open>\(?)"
    r"(?:(?P<absolute>absolute|absolut|abs\.|abs|a)|(?P<gauge>gauge|gage|relative|relativ|rel\.|rel|g|ü|überdruck)"
    r"|(?P<difference>differential|difference|diff\.|diff))(?P<close>\)?)",
    re.I,
)


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


@lru_cache(maxsize=8192)  # a book repeats its words
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
        if quantity is Quantity.POWER and plain.casefold() == "whp":
            plain, basis = "hp", "wheel"
        elif match := _BASIS.search(plain):
            plain, basis = plain[: match.start()], "wheel" if match["wheel"] else "crank"
    unit = find_unit(plain, quantity)
    stated: str | None = None
    if unit is None and (match := _REFERENCE.fullmatch(plain)) and bool(match["open"]) == bool(match["close"]):
        if quantity in _DEMANDED:
            unit = find_unit(match["unit"], quantity)
            stated = next(name for name in ("absolute", "gauge", "difference") if match[name])
        elif find_unit(match["unit"], Quantity.ABSOLUTE_PRESSURE):
            plain = match["unit"]
    if unit is None:
        raise UnreadableValue(
            f"{text.strip()!r}, {_kind_of(plain)}",
            quantity_phrase(quantity),
            f"write the value as in {EXAMPLE[quantity]}",
        )
    if stated is not None and stated != _DEMANDED[quantity]:
        raise UnreadableValue(
            f"{text.strip()!r}, which says {stated}",
            quantity_phrase(quantity),
            f"state the {quantity.label} or correct the reference (gauge and absolute differ by the air pressure)",
        )
    reference: Reference | None = "absolute" if stated == "absolute" else "gauge" if stated == "gauge" else None
    return UnitWords(unit=unit, reference=reference, basis=basis)


def _kind_of(plain: str) -> str:
    """Return what a text is that is no unit of the demanded quantity."""
    others = [quantity.label for quantity in measured_by(plain)]
    return f"a unit of {' or '.join(others[:3])}" if others else "which is no known unit"
