"""The use case of an arrived car: beliefs, range, suspects, next looks, roller gate."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from graph.diagnose import Observation, Suspect, suspects
from graph.errors import UnknownName
from graph.gate import CHECKS, REPAIRS, Condition, Gate, roller_gate
from graph.look import Look, next_looks
from graph.model import Belief, Part, Place
from graph.report import Report
from graph.service import Request, View, assess
from graph.symptom import Knowledge

HOUR = 3600.0
#: Speed below which unproved internals are guarded by a cap of torque [1/s].
GUARDED_SPEED = 3500.0 / 60.0
INTERNALS = ("pistons", "rods")


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrival:
    """What was noted of an arrived car.

    Parameters
    ----------
    present, absent : tuple of str
        Keys of signs seen to be there, and seen not to be there.
    done : tuple of str
        Keys of inspections made.
    checked, faulty : tuple of str
        Of :data:`graph.gate.CHECKS`: looked at and fine, looked at and not fine.
    repaired : tuple of str
        Of :data:`graph.gate.REPAIRS`.
    agreed : float
        Time agreed with the customer [s].
    """

    present: tuple[str, ...] = ()
    absent: tuple[str, ...] = ()
    done: tuple[str, ...] = ()
    checked: tuple[str, ...] = ()
    faulty: tuple[str, ...] = ()
    repaired: tuple[str, ...] = ()
    agreed: float = HOUR


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Reception:
    """The answer.

    Parameters
    ----------
    car : str
        Id of the car.
    low, high : float
        What the car carries: 5th percentile with claimed parts taken as factory parts, 95th percentile with the
        larger of that and the strongest catalogue part in each claimed place [W].
    suspects : tuple of Suspect
        The most probable first.
    looks : tuple of Look
        In the order of value for each minute, within the time agreed.
    gate : Gate
        May it be loaded.
    places : tuple of Place
        Every slot with its belief.
    report : Report
        The check from which the range is taken, claimed parts as factory parts.
    """

    car: str
    low: float
    high: float
    suspects: tuple[Suspect, ...]
    looks: tuple[Look, ...]
    gate: Gate
    places: tuple[Place, ...]
    report: Report


def arrive(view: View, car: str, knowledge: Knowledge, arrival: Arrival) -> Reception:
    """Receive a car that was modified elsewhere.

    Parameters
    ----------
    view : View
        The book.
    car : str
        Id of the car.
    knowledge : Knowledge
        Faults, signs, inspections.
    arrival : Arrival
        What was noted [SI].

    Returns
    -------
    Reception
        [SI]

    Raises
    ------
    UnknownName
        No such car, sign, check or repair.
    OutOfRange
        Too many signs at once, or one both present and absent.
    """
    for key in (*arrival.present, *arrival.absent):
        knowledge.sign(key)
    _known("check", (*arrival.checked, *arrival.faulty), CHECKS)
    _known("repair", arrival.repaired, REPAIRS)
    _known("inspection", arrival.done, [i.id for i in knowledge.inspections])
    record = next((c for c in view.cars() if c.id == car), None)
    platform = next((p for p in view.platforms() if record is not None and p.id == record.platform), None)
    power = platform.constants.get("factory power", 200e3) if platform is not None else 200e3
    report = assess(view, car, Request(power=power), suggest=False)
    places = report.build.places
    high = report.carries_interval.high or report.carries
    best = _strongest(view.parts(), places, report.build.codes)
    if best:
        high = max(
            high, assess(view, car, Request(power=power, install=best), suggest=False).carries_interval.high or 0.0
        )
    seen = Observation(present=arrival.present, absent=arrival.absent, done=arrival.done)
    gate = roller_gate(_condition(report, arrival))
    return Reception(
        car=car,
        low=report.carries_interval.low,
        high=high,
        suspects=suspects(knowledge, seen),
        looks=next_looks(knowledge, seen, arrival.agreed, rollers=gate.go),
        gate=gate,
        places=places,
        report=report,
    )


def _known(what: str, names: Iterable[str], known: Iterable[str]) -> None:
    listed = list(known)
    for name in names:
        if name not in listed:
            raise UnknownName(what, name, listed)


def _strongest(parts: Iterable[Part], places: Iterable[Place], codes: Iterable[str]) -> tuple[str, ...]:
    """The strongest catalogue part for each place whose part is only claimed."""
    catalogue, fits = list(parts), set(codes)
    chosen = []
    for place in places:
        if place.belief is not Belief.CLAIMED:
            continue
        fitting = [p for p in catalogue if p.kind == place.slot.kind and fits & set(p.fits) and p.ratings]
        if fitting:
            chosen.append(max(fitting, key=lambda p: (not p.factory, _size(p), p.id)).id)
    return tuple(chosen)


def _size(part: Part) -> float:
    value = part.ratings[0].value
    return float(value) if isinstance(value, float | int) else float(max(value.y))


def _condition(report: Report, arrival: Arrival) -> Condition:
    build = report.build
    claimed = tuple(p.slot.name for p in build.places if p.belief is Belief.CLAIMED)
    limits: dict[str, float] = {}
    if "rail pressure" in build.platform.constants:
        limits["rail target"] = build.platform.constants["rail pressure"]
    manifold = build.place("exhaust manifold")
    for rating in manifold.part.ratings if manifold is not None and manifold.part is not None else ():
        if "temperature" in rating.name and isinstance(rating.value, float):
            limits["exhaust temperature"] = rating.value
    unproved = tuple(c for c in claimed if c in INTERNALS)
    below = report.torque_allowed[report.curve.speed <= GUARDED_SPEED]
    if unproved and below.size:
        limits |= {"torque": float(np.max(below)), "torque speed": GUARDED_SPEED}
    return replace(
        Condition(),
        signs=arrival.present,
        absent=arrival.absent,
        checked=arrival.checked,
        faulty=arrival.faulty,
        repaired=arrival.repaired,
        limits=limits,
        claimed=unproved,
        ethanol_unknown=report.target.fuel.ethanol > 0.2 and "ethanol-off" not in arrival.absent,
    )
