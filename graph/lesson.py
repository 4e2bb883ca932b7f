"""What dyno records of one car teach, and what they make of another boost, fuel, part or day."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from graph.calibration import Calibration, condensed
from graph.dyno import Basis, Point, Record
from graph.errors import MissingRecord
from graph.kinds import discover
from graph.learn import learn
from graph.learnt import Learnt
from graph.model import Array, Build, Car, Fuel, Part, Platform, Target, Weather
from graph.predict import Prediction, predict
from graph.report import Interval
from graph.service import Request, View, aim, assemble, find_record, relevant
from graph.trace import Pull

#: Speeds at which a continuous log is read: neighbouring samples of one log share their noise [1].
READINGS = 14
#: Share of the highest boost above which a log counts as being at full boost [1].
FULL_BOOST = 0.9


@dataclass(frozen=True, slots=True, kw_only=True)
class Day:
    """Where and with what a record was taken: fuel in the tank and air at the rollers."""

    fuel: Fuel
    weather: Weather


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outlook:
    """What a calibrated engine makes.

    Parameters
    ----------
    request : Request
        Boost, fuel, parts and day asked [SI].
    prediction : Prediction
        Torque over speed and power at the speed of the power [N.m], [W].
    fuel : str
        Fuel of the prediction.
    """

    request: Request
    prediction: Prediction
    fuel: str

    @property
    def torque(self) -> tuple[float, Interval]:
        """Speed [1/s] of the highest median torque, and the torque there [N.m]."""
        return _peak(self.prediction, np.ones_like(self.prediction.speed))

    @property
    def power(self) -> tuple[float, Interval]:
        """Speed [1/s] of the highest median power, and the power there [W]."""
        return _peak(self.prediction, 2.0 * np.pi * self.prediction.speed)


def _in_words(record: Record) -> str:
    boost = [p.boost / 1e5 for p in record.points]
    return (
        f"{record.name}: {len(record.points)} readings, {min(boost):.2f} to {max(boost):.2f} bar, {record.fuel.name}, "
        f"{record.weather.temperature - 273.15:.0f} °C, {record.weather.pressure / 100.0:.0f} hPa, "
        f"{record.basis.value}, loss {100.0 * record.loss[0]:.0f} to {100.0 * record.loss[1]:.0f} %, correction {record.standard}"
    )


def _peak(found: Prediction, factor: Array) -> tuple[float, Interval]:
    at = int(np.nanargmax(found.median * factor))
    low, median, high = (float(row[at] * factor[at]) for row in (found.low, found.median, found.high))
    return float(found.speed[at]), Interval(low=low, median=median, high=high)


@dataclass(frozen=True, slots=True, kw_only=True)
class Classroom:
    """One car with what is needed to learn from its records.

    Parameters
    ----------
    view : View
        The book.
    car : str
        Id of the car.

    Raises
    ------
    UnknownName
        No such car.
    """

    view: View
    car: str

    def platform(self) -> Platform:
        """The platform of the car."""
        return find_record("platform", self._record().platform, self.view.platforms())

    def day(self, request: Request) -> Day:
        """Fuel and air of a request.

        Parameters
        ----------
        request : Request
            Its fuel, ambient temperature, pressure and altitude count [SI].

        Returns
        -------
        Day
            The car's own fuel where none is named.
        """
        target = self.target(request)
        return Day(fuel=target.fuel, weather=target.weather)

    def build(self, request: Request) -> Build:
        """The car with the parts and the fuel that a request names, its engine as the platform's sheet states it."""
        stated = replace(self._record(), learnt=None)
        return assemble(stated, self.platform(), self._catalogue(request), request.install, request.fuel)

    def target(self, request: Request) -> Target:
        """What a request aims at: boost, fuel and air [SI]."""
        return aim(request, self._record(), self._catalogue(request))

    def _record(self) -> Car:
        return find_record("car", self.car, self.view.cars())

    def _catalogue(self, request: Request) -> dict[str, Part]:
        names = (*request.install, *filter(None, (request.fuel,)))
        return relevant(self.view, self._record(), self.platform(), names)

    def learn(self, records: Sequence[Record]) -> Calibration:
        """What the records say of the car as it is on record.

        Parameters
        ----------
        records : sequence of Record
            Roller sheets [SI].

        Returns
        -------
        Calibration
            As :func:`graph.learn.learn` gives it.
        """
        nothing = Request(power=self.platform().constants.get("factory power", 1.0e5))
        return learn(self.build(nothing), records, discover())

    def kept(self, calibration: Calibration, records: Sequence[Record]) -> Learnt:
        """What the book keeps of a calibration, for every later check of the car.

        Parameters
        ----------
        calibration : Calibration
            From :meth:`learn`.
        records : sequence of Record
            The sheets and logs that it came from.

        Returns
        -------
        Learnt
            With the records in words.
        """
        return condensed(calibration, self.platform().constants["power speed"], [_in_words(r) for r in records])

    def outlook(self, calibration: Calibration, request: Request) -> Outlook:
        """What the calibrated engine makes with another boost, fuel, part or day.

        Parameters
        ----------
        calibration : Calibration
            From :meth:`learn`.
        request : Request
            What is asked [SI].

        Returns
        -------
        Outlook
            Nine cases in ten [SI].
        """
        target = self.target(request)
        found = predict(calibration, self.build(request), target, discover())
        return Outlook(request=request, prediction=found, fuel=target.fuel.name)


def readings(pull: Pull, name: str, basis: Basis) -> tuple[Point, ...]:
    """Readings of power and boost over speed in the log of one pull.

    Parameters
    ----------
    pull : Pull
        One run at full load.
    name : str
        How it is called in sentences.
    basis : Basis
        Whether its power counts at the crank or at the wheels.

    Returns
    -------
    tuple of Point
        At most :data:`READINGS`, only where the boost is near its highest.

    Raises
    ------
    MissingRecord
        The log lacks power (or torque) on that basis, boost, or engine speed.
    """
    boost, measured = pull.on_speed("boost"), _power(pull, basis)
    if boost is None or measured is None:
        lacking = "boost" if boost is None else f"{basis.value} power or torque"
        raise MissingRecord(
            f"{name} lacks {lacking} over engine speed; learning needs both: name the other basis, or enter readings "
            "one by one"
        )
    speed, watts = measured
    order, other = np.argsort(speed), np.argsort(boost[0])
    speed, watts = speed[order], watts[order]
    pressed = np.interp(speed, boost[0][other], boost[1][other])
    full = (pressed >= FULL_BOOST * pressed.max()) & (watts > 0.0)
    edges = np.linspace(speed[full][0], speed[full][-1], READINGS + 1)
    points = []
    for low, high in itertools.pairwise(edges):
        inside = full & (speed >= low) & (speed <= high)
        if inside.any():
            middle, value, gauge = (float(np.mean(v[inside])) for v in (speed, watts, pressed))
            points.append(Point(speed=middle, power=value, boost=gauge))
    return tuple(points)


def _power(pull: Pull, basis: Basis) -> tuple[Array, Array] | None:
    """Power over speed [1/s], [W], from the power channel or else from torque."""
    power, torque = pull.on_speed(f"{basis.value} power"), pull.on_speed(f"{basis.value} torque")
    if power is None and torque is not None:
        return torque[0], torque[1] * 2.0 * np.pi * torque[0]
    return power
