"""The use case of an arrived car: beliefs, range, suspects, next looks, roller gate."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from graph.diagnose import Observation, Suspect, suspects
from graph.errors import UnknownName
from graph.gate import CHECKS, REPAIRS, Condition, Gate, roller_gate
from graph.look import Look, next_looks
from graph.model import Belief, Part, Place
from graph.note import FACTS, Fact, PlanChange
from graph.recorded import HOUR, Arrival, Standing, on_record, standings, together
from graph.report import Report
from graph.service import Request, View, assess
from graph.symptom import Count, Knowledge, Mistake, learn_counts

#: Speed below which unproved internals are guarded by a cap of torque [1/s].
GUARDED_SPEED = 3500.0 / 60.0
INTERNALS = ("pistons", "rods")


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
    standings : tuple of Standing
        Every slot with how well it is known, by whom and since when.
    facts : mapping of str to Fact
        What was noted of the car, by key of :data:`graph.note.FACTS`.
    noted : Arrival
        Signs, inspections, checks and repairs that the answer rests on: on record and said now.
    mistakes : tuple of Mistake
        What is to be looked at of each part that is not the factory's.
    changes : tuple of PlanChange
        What findings did to the plan and its price.
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
    standings: tuple[Standing, ...]
    facts: Mapping[str, Fact]
    noted: Arrival
    mistakes: tuple[Mistake, ...]
    changes: tuple[PlanChange, ...]

    @property
    def missing(self) -> tuple[str, ...]:
        """What is asked of every car that comes in and was not noted."""
        return tuple(text for key, text in FACTS.items() if key not in self.facts)


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
    facts, before = on_record(view.facts(car))
    arrival = together(before, arrival)
    knowledge = learn_counts(knowledge, counted(view.changes(), knowledge))
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
        looks=next_looks(knowledge, seen, HOUR if arrival.agreed is None else arrival.agreed, rollers=gate.go),
        gate=gate,
        places=places,
        report=report,
        standings=standings(record, report, view.looks(car)) if record is not None else (),
        facts=facts,
        noted=arrival,
        mistakes=_mistakes(places, knowledge),
        changes=view.changes(car),
    )


def counted(changes: Iterable[PlanChange], knowledge: Knowledge) -> tuple[Count, ...]:
    """The shop's own counts: cars on which a fault was confirmed, of all cars on which any was.

    Parameters
    ----------
    changes : iterable of PlanChange
        Of every car.
    knowledge : Knowledge
        Faults that are known.

    Returns
    -------
    tuple of Count
        Empty until a fault was confirmed.
    """
    known = {f.id for f in knowledge.faults}
    confirmed = {(c.car, c.fault) for c in changes if c.fault in known}
    cars = {car for car, _ in confirmed}
    return tuple(
        Count(fault=fault, hits=sum(f == fault for _, f in confirmed), cars=len(cars))
        for fault in sorted(known)
        if cars
    )


def _mistakes(places: Iterable[Place], knowledge: Knowledge) -> tuple[Mistake, ...]:
    """Mistakes of fitting to look for: where a part is not the factory's, or is said not to be."""
    changed = {
        p.slot.name
        for p in places
        if p.claim or p.belief is Belief.CLAIMED or (p.part is not None and not p.part.factory)
    }
    return tuple(m for m in knowledge.mistakes if m.slot in changed)


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
