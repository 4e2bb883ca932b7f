"""The words of a study and what stands behind each."""

from __future__ import annotations

from collections.abc import Mapping

from graph.quantity import Quantity
from ingest.problem import UnreadableValue
from ingest.units import parse_quantity

#: What is on the car, where the study offers a choice.
OWN = "own"
#: Word of a study -> (field of the request, quantity, unit of a bare number).
QUANTITIES: Mapping[str, tuple[str, Quantity, str | None]] = {
    "power": ("power", Quantity.POWER, None),
    "boost": ("boost", Quantity.GAUGE_PRESSURE, None),
    "torque": ("torque", Quantity.TORQUE, None),
    "power speed": ("power_speed", Quantity.ROTATIONAL_SPEED, None),
    "ambient": ("ambient", Quantity.TEMPERATURE, "°C"),
    "altitude": ("altitude", Quantity.DISTANCE, "m"),
    "pressure": ("pressure", Quantity.ABSOLUTE_PRESSURE, None),
    "minutes": ("duration", Quantity.DURATION, "min"),
}


def quantity_of(text: str, name: str) -> float:
    """A quantity of a study in SI units.

    Parameters
    ----------
    text : str
        As written.
    name : str
        Word of :data:`QUANTITIES`.

    Returns
    -------
    float
        [SI]

    Raises
    ------
    UnreadableValue
        No single value of the quantity at the crank.
    """
    _, quantity, bare = QUANTITIES[name]
    measure = parse_quantity(text, quantity, declared_unit=bare)
    several = measure.low is not None or measure.high is not None or measure.qualifiers or measure.condition
    if several or measure.basis == "wheel" or measure.value is None:
        raise UnreadableValue(repr(text), "one number with its unit, a power at the crank", "write it so")
    return float(measure.value)
