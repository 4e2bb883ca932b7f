"""The use case of a dyno log: events, causes, what the car made, what it confirms or refutes of the book."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from graph.diagnose import Observation, Suspect, suspects
from graph.event import Blind, Context, Event, Judge
from graph.fuel_event import judge_fuel
from graph.load_event import judge_load
from graph.measured import Measured, UpdatedLimit, calibrate, measure, session_limits, updated_limits
from graph.model import Build, Target
from graph.physics import fuel as fuel_physics
from graph.report import Report
from graph.separation import Separation, separate
from graph.service import Request, View, assess
from graph.session import SessionFindings, Share, claimed_ethanol, judge_session
from graph.symptom import Knowledge
from graph.trace import Pull, Reading, Series


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PullReport:
    """The answer to a log.

    Parameters
    ----------
    car : str
        Id of the car.
    events : tuple of Event
        What happened and what holds.
    separation : Separation
        Which side of the fuel supply is short.
    shares : tuple of Share
        Of a session: what each cause takes of the loss.
    blind : tuple of Blind
        What the log cannot show.
    power, torque : Measured or None
        On the basis asked [W], [N.m].
    basis : str
        ``crank`` or ``wheel``.
    air_ratio : float or None
        Measured air for each power over the model's [1].
    charge_difference : float or None
        Measured charge temperature less the model's [K].
    updated : tuple of UpdatedLimit
        What is known better now.
    suspects : tuple of Suspect
        From the signs in the log alone.
    notes : tuple of str
        Sentences about assumptions, basis, fuel.
    """

    car: str
    events: tuple[Event, ...]
    separation: Separation
    shares: tuple[Share, ...]
    blind: tuple[Blind, ...]
    power: Measured | None
    torque: Measured | None
    basis: str
    air_ratio: float | None
    charge_difference: float | None
    updated: tuple[UpdatedLimit, ...]
    suspects: tuple[Suspect, ...]
    notes: tuple[str, ...]


def find_events(pull: Pull, context: Context | None = None) -> tuple[tuple[Event, ...], tuple[Blind, ...]]:
    """Judge one pull.

    Parameters
    ----------
    pull : Pull
        The traces [SI].
    context : Context or None
        Limits of the car [SI].

    Returns
    -------
    events : tuple of Event
        Fuel and mixture, then spark, boost, heat and range.
    blind : tuple of Blind
        What the log cannot show.
    """
    if "engine speed" not in pull.traces:
        return (), (Blind(what="everything over engine speed", why="the log has no engine speed"),)
    judge = Judge(pull=pull, context=context or Context())
    judge_fuel(judge)
    judge_load(judge)
    return tuple(judge.events), tuple(judge.blind)


def seen_in(events: tuple[Event, ...]) -> Observation:
    """Signs that events stand for.

    Parameters
    ----------
    events : tuple of Event
        Of a log.

    Returns
    -------
    Observation
        A sign both there and away in different events counts as there.
    """
    present = tuple(dict.fromkeys(e.sign for e in events if e.sign is not None and not e.good))
    absent = tuple(dict.fromkeys(e.sign for e in events if e.sign is not None and e.good and e.sign not in present))
    return Observation(present=present, absent=absent)


def judge_log(
    view: View, car: str, reading: Reading, knowledge: Knowledge | None = None, *, basis: str = "crank"
) -> PullReport:
    """Judge a log of a car.

    Parameters
    ----------
    view : View
        The book.
    car : str
        Id of the car.
    reading : Reading
        The log [SI].
    knowledge : Knowledge or None
        Faults and signs, for the suspects.
    basis : {'crank', 'wheel'}
        On which the maximum is given.

    Returns
    -------
    PullReport
        [SI]

    Raises
    ------
    UnknownName
        No such car.
    """
    if reading.series is not None:
        return _session(view, car, reading, reading.series, knowledge, basis)
    assert reading.pull is not None
    pull = reading.pull
    first = _assess(view, car, pull, None)
    events, blind = find_events(pull, _context(first.build, first.target))
    power, torque, told = measure(pull, basis)
    crank, _, _ = measure(pull, "crank")
    model = first if crank is None else _assess(view, car, pull, crank.value)
    air, charge = calibrate(pull, model, crank)
    return PullReport(
        car=car,
        events=events,
        separation=separate(events),
        shares=(),
        blind=blind,
        power=power,
        torque=torque,
        basis=basis,
        air_ratio=air,
        charge_difference=charge,
        updated=updated_limits(pull, first.build, first.target, events),
        suspects=_suspects(events, knowledge),
        notes=(*reading.assumed, *told),
    )


def _assess(view: View, car: str, pull: Pull, power: float | None) -> Report:
    boost = pull.traces.get("boost")
    cap = None if boost is None else float(np.clip(np.nanmax(boost.value), 0.0, 4.0e5))
    request = Request(
        power=float(np.clip(power or 150e3, 2.5e4, 1.1e6)),
        boost=cap or None,
        pressure=pull.ambient_pressure,
        ambient=pull.ambient_temperature,
    )
    return assess(view, car, request, suggest=False)


def _suspects(events: tuple[Event, ...], knowledge: Knowledge | None) -> tuple[Suspect, ...]:
    if knowledge is None:
        return ()
    seen = seen_in(events)
    known = {s.id for s in knowledge.signs}
    return suspects(
        knowledge,
        Observation(
            present=tuple(s for s in seen.present if s in known), absent=tuple(s for s in seen.absent if s in known)
        ),
    )


def _context(build: Build, target: Target) -> Context:
    def stated(slot: str, rating: str) -> float | None:
        place = build.place(slot)
        found = place.part.rating(rating) if place is not None and place.part is not None else None
        return found.value if found is not None and isinstance(found.value, float) else None

    sensor = stated("pressure sensor", "full scale")
    return Context(
        boost_range=None if sensor is None else sensor - target.weather.pressure,
        exhaust_limit=stated("exhaust manifold", "gas temperature"),
        injection_window=build.platform.constants.get("injection window"),
    )


def _session(
    view: View, car: str, reading: Reading, series: Series, knowledge: Knowledge | None, basis: str
) -> PullReport:
    build_report = assess(view, car, Request(power=150e3, ambient=series.ambient_temperature), suggest=False)
    found: SessionFindings = judge_session(series)
    power = None
    value = series.values.get(f"{basis} power")
    if value is not None and np.isfinite(value).any():
        top = float(np.nanmax(value))
        power = Measured(low=top * 0.95, value=top, high=top * 1.05)
    notes = [*reading.assumed]
    ethanol = series.values.get("ethanol")
    if ethanol is not None and np.isfinite(ethanol).any():
        notes += _ethanol_notes(float(np.nanmedian(ethanol)), claimed_ethanol(series.notes))
    return PullReport(
        car=car,
        events=found.events,
        separation=separate(found.events),
        shares=found.shares,
        blind=(
            *found.blind,
            Blind(what="where in the speed range it happens", why="the log has one line for each pull"),
        ),
        power=power,
        torque=None,
        basis=basis,
        air_ratio=None,
        charge_difference=None,
        updated=session_limits(series, build_report.build),
        suspects=_suspects(found.events, knowledge),
        notes=tuple(notes),
    )


def _ethanol_notes(measured: float, claimed: float | None) -> list[str]:
    """What the measured content changes against the claimed one."""
    base = fuel_physics.BASE_PETROL
    real = fuel_physics.blend(base, measured)
    notes = [f"fuel taken as E{measured * 100:.0f}, as measured: stoichiometric ratio {real.stoichiometric_ratio:.2f}"]
    if claimed is not None and abs(claimed - measured) > 0.05:
        said = fuel_physics.blend(base, claimed)
        factor = fuel_physics.volume_flow_factor(base, real) / fuel_physics.volume_flow_factor(base, said)
        notes.append(
            f"not E{claimed * 100:.0f} as claimed: it takes {abs(1.0 - factor) * 100:.0f} % "
            f"{'less' if factor < 1.0 else 'more'} fuel by volume and knocks "
            f"{'earlier' if measured < claimed else 'later'}"
        )
    return notes
