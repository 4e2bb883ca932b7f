"""Units of logs and how their numbers become SI; the reference of a pressure and the basis of a power beside them."""

from __future__ import annotations

from dataclasses import dataclass

from graph.quantity import Quantity
from ingest.channel import Head, channel_words
from ingest.problem import UnreadableValue
from ingest.unit_list import SI
from ingest.units import convert, read_unit

#: Units of logs that are no units of a sheet: spelling -> (quantity, factor to SI, offset after it).
LOG_UNITS: dict[str, tuple[Quantity, float, float]] = {
    "km/h": (Quantity.RATIO, 1.0 / 3.6, 0.0),
    "mph": (Quantity.RATIO, 0.44704, 0.0),
    "m/s": (Quantity.RATIO, 1.0, 0.0),
    "°kw": (Quantity.ANGLE, 3.141592653589793 / 180.0, 0.0),
    "°crk": (Quantity.ANGLE, 3.141592653589793 / 180.0, 0.0),
    "°ca": (Quantity.ANGLE, 3.141592653589793 / 180.0, 0.0),
    "grad kw": (Quantity.ANGLE, 3.141592653589793 / 180.0, 0.0),
    "grad": (Quantity.ANGLE, 3.141592653589793 / 180.0, 0.0),
    "°kw vot": (Quantity.ANGLE, 3.141592653589793 / 180.0, 0.0),
    "upm": (Quantity.ROTATIONAL_SPEED, 1.0 / 60.0, 0.0),
    "λ": (Quantity.RATIO, 1.0, 0.0),
    "lambda": (Quantity.RATIO, 1.0, 0.0),
    "count": (Quantity.COUNT, 1.0, 0.0),
    "anzahl": (Quantity.COUNT, 1.0, 0.0),
    "mg/stk": (Quantity.MASS_FLOW, 1e-6, 0.0),
    "mg/hub": (Quantity.MASS_FLOW, 1e-6, 0.0),
    "mg/stroke": (Quantity.MASS_FLOW, 1e-6, 0.0),
    "afr": (Quantity.RATIO, 1.0 / 14.7, 0.0),
}
PER_STROKE = frozenset({"mg/stk", "mg/hub", "mg/stroke"})
_ONE = frozenset({"-", "–", "—", "1"})
_NO_UNIT = frozenset({"", "-", "–", "—", "1", "[-]", "n/a"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """How to turn a column's numbers into SI.

    Parameters
    ----------
    factor, offset : float
        value × factor + offset [SI].
    reference : str
        ``gauge``, ``absolute`` or empty where the head is silent.
    per_stroke : bool
        True where the number is a mass per stroke.
    basis : str
        ``wheel``, ``crank`` or empty.
    """

    factor: float
    offset: float = 0.0
    reference: str = ""
    per_stroke: bool = False
    basis: str = ""


def is_unit(text: str) -> bool:
    """True if a cell of a second head row is a unit or says that there is none.

    Parameters
    ----------
    text : str
        The cell.

    Returns
    -------
    bool
        True for ``bar``, ``[°C]``, ``-``.
    """
    plain = text.strip().strip("[]()").strip()
    if plain in _NO_UNIT or plain.casefold() in LOG_UNITS:
        return True
    for quantity in {w.quantity for w in channel_words().values() if w.quantity is not None}:
        try:
            read_unit(plain, quantity)
        except UnreadableValue:
            continue
        return True
    return _absolute(plain) is not None


def _absolute(unit: str) -> Scale | None:
    try:
        words = read_unit(unit, Quantity.ABSOLUTE_PRESSURE)
    except UnreadableValue:
        return None
    factor = convert(1.0, words.unit.label, "Pa", Quantity.ABSOLUTE_PRESSURE)
    return Scale(factor=factor, reference=words.reference or "")


def scale_of(head: Head) -> Scale:
    """How the numbers of a column become SI.

    Parameters
    ----------
    head : Head
        Of the column.

    Returns
    -------
    Scale
        The conversion.

    Raises
    ------
    UnreadableValue
        No unit where one is needed, or one of another quantity.
    """
    quantity = head.word.quantity
    assert quantity is not None, head.name
    if head.unit in _ONE and quantity is Quantity.RATIO:
        return Scale(factor=1.0)
    unit = head.unit if head.unit not in _NO_UNIT else ""
    if not unit:
        if not head.word.bare:
            raise UnreadableValue(
                f"{head.name!r} without a unit", f"a unit of {quantity.label}", "write it in brackets behind the name"
            )
        unit = head.word.bare
    known = LOG_UNITS.get(unit.casefold())
    if known is not None and known[0] is quantity:
        return Scale(factor=known[1], offset=known[2], per_stroke=unit.casefold() in PER_STROKE)
    if quantity is Quantity.GAUGE_PRESSURE:
        absolute = _absolute(unit)
        if absolute is not None:
            return absolute
    words = read_unit(unit, quantity)
    zero = convert(0.0, words.unit.label, SI[quantity], quantity)
    one = convert(1.0, words.unit.label, SI[quantity], quantity)
    return Scale(factor=one - zero, offset=zero, reference=words.reference or "", basis=words.basis or "")
