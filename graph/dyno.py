"""What a roller sheet says: a few points or a curve of power, with the basis, the loss and the correction it carries.

A figure from a sheet is comparable with the engine's own power only after its basis (crank or wheels), the interval
of the loss between both, and the correction that was applied are known; this module brings it to observed power.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from enum import Enum
from types import MappingProxyType

import numpy as np

from graph.errors import OutOfRange, UnknownName
from graph.model import Array, Fuel, Weather
from graph.physics import atmosphere, correction

#: Relative standard deviation of one reading [1]: roller slip, smoothing, reading off a picture (assumption).
NOISE = 0.02
#: Correction standards: name -> (factor of pressure [Pa] and temperature [K], True where the pressure is dry).
STANDARDS: Mapping[str, tuple[Callable[[float, float], Array], bool]] = MappingProxyType(
    {
        "iso 1585": (correction.iso_1585, True),
        "sae j1349": (correction.sae_j1349_1990, True),
        "din 70020": (correction.din_70020, False),
    }
)
UNCORRECTED = "none"


class Basis(Enum):
    """Where the power of a sheet is counted."""

    CRANK = "crank"
    WHEEL = "wheel"


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """One reading: engine speed [1/s], power as printed [W], boost in the manifold, gauge [Pa]."""

    speed: float
    power: float
    boost: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """One roller sheet.

    Parameters
    ----------
    name : str
        How it is called in sentences.
    points : tuple of Point
        At least one: a curve, or just the peaks of power and torque.
    fuel : Fuel
        What was in the tank.
    weather : Weather
        Air at the rollers, station pressure.
    humidity : float
        Relative humidity [1].
    basis : Basis
        Crank or wheels.
    loss : tuple of two floats
        Least and largest share of the crank power that the printed figure lacks [1], such as (0.10, 0.20) at the
        wheels; at the crank the error of the dyno's own loss measurement, such as (-0.03, 0.03).
    standard : str
        Correction already in the figures, a name of :data:`STANDARDS`, or ``none``.
    dyno : str
        Which rollers; records of the same dyno and basis share one loss.
    noise : float
        Relative standard deviation of one reading [1].
    """

    name: str
    points: tuple[Point, ...]
    fuel: Fuel
    weather: Weather = field(default_factory=Weather)
    humidity: float = 0.0
    basis: Basis = Basis.CRANK
    loss: tuple[float, float] = (0.0, 0.0)
    standard: str = UNCORRECTED
    dyno: str = "own dyno"
    noise: float = NOISE


def applied_factor(record: Record) -> float:
    """Correction factor that the printed figures contain.

    A boost-controlled engine reaches its pressure on any usual day, so the factor to report is 1; a factor in the
    figures is taken out again before they are used.

    Parameters
    ----------
    record : Record
        With its standard and the day.

    Returns
    -------
    float
        1 where the figures are as observed [1].

    Raises
    ------
    UnknownName
        No such standard.
    OutOfRange
        The factor lies outside 0.93 to 1.07, where no standard allows its use.

    References
    ----------
    ISO 1585 and SAE J1349 (range of the factor, secondary sources); UN document GRPE-70-02 (2014): for engines whose
    control compensates pressure and temperature the factor is a double correction.

    Examples
    --------
    >>> from graph.physics.fuel import BASE_PETROL
    >>> day = Weather(temperature=308.0, pressure=100.0e3)
    >>> r = Record(name="sheet", points=(), fuel=BASE_PETROL, weather=day, standard="iso 1585")
    >>> round(applied_factor(r), 5)
    1.00777
    """
    if record.standard == UNCORRECTED:
        return 1.0
    if record.standard not in STANDARDS:
        raise UnknownName("correction standard", record.standard, [UNCORRECTED, *sorted(STANDARDS)])
    formula, dry = STANDARDS[record.standard]
    vapour = record.humidity * float(atmosphere.saturation_pressure(record.weather.temperature)) if dry else 0.0
    factor = float(formula(record.weather.pressure - vapour, record.weather.temperature))
    if not bool(correction.within_validity(factor)):
        low, high = correction.VALID
        raise OutOfRange(
            f"correction of {record.name} after {record.standard}",
            f"a factor of {factor:.3f}",
            f"{low} to {high}",
            "enter the figures as observed, without a correction",
        )
    return factor


def observed(record: Record) -> Array:
    """Power of each point as observed, on the record's own basis.

    Parameters
    ----------
    record : Record
        With its points.

    Returns
    -------
    array, shape (points,)
        [W]

    Raises
    ------
    OutOfRange
        No point, a power or loss that cannot be, or a correction outside its range.
    """
    low, high = record.loss
    if not -0.2 <= low <= high <= 0.5:
        raise OutOfRange(
            f"loss of {record.name}",
            f"{low * 100:g} to {high * 100:g} %",
            "-20 to 50 %, the smaller first",
            "state the share of the crank power that the figure lacks",
        )
    power = np.array([p.power for p in record.points])
    if power.size == 0 or bool((power <= 0.0).any()):
        raise OutOfRange(f"points of {record.name}", "no power above zero", "at least one", "enter a speed and a power")
    return np.asarray(power / applied_factor(record))
