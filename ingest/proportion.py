"""Ratings against the engine they are for and against each other: a factor of ten or a wrong unit shows there.

Every window is wide: it is there to ask about slips of the pen, not to judge a part. A rating outside stays loaded.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from graph.kinds import discover
from graph.model import Curve, Part, Platform, Rating
from graph.quantity import Quantity
from ingest.note import find_quantity
from ingest.units import parse_quantity

#: Fuel for a joule at the crank [kg/J]: 0.28 kg/kWh, the full-load figure of a mixture a little rich (assumption).
FUEL_PER_WORK = 0.28 / 3.6e6
AIR_PER_FUEL, FUEL_DENSITY, ATMOSPHERE = 12.5, 745.0, 1.0e5
FACTORY_SLACK, LEAP = 3.0, 3.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """What a rating is measured against.

    Parameters
    ----------
    of : callable
        Platform to the size that its factory engine needs [SI of the rating].
    low, high : float
        Smallest and largest believable multiple of it [1].
    words : str
        What it is.
    """

    of: Callable[[Platform], float]
    low: float
    high: float
    words: str


def _fuel(p: Platform) -> float:
    return p.constants["factory power"] * FUEL_PER_WORK


def _air(p: Platform) -> float:
    return _fuel(p) * AIR_PER_FUEL


def _fuel_volume(p: Platform) -> float:
    return _fuel(p) / FUEL_DENSITY


def _injector(p: Platform) -> float:
    share = p.constants["injection window"] / (4.0 * math.pi)
    return _fuel(p) / p.constants["cylinders"] / share


def _stroke(p: Platform) -> float:
    work = 4.0 * math.pi * p.constants["factory torque"]
    return work * FUEL_PER_WORK / FUEL_DENSITY / p.constants["pump lobes"]


def _pump_current(p: Platform) -> float:
    return _fuel_volume(p) * p.constants["low-side pressure"] / 0.17 / p.constants["pump voltage"]


def _boost(p: Platform) -> float:
    return p.constants["factory boost"]


def _absolute(p: Platform) -> float:
    return p.constants["factory boost"] + ATMOSPHERE


def _torque(p: Platform) -> float:
    return p.constants["factory torque"]


def _turbine(p: Platform) -> float:
    return _air(p) * math.sqrt(1200.0) / _absolute(p)


_AIR = Scale(of=_air, low=0.7, high=4.0, words="the air that the factory power needs")
_LINE = Scale(of=_fuel_volume, low=0.9, high=7.0, words="the fuel that the factory power needs")
_CURRENT = Scale(of=_pump_current, low=0.9, high=9.0, words="the current of a pump for the factory power")
_TORQUE = Scale(of=_torque, low=0.7, high=4.0, words="the factory torque")
_BOOST = Scale(of=_boost, low=0.8, high=5.0, words="the factory boost")
_POWER = "what the factory power asks for"

#: (kind, rating) -> what it is measured against.
SCALES: Mapping[tuple[str, str], Scale] = MappingProxyType(
    {
        ("air_box", "air flow"): _AIR,
        ("inlet_pipe", "air flow"): _AIR,
        ("air_flow_meter", "full scale"): _AIR,
        ("compressor", "choke flow"): _AIR,
        ("compressor", "surge flow"): Scale(of=_air, low=0.03, high=1.5, words=_AIR.words),
        ("tank_pump", "flow"): _LINE,
        ("fuel_line", "flow"): _LINE,
        ("fuel_filter", "flow"): _LINE,
        ("port_injection", "flow"): Scale(of=_fuel_volume, low=0.4, high=7.0, words=_LINE.words),
        ("tank_pump", "current"): _CURRENT,
        ("pump_controller", "current"): _CURRENT,
        ("pump_wiring", "current"): _CURRENT,
        ("injectors", "static flow"): Scale(of=_injector, low=0.4, high=4.0, words=_POWER),
        ("high_pressure_pump", "displacement"): Scale(
            of=_stroke, low=0.7, high=4.5, words="what the factory torque asks for"
        ),
        ("clutch", "torque"): _TORQUE,
        ("packs", "torque"): _TORQUE,
        ("gears", "torque"): _TORQUE,
        ("rods", "torque"): _TORQUE,
        ("calibration", "torque"): _TORQUE,
        ("driveshafts", "shaft torque"): Scale(of=_torque, low=2.5, high=16.0, words=_TORQUE.words),
        ("charge_pipe", "boost"): _BOOST,
        ("throttle", "boost"): _BOOST,
        ("intake_manifold", "boost"): _BOOST,
        ("wastegate", "boost held"): _BOOST,
        ("pressure_sensor", "full scale"): Scale(of=_absolute, low=0.9, high=4.0, words="the factory pressure"),
        ("turbine", "inlet pressure"): Scale(of=_absolute, low=0.8, high=3.5, words="the factory boost, absolute"),
        ("turbine", "flow parameter"): Scale(of=_turbine, low=0.3, high=2.0, words=_POWER),
        ("turbine", "gate area"): Scale(
            of=lambda p: p.constants["factory power"] * 1.0e-9, low=0.3, high=4.0, words=_POWER
        ),
        ("radiator", "conductance"): Scale(
            of=lambda p: p.constants["factory power"] / 118.0, low=0.4, high=4.0, words=_POWER
        ),
        ("oil_cooler", "conductance"): Scale(
            of=lambda p: p.constants["factory power"] / 550.0, low=0.4, high=4.0, words=_POWER
        ),
        ("rods", "speed"): Scale(
            of=lambda p: p.constants["highest speed"], low=0.95, high=1.8, words="the platform's highest speed"
        ),
        ("follower", "pressure"): Scale(
            of=lambda p: p.constants["rail pressure"], low=0.8, high=2.5, words="the rail pressure"
        ),
        ("rail", "relief pressure"): Scale(
            of=lambda p: p.constants["rail pressure"], low=1.0, high=2.5, words="the rail pressure"
        ),
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """A rating that does not go with something else.

    Parameters
    ----------
    rating : str
        Its name.
    found : str
        What is stated and what it amounts to.
    expected : str
        What would go with it.
    """

    rating: str
    found: str
    expected: str


def doubts(part: Part, platforms: Mapping[str, Platform]) -> Iterator[Doubt]:
    """Ratings of a part that are out of all proportion.

    Parameters
    ----------
    part : Part
        Any part.
    platforms : mapping of str to Platform
        By id; those whose id or code the part fits count.

    Yields
    ------
    Doubt
        At most one for each rating and each thing it is measured against.
    """
    fitted = [p for p in platforms.values() if not {p.id, *p.codes}.isdisjoint(part.fits)]
    for rating in part.ratings:
        scale = SCALES.get((part.kind, rating.name))
        if scale is not None and fitted:
            yield from _against_platform(part, rating, scale, fitted)
        yield from _against_name(part, rating)
        yield from _against_neighbours(rating)
    yield from _against_each_other(part)


def _values(rating: Rating) -> tuple[float, ...]:
    return rating.value.y if isinstance(rating.value, Curve) else (rating.value,)


def _against_platform(part: Part, rating: Rating, scale: Scale, fitted: list[Platform]) -> Iterator[Doubt]:
    high = min(scale.high, FACTORY_SLACK * max(1.0, scale.low)) if part.factory else scale.high
    worst = None
    for platform in fitted:
        try:
            size = scale.of(platform)
        except KeyError:  # a platform without that constant has been asked about
            continue
        multiples = [value / size for value in _values(rating)]
        worst = next((m for m in multiples if not scale.low <= m <= high), None)
        if worst is None:
            return
    if worst is not None:
        yield Doubt(
            rating=rating.name,
            found=f"{rating.text!r}, which is {worst:.3g} times {scale.words} of {platform.id}",
            expected=f"{scale.low:g} to {high:g} times",
        )


def _against_name(part: Part, rating: Rating) -> Iterator[Doubt]:
    """A number with the same kind of unit in the part's name that no rating confirms."""
    kind = discover()[part.kind]
    quantity = kind.rating(rating.name).quantity
    if quantity in (Quantity.RATIO, Quantity.COUNT, Quantity.DURATION, Quantity.TEMPERATURE_DIFFERENCE):
        return
    named = find_quantity(part.name, quantity)
    if not named:
        return
    same = [r for r in part.ratings if kind.rating(r.name).quantity is quantity]
    value = parse_quantity(named, quantity).value
    if rating is same[0] and not any(abs(v - value) <= 0.25 * value for r in same for v in _values(r)):
        yield Doubt(rating=rating.name, found=f"{rating.text!r}", expected=f"what the name says: {named!r}")


def _against_neighbours(rating: Rating) -> Iterator[Doubt]:
    """A point of a curve that leaps away from the one before it."""
    if isinstance(rating.value, Curve):
        for (x, y), before in zip(
            zip(rating.value.x[1:], rating.value.y[1:], strict=True), rating.value.y, strict=False
        ):
            if not before or not 1.0 / LEAP < y / before < LEAP:
                yield Doubt(
                    rating=rating.name,
                    found=f"{rating.text!r}, which leaps at its point {x:.4g}",
                    expected=f"a step by less than a factor of {LEAP:g} from point to point",
                )
                return


def _against_each_other(part: Part) -> Iterator[Doubt]:
    if part.kind == "compressor":
        yield from _surge(part)
    if part.kind == "tank_pump":
        yield from _pump_power(part)
    if part.kind == "fuel_grade":
        yield from _fuel_grade(part)


def _surge(part: Part) -> Iterator[Doubt]:
    """Largest flow at which a compressor surges over its largest flow."""
    surge, choke = part.rating("surge flow"), part.rating("choke flow")
    if surge is not None and choke is not None:
        share = max(_values(surge)) / max(_values(choke))
        if not 0.15 <= share <= 0.8:
            yield Doubt(
                rating="surge flow",
                found=f"{surge.text!r}, {share * 100.0:.3g} % of the choke flow {choke.text!r}",
                expected="15 to 80 %",
            )


def _pump_power(part: Part) -> Iterator[Doubt]:
    """Hydraulic power of a pump over its electrical power."""
    flow, current = part.rating("flow"), part.rating("current")
    if flow is None or current is None or isinstance(flow.value, Curve) or isinstance(current.value, Curve):
        return
    pressure, voltage = flow.condition("pressure"), flow.condition("voltage")
    if not isinstance(pressure, float) or not isinstance(voltage, float) or not current.value or not voltage:
        return
    share = flow.value * pressure / (current.value * voltage)
    if not 0.07 <= share <= 0.4:
        yield Doubt(
            rating="current",
            found=f"{current.text!r} for {flow.text!r}: {share * 100.0:.3g} % of the electrical power lifts fuel",
            expected="7 to 40 %",
        )


def _fuel_grade(part: Part) -> Iterator[Doubt]:
    """Octane numbers against each other, and the ethanol that the name states."""
    research, motor, ethanol = part.rating("research octane"), part.rating("motor octane"), part.rating("ethanol")
    if research is not None and motor is not None:
        sensitivity = _values(research)[0] - _values(motor)[0]
        if not 0.0 <= sensitivity <= 22.0:
            yield Doubt(
                rating="motor octane",
                found=f"{motor.text!r} with {research.text!r}",
                expected="a motor octane number 0 to 22 below the research octane number",
            )
    named = re.search(r"\bE(\d{1,3})\b", part.name)
    if ethanol is not None and named is not None and abs(_values(ethanol)[0] - int(named[1]) / 100.0) > 0.05:
        yield Doubt(rating="ethanol", found=f"{ethanol.text!r}", expected=f"what the name says: {named[0]}")
