"""Conversion factors: one small registry of our own, used to convert and never to read text.

References
----------
BIPM, The International System of Units (SI Brochure), 9th edition, 2019: the SI units and the standard acceleration.
NIST Special Publication 811, Guide for the Use of the International System of Units, 2008, appendix B: pound,
inch, foot, horsepower, conventional mercury column.
"""

from __future__ import annotations

from functools import cache, lru_cache

import pint

_DEFINITIONS = """
meter = [length]
second = [time]
kilogram = [mass]
ampere = [current]
kelvin = [temperature]; offset: 0
degree_celsius = kelvin; offset: 273.15
degree_fahrenheit = 5 / 9 * kelvin; offset: 233.15 + 200 / 9
kelvin_step = [temperature_step]
celsius_step = kelvin_step
fahrenheit_step = 5 / 9 * kelvin_step
one = [number]
percent = 0.01 * one
radian = [angle]
degree = 3.14159265358979323846 / 180 * radian
newton = kilogram * meter / second ** 2
pascal = newton / meter ** 2
joule = newton * meter
watt = joule / second
volt = watt / ampere
millivolt = 0.001 * volt
kilovolt = 1000 * volt
millijoule = 0.001 * joule
gravity = 9.80665 * meter / second ** 2
micrometer = 1e-6 * meter
millimeter = 0.001 * meter
centimeter = 0.01 * meter
kilometer = 1000 * meter
inch = 0.0254 * meter
foot = 12 * inch
mile = 5280 * foot
liter = 0.001 * meter ** 3
gram = 0.001 * kilogram
pound = 0.45359237 * kilogram
pound_force = pound * gravity
kilogram_force = kilogram * gravity
kilonewton = 1000 * newton
microsecond = 1e-6 * second
millisecond = 0.001 * second
minute = 60 * second
hour = 60 * minute
day = 24 * hour
week = 7 * day
kilowatt = 1000 * watt
metric_horsepower = 75 * kilogram_force * meter / second
mechanical_horsepower = 550 * foot * pound_force / second
hectopascal = 100 * pascal
kilopascal = 1000 * pascal
megapascal = 1e6 * pascal
bar = 1e5 * pascal
millibar = 100 * pascal
pound_per_square_inch = pound_force / inch ** 2
inch_of_mercury = 13595.1 * kilogram / meter ** 3 * gravity * inch
standard_atmosphere = 101325 * pascal
"""


@cache
def _registry() -> pint.UnitRegistry[float]:
    """Return the registry; made on first use because most runs never convert."""
    registry: pint.UnitRegistry[float] = pint.UnitRegistry(None)
    registry.load_definitions([line for line in _DEFINITIONS.splitlines() if line])
    return registry


@lru_cache(maxsize=65536)
def convert_expression(value: float, source: str, target: str) -> float:
    """Convert a number between two expressions in the registry's own names.

    Parameters
    ----------
    value : float
        The number [source].
    source, target : str
        Expressions from :mod:`ingest.unit_list`, such as ``kilogram / hour``; never text from a sheet.

    Returns
    -------
    float
        The number [target].

    Examples
    --------
    >>> round(convert_expression(1.0, "metric_horsepower", "watt"), 5)
    735.49875
    """
    if source == target:
        return value
    return float(_registry().convert(value, source, target))
