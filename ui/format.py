"""Numbers for people: the shop's units, digits no finer than their uncertainty, never a number for "not known"."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from contextvars import ContextVar
from types import MappingProxyType

from graph.model import Array
from graph.quantity import Quantity

NOT_KNOWN = "not known"
MINUS = "−"
THIN = "\u202f"
#: Quantity -> (factor from SI, offset after it, unit, digits).
SHOWN: Mapping[Quantity, tuple[float, float, str, int]] = MappingProxyType(
    {
        Quantity.ABSOLUTE_PRESSURE: (1e-5, 0.0, "bar abs", 2),
        Quantity.GAUGE_PRESSURE: (1e-5, 0.0, "bar", 2),
        Quantity.PRESSURE_DIFFERENCE: (1e-5, 0.0, "bar", 2),
        Quantity.TEMPERATURE: (1.0, -273.15, "°C", 0),
        Quantity.TEMPERATURE_DIFFERENCE: (1.0, 0.0, "K", 0),
        Quantity.MASS_FLOW: (1e3, 0.0, "g/s", 1),
        Quantity.VOLUME_FLOW: (3.6e6, 0.0, "L/h", 0),
        Quantity.VOLUME: (1e6, 0.0, "cm³", 3),
        Quantity.TORQUE: (1.0, 0.0, "N·m", 0),
        Quantity.FORCE: (1e-3, 0.0, "kN", 2),
        Quantity.POWER: (1e-3, 0.0, "kW", 0),
        Quantity.ROTATIONAL_SPEED: (60.0, 0.0, "1/min", 0),
        Quantity.VOLTAGE: (1e-3, 0.0, "kV", 1),
        Quantity.CURRENT: (1.0, 0.0, "A", 1),
        Quantity.ENERGY: (1e3, 0.0, "mJ", 0),
        Quantity.LENGTH: (1e3, 0.0, "mm", 2),
        Quantity.DISTANCE: (1e-3, 0.0, "km", 0),
        Quantity.AREA: (1e6, 0.0, "mm²", 0),
        Quantity.MASS: (1.0, 0.0, "kg", 0),
        Quantity.DENSITY: (1.0, 0.0, "kg/m³", 0),
        Quantity.DURATION: (1e3, 0.0, "ms", 2),
        Quantity.ANGLE: (180.0 / math.pi, 0.0, "°", 1),
        Quantity.FLOW_PARAMETER: (1e5, 0.0, "1e-5 kg·√K/(s·Pa)", 2),
        Quantity.THERMAL_CONDUCTANCE: (1.0, 0.0, "W/K", 0),
        Quantity.RATIO: (1.0, 0.0, "1", 3),
        Quantity.PRESSURE_RATIO: (1.0, 0.0, "1", 2),
        Quantity.OCTANE_NUMBER: (1.0, 0.0, "1", 1),
        Quantity.COUNT: (1.0, 0.0, "1", 0),
    }
)

#: Units that a person may choose -> as in :data:`SHOWN`. Horsepower by definition: 75 kgf m/s, 550 ft lbf/s.
CHOICES: Mapping[Quantity, Mapping[str, tuple[float, float, str, int]]] = MappingProxyType(
    {
        Quantity.POWER: {
            "kW": (1e-3, 0.0, "kW", 0),
            "PS": (1.0 / 735.49875, 0.0, "PS", 0),
            "bhp": (1.0 / 745.69987158227022, 0.0, "bhp", 0),
        },
        Quantity.GAUGE_PRESSURE: {
            "bar": (1e-5, 0.0, "bar", 2),
            "psi": (1.0 / 6894.757293168361, 0.0, "psi", 1),
        },
        Quantity.TORQUE: {
            "N·m": (1.0, 0.0, "N·m", 0),
            "lb·ft": (1.0 / 1.3558179483314004, 0.0, "lb·ft", 0),
        },
    }
)
_PER_CENT = re.compile(r"(\d)%")
_KILOWATTS = re.compile(r"(\d+(?:\.\d+)?)[ \u00a0\u202f]kW\b")
_chosen: ContextVar[Mapping[Quantity, str]] = ContextVar("units", default=MappingProxyType({}))


def choose(units: Mapping[Quantity, str]) -> None:
    """Show some quantities in a person's own units, from here on in this page or command."""
    _chosen.set({q: name for q, name in units.items() if name in CHOICES.get(q, {})})


def how_shown(quantity: Quantity) -> tuple[float, float, str, int]:
    """Factor from SI, offset after it, unit and digits of a quantity, in the person's own unit."""
    name = _chosen.get().get(quantity)
    return SHOWN[quantity] if name is None else CHOICES[quantity][name]


def counted(count: int, what: str) -> str:
    """A number of things, each of them named by a word that takes an s: 1 part, 2 parts."""
    return f"{count} {what}{'' if count == 1 else 's'}"


def power_unit() -> str:
    """Unit in which powers are shown."""
    return how_shown(Quantity.POWER)[2]


def boost(value: float | None) -> str:
    """A boost [Pa] in tenths of its unit."""
    return quantity_in(value, Quantity.GAUGE_PRESSURE, 1)


def quantity_in(value: float | None, what: Quantity, digits: int) -> str:
    """An SI value with its unit, in so many digits."""
    shown = in_unit(value, what)
    return NOT_KNOWN if shown is None else f"{number(shown, digits)} {unit(what)}"


def in_unit(value: float | None, quantity: Quantity) -> float | None:
    """An SI value in the unit in which it is shown; None stays None, and NaN or infinity become None."""
    if value is None or not math.isfinite(value):
        return None
    factor, offset, _, _ = how_shown(quantity)
    return value * factor + offset


def unit(quantity: Quantity) -> str:
    """Unit in which a quantity is shown."""
    return how_shown(quantity)[2]


def number(value: float | None, digits: int = 0) -> str:
    """A number with thin spaces in the thousands and a true minus, or ``not known``."""
    if value is None or not math.isfinite(value):
        return NOT_KNOWN
    return f"{value:,.{digits}f}".replace(",", THIN).replace("-", MINUS)


def quantity(value: float | None, what: Quantity) -> str:
    """An SI value with its unit."""
    shown = in_unit(value, what)
    if shown is None:
        return NOT_KNOWN
    label = unit(what)
    return number(shown, how_shown(what)[3]) + ("" if label == "1" else f" {label}")


def spoken(value: float, what: Quantity) -> str:
    """An SI value with its unit, as finely as it was given; small voltages in volts."""
    if what is Quantity.VOLTAGE and abs(value) < 1e3:
        return f"{value:.6g} V"
    shown = in_unit(value, what)
    label = unit(what)
    return NOT_KNOWN if shown is None else f"{shown:.6g}".replace("-", MINUS) + ("" if label == "1" else f" {label}")


def kilowatts(value: float | None) -> str:
    """A power [W] in whole kW, or in the person's own unit, without the unit."""
    return number(in_unit(value, Quantity.POWER))


def gap(value: float | None) -> str:
    """A difference of powers [W] in whole units of power, always with its sign."""
    if value is None or not math.isfinite(value):
        return NOT_KNOWN
    shown = round(value * how_shown(Quantity.POWER)[0])
    return f"+{shown}" if shown >= 0 else number(float(shown))


def change(value: float, what: Quantity, digits: int) -> str:
    """A difference in SI with its sign and unit."""
    shown = value * how_shown(what)[0]
    return f"{'+' if shown >= 0.0 else ''}{number(shown, digits)} {unit(what)}"


def respoken(text: str) -> str:
    """A sentence of the model as it is printed: powers in the person's own unit, per cent with its space."""
    text = _PER_CENT.sub(r"\1 %", text)
    factor, _, name, _ = how_shown(Quantity.POWER)
    if name == "kW":
        return text
    return _KILOWATTS.sub(lambda found: f"{number(float(found[1]) * 1e3 * factor)} {name}", text)


def duration(seconds: float) -> str:
    """A time in seconds below two minutes, in minutes above."""
    return f"{number(seconds)} s" if seconds < 120.0 else f"{number(seconds / 60.0)} min"


def percent(share: float | None) -> str:
    """A share in whole per cent."""
    return NOT_KNOWN if share is None else f"{share * 100:.0f} %"


def listed(values: Array, factor: float = 1.0, offset: float = 0.0, digits: int = 4) -> list[float | None]:
    """An array for a document: numbers in the shown unit, None where there is none."""
    return [round(float(v) * factor + offset, digits) if math.isfinite(v) else None for v in values]
