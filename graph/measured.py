"""What a log measured: maxima with intervals, the gap to the model, and limits that are known better now."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from graph.model import Array, Build
from graph.quantity import Quantity
from graph.report import Report
from graph.trace import Pull, Series

#: Share of the crank power lost on the way to the rollers where the log does not state it: low, usual, high [1].
DRIVE_LOSS = (0.09, 0.13, 0.17)
#: Relative half width of a power at the wheels [1].
WHEEL_SPREAD = 0.02


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """A measured maximum with its interval [SI]."""

    low: float
    value: float
    high: float
    speed: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """A rating before and after a pull.

    Parameters
    ----------
    name : str
        Of the rating.
    quantity : Quantity
        Its unit.
    stated, stated_spread : float
        As the book states it [SI], [1].
    value, low, high : float
        Median, 5th and 95th percentile of what the piece carries, all pulls so far and this one counted [SI].
    """

    name: str
    quantity: Quantity
    stated: float
    stated_spread: float
    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class UpdatedLimit:
    """What a pull says about one limit.

    Parameters
    ----------
    slot : str
        Place on the car.
    part : str or None
        What is in it, where that is known.
    what : str
        The quantity in words.
    quantity : Quantity
        Its unit.
    value : float
        What was reached [SI].
    meaning : str
        ``failed`` where the part had nothing left and fell short, ``survived`` where it carried the value.
    text : str
        How it was reckoned.
    rating : Known or None
        What it does to the rating of the part in that place; None where it moves none.
    """

    slot: str
    part: str | None
    what: str
    quantity: Quantity
    value: float
    meaning: str
    text: str
    rating: Known | None = None


def measure(pull: Pull, basis: str) -> tuple[Measured | None, Measured | None, tuple[str, ...]]:
    """Maximum of power and torque on a basis.

    Parameters
    ----------
    pull : Pull
        The traces [SI].
    basis : {'crank', 'wheel'}
        Where it is counted.

    Returns
    -------
    power, torque : Measured or None
        [W], [N.m]
    told : tuple of str
        What was assumed.
    """
    for source in (basis, "wheel" if basis == "crank" else "crank"):
        found = pull.on_speed(f"{source} power")
        if found is None:
            torque = pull.on_speed(f"{source} torque")
            found = None if torque is None else (torque[0], torque[1] * 2.0 * math.pi * torque[0])
        if found is None:
            continue
        low, usual, high, told = 1.0, 1.0, 1.0, ""
        spread = pull.crank_spread if source == "crank" else WHEEL_SPREAD
        if source != basis:
            less, mid, more = ((1.0 - x) for x in DRIVE_LOSS)
            low, usual, high = (more, mid, less) if basis == "wheel" else (1.0 / less, 1.0 / mid, 1.0 / more)
            told = (
                f"the log gives power at the {source}; loss of the drive taken as {DRIVE_LOSS[0] * 100:.0f} to "
                f"{DRIVE_LOSS[2] * 100:.0f} %"
            )
        return (
            _largest(found[0], found[1], low, usual, high, spread),
            _largest(found[0], found[1] / (2.0 * math.pi * found[0]), low, usual, high, spread),
            (told,) if told else (),
        )
    return None, None, ("the log gives no power",)


def _largest(speed: Array, value: Array, low: float, usual: float, high: float, spread: float) -> Measured:
    top = int(np.argmax(value))
    best = float(value[top])
    return Measured(
        low=best * low * (1.0 - spread),
        value=best * usual,
        high=best * high * (1.0 + spread),
        speed=float(speed[top]),
    )


def calibrate(pull: Pull, model: Report, crank: Measured | None) -> tuple[float | None, float | None]:
    """Compare a pull with the model about its best power.

    Parameters
    ----------
    pull : Pull
        The traces [SI].
    model : Report
        A check at the same power, boost cap and weather.
    crank : Measured or None
        Power at the crank [W].

    Returns
    -------
    ratio : float or None
        Measured air for each power over the model's [1].
    gap : float or None
        Measured charge temperature less the model's [K].
    """
    if crank is None or crank.speed is None:
        return None, None
    curve = model.curve
    known = curve.cause == 0
    if known.sum() < 2:
        return None, None
    own = float(np.interp(crank.speed, curve.speed[known], curve.torque[known]) * 2.0 * math.pi * crank.speed)
    ratio = gap = None
    air = pull.on_speed("air flow")
    if air is not None:
        modelled = float(np.interp(crank.speed, curve.speed[known], curve.air_flow[known])) / own
        ratio = float(np.interp(crank.speed, *air)) / crank.value / modelled
    charge = pull.on_speed("charge temperature")
    if charge is not None:
        gap = float(np.interp(crank.speed, *charge)) - float(
            np.interp(crank.speed, curve.speed[known], curve.charge_temperature[known])
        )
    return ratio, gap


def _limit(
    build: Build, slot: str, what: str, quantity: Quantity, value: float, meaning: str, text: str
) -> UpdatedLimit:
    place = build.place(slot)
    part = place.part.id if place is not None and place.part is not None and not place.claim else None
    return UpdatedLimit(slot=slot, part=part, what=what, quantity=quantity, value=value, meaning=meaning, text=text)


def session_limits(series: Series, build: Build) -> tuple[UpdatedLimit, ...]:
    """What a session says about the pump controller.

    Parameters
    ----------
    series : Series
        One value for each pull [SI].
    build : Build
        The car.

    Returns
    -------
    tuple of UpdatedLimit
        Empty where voltage, current or case temperature were not noted.
    """
    case, current = series.values.get("controller temperature"), series.values.get("pump current")
    volts = series.values.get("pump voltage")
    if case is None or current is None or volts is None:
        return ()
    sags = np.flatnonzero(volts < 0.985 * volts[0])
    if sags.size == 0:
        return ()
    at = int(sags[0])
    text = (
        f"voltage begins to fall in pull {at + 1} at a case of {case[at] - 273.15:.0f} °C; "
        f"{np.nanmax(current):.0f} A were drawn before"
    )
    return (
        _limit(
            build,
            "pump controller",
            "current held when hot",
            Quantity.CURRENT,
            float(np.nanmin(current)),
            "failed",
            text,
        ),
    )
