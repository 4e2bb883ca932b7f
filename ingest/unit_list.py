"""The closed list of units that a sheet may use, each with the spellings that mean it and nothing else.

A spelling that is not in this list is not a unit. Capitals are ignored only where no other unit is meant by them
(``KW`` is a kilowatt; ``mPa`` and ``MPa`` differ by a thousand million and are never mixed).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, lru_cache

from graph.quantity import Quantity
from ingest.spelling import normalise_unit


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit:
    """One unit of the closed list.

    Parameters
    ----------
    label : str
        How the program writes it.
    expression : str
        The same in the names of :mod:`ingest.conversion`.
    spellings : tuple of str
        What a sheet may write for it, label included, normalised.
    any_case : bool
        True where capitals carry no meaning.
    """

    label: str
    expression: str
    spellings: tuple[str, ...]
    any_case: bool = False


def _units(*rows: str) -> tuple[Unit, ...]:
    """Return units from rows ``label | expression | spellings``; a ``~`` before the label ignores capitals."""
    units = []
    for row in rows:
        label, expression, *more = (cell.strip() for cell in row.split("|"))
        any_case = label.startswith("~")
        label = label.removeprefix("~").strip()
        spellings = [label, *(word.strip() for word in (more[0] if more else "").split(",") if word.strip())]
        units.append(
            Unit(
                label=label,
                expression=expression,
                spellings=tuple(dict.fromkeys(normalise_unit(spelling) for spelling in spellings)),
                any_case=any_case,
            )
        )
    return tuple(units)


_PRESSURE = _units(
    "Pa | pascal",
    "~hPa | hectopascal",
    "~kPa | kilopascal",
    "MPa | megapascal",
    "mbar | millibar",
    "~bar | bar",
    "~psi | pound_per_square_inch | lbf/in2, lb/in2",
    "~inHg | inch_of_mercury | in Hg",
    "~atm | standard_atmosphere",
)
_METER = "m | meter"
_MILLIMETER = "mm | millimeter"
_ONE = "1 | one | -"
_FLOW_PARAMETER_FORMS = (
    "{m}√K/(s{p})",
    "({m}√K)/(s{p})",
    "√K{m}/(s{p})",
    "{m}√K/s/{p}",
    "{m}/s√K/{p}",
    "({m}/s)√K/{p}",
)

UNITS: dict[Quantity, tuple[Unit, ...]] = {
    Quantity.ABSOLUTE_PRESSURE: _PRESSURE,
    Quantity.GAUGE_PRESSURE: _PRESSURE,
    Quantity.PRESSURE_DIFFERENCE: _PRESSURE,
    Quantity.TEMPERATURE: _units(
        "K | kelvin",
        "°C | degree_celsius | C, ° C, degC, deg C, DEGC, °c",
        "°F | degree_fahrenheit | ° F, degF, deg F, DEGF",
    ),
    Quantity.TEMPERATURE_DIFFERENCE: _units(
        "K | kelvin_step",
        "°C | celsius_step | C, ° C, degC, deg C, DEGC, °c",
        "°F | fahrenheit_step | ° F, degF, deg F, DEGF",
    ),
    Quantity.MASS_FLOW: _units(
        "~kg/s | kilogram / second",
        "~g/s | gram / second | g/sec",
        "~kg/h | kilogram / hour | kg/hr",
        "~lb/min | pound / minute | lbs/min",
        "~lb/h | pound / hour | lb/hr, lbs/h, lbs/hr",
    ),
    Quantity.VOLUME_FLOW: _units(
        "m3/s | meter ** 3 / second",
        "~L/h | liter / hour | L/hr, lph",
        "~L/min | liter / minute | lpm",
        "~cc/min | centimeter ** 3 / minute | ccm/min",
        "cm3/min | centimeter ** 3 / minute",
        "mL/min | centimeter ** 3 / minute | ml/min",
    ),
    Quantity.VOLUME: _units(
        "m3 | meter ** 3",
        "L | liter | l, litre, litres, liter, liters",
        "cm3 | centimeter ** 3",
        "~cc | centimeter ** 3 | ccm",
        "mm3 | millimeter ** 3",
        "cm3/stroke | centimeter ** 3",
        "~cc/stroke | centimeter ** 3 | ccm/stroke",
        "mm3/stroke | millimeter ** 3",
    ),
    Quantity.TORQUE: _units(
        "~N.m | newton * meter | Nm, N m",
        "~lb ft | pound_force * foot | lb.ft, lb-ft, lbft, lbs ft, lbs-ft, lbf ft, lbf.ft, lbf-ft, lbfft, ft lb, ft.lb,"
        " ft-lb, ftlb, ft lbs, ft-lbs, ft lbf, ft.lbf, ft-lbf",
        "~kgf m | kilogram_force * meter | kgf.m, kgf-m, kgfm",
    ),
    Quantity.FORCE: _units("~N | newton", "~kN | kilonewton", "~kgf | kilogram_force", "~lbf | pound_force"),
    Quantity.POWER: _units(
        "W | watt",
        "~kW | kilowatt",
        "~PS | metric_horsepower | cv",
        "~hp | mechanical_horsepower",
        "~bhp | mechanical_horsepower",
    ),
    Quantity.ROTATIONAL_SPEED: _units(
        "1/s | 1 / second | /s, s-1, rev/s",
        "~rpm | 1 / minute | r/min, rev/min",
        "1/min | 1 / minute | /min, min-1",
        "~U/min | 1 / minute",
    ),
    Quantity.VOLTAGE: _units("V | volt", "mV | millivolt", "kV | kilovolt"),
    Quantity.CURRENT: _units("A | ampere"),
    Quantity.ENERGY: _units("J | joule", "mJ | millijoule"),
    Quantity.LENGTH: _units(
        _METER, "cm | centimeter", _MILLIMETER, "µm | micrometer", '~in | inch | ", inch, inches, zoll'
    ),
    Quantity.DISTANCE: _units(_METER, "~km | kilometer", "~mi | mile | mile, miles"),
    Quantity.AREA: _units("m2 | meter ** 2", "cm2 | centimeter ** 2", "mm2 | millimeter ** 2"),
    Quantity.MASS: _units("~kg | kilogram"),
    Quantity.DENSITY: _units(
        "~kg/m3 | kilogram / meter ** 3",
        "~g/cm3 | gram / centimeter ** 3 | g/cc, g/ccm",
        "~kg/L | kilogram / liter",
    ),
    Quantity.DURATION: _units(
        "s | second | sec",
        "ms | millisecond",
        "µs | microsecond",
        "~min | minute | mins, minutes, minute",
        "h | hour | hr, hrs, hour, hours",
        "~days | day | d, day, tage, tag",
        "~weeks | week | week, wk, wks, wochen, woche",
    ),
    Quantity.ANGLE: _units("rad | radian", "~° | degree | deg, degrees"),
    Quantity.FLOW_PARAMETER: tuple(
        Unit(
            label=f"{mass}·√K/(s·{pressure})",
            expression=f"{expression} * kelvin ** 0.5 / (second * {under})",
            spellings=tuple(form.format(m=mass, p=pressure) for form in _FLOW_PARAMETER_FORMS),
        )
        for mass, expression in (("kg", "kilogram"), ("g", "gram"))
        for pressure, under in (("Pa", "pascal"), ("kPa", "kilopascal"), ("bar", "bar"))
    ),
    Quantity.THERMAL_CONDUCTANCE: _units("W/K | watt / kelvin_step", "~kW/K | kilowatt / kelvin_step"),
    Quantity.RATIO: _units(_ONE, "% | percent | percent"),
    Quantity.PRESSURE_RATIO: _units(_ONE),
    Quantity.OCTANE_NUMBER: _units(_ONE, "~RON | one | roz", "~MON | one | moz", "~ON | one"),
    Quantity.COUNT: _units(_ONE, "~x | one | ×", "~pcs | one | pc, piece, pieces, stk, stück", "~stops | one | stop"),
}

SI: dict[Quantity, str] = {
    Quantity.FLOW_PARAMETER: "kg·√K/(s·Pa)",
    **{quantity: quantity.unit for quantity in UNITS if quantity is not Quantity.FLOW_PARAMETER},
}

EXAMPLE: dict[Quantity, str] = {
    Quantity.ABSOLUTE_PRESSURE: "3.2 bar abs",
    Quantity.GAUGE_PRESSURE: "2.2 bar gauge",
    Quantity.PRESSURE_DIFFERENCE: "4 kPa",
    Quantity.TEMPERATURE: "60 °C",
    Quantity.TEMPERATURE_DIFFERENCE: "15 K",
    Quantity.MASS_FLOW: "16.5 g/s",
    Quantity.VOLUME_FLOW: "240 L/h",
    Quantity.VOLUME: "0.235 cm3",
    Quantity.TORQUE: "540 N.m",
    Quantity.FORCE: "250 N",
    Quantity.POWER: "340 kW",
    Quantity.ROTATIONAL_SPEED: "6600 rpm",
    Quantity.VOLTAGE: "13.2 V",
    Quantity.CURRENT: "16 A",
    Quantity.ENERGY: "70 mJ",
    Quantity.LENGTH: "0.65 mm",
    Quantity.DISTANCE: "90000 km",
    Quantity.AREA: "220 mm2",
    Quantity.MASS: "1400 kg",
    Quantity.DENSITY: "748 kg/m3",
    Quantity.DURATION: "0.4 ms",
    Quantity.ANGLE: "258 °",
    Quantity.FLOW_PARAMETER: "2.0e-5 kg·√K/(s·Pa)",
    Quantity.THERMAL_CONDUCTANCE: "800 W/K",
    Quantity.RATIO: "72 %",
    Quantity.PRESSURE_RATIO: "2.7",
    Quantity.OCTANE_NUMBER: "98 RON",
    Quantity.COUNT: "4 pcs",
}


def quantity_phrase(quantity: Quantity) -> str:
    """Return what is expected in words, with an example.

    Parameters
    ----------
    quantity : Quantity
        The quantity that belongs in the cell.

    Returns
    -------
    str
        Such as ``a mass flow such as 16.5 g/s``.
    """
    article = "an" if quantity.label[0] in "aeiou" else "a"
    return f"{article} {quantity.label} such as {EXAMPLE[quantity]}"


@cache
def _index(quantity: Quantity) -> tuple[dict[str, Unit], dict[str, Unit]]:
    """Return the spellings of a quantity: exact ones, and case-folded ones of the units where case is free."""
    exact: dict[str, Unit] = {}
    folded: dict[str, Unit] = {}
    for unit in UNITS[quantity]:
        for spelling in unit.spellings:
            exact.setdefault(spelling, unit)
            if unit.any_case:
                folded.setdefault(spelling.casefold(), unit)
    return exact, folded


@lru_cache(maxsize=8192)  # a book repeats its words
def find_unit(text: str, quantity: Quantity) -> Unit | None:
    """Look a spelling up among the units of one quantity.

    Parameters
    ----------
    text : str
        A unit as written, without reference words.
    quantity : Quantity
        The quantity it should measure.

    Returns
    -------
    Unit or None
        None when the quantity has no such unit.

    Examples
    --------
    >>> find_unit("KW", Quantity.POWER).label
    'kW'
    >>> find_unit("mPa", Quantity.GAUGE_PRESSURE) is None
    True
    """
    spelling = normalise_unit(text)
    exact, folded = _index(quantity)
    return exact.get(spelling) or folded.get(spelling.casefold())


@lru_cache(maxsize=8192)
def measured_by(text: str) -> tuple[Quantity, ...]:
    """Return the quantities that have a unit of this spelling.

    Parameters
    ----------
    text : str
        A unit as written.

    Returns
    -------
    tuple of Quantity
        In the order of the list.
    """
    return tuple(quantity for quantity in UNITS if find_unit(text, quantity) is not None)
