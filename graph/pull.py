"""The use case of a dyno log: events, causes, what the car made, what it confirms or refutes of the book."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from graph.capacity import Trial
from graph.diagnose import Observation, Suspect, suspects
from graph.event import Blind, Context, Event, Judge
from graph.fuel_event import judge_fuel
from graph.hindsight import scalar, with_hindsight
from graph.kinds import discover
from graph.load_event import judge_load
from graph.measured import Known, Measured, UpdatedLimit, calibrate, measure, session_limits
from graph.model import Build, Target
from graph.report import Report
from graph.separation import Separation, separate
from graph.service import Request, View, assess, find_record, relevant
from graph.session import SessionFindings, Share, claimed_ethanol, ethanol_notes, judge_session
from graph.symptom import Knowledge
from graph.trace import Pull, Reading, Series
from graph.trial import demand_of, trials_of


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
    trials : tuple of Trial
        What is to be kept of it, as evidence of its own beside the ratings of the book.
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
    trials: tuple[Trial, ...] = ()


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
    view: View,
    car: str,
    reading: Reading,
    knowledge: Knowledge | None = None,
    *,
    basis: str = "crank",
    source: str = "",
    as_stated: bool = False,
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
    source : str
        Name of the log; what was kept of a log of this name before is not counted twice.
    as_stated : bool
        True to compare it with the engine as the platform's sheet states it.

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
        return _session(view, car, reading, reading.series, knowledge, basis, as_stated)
    assert reading.pull is not None
    pull = reading.pull
    first = _assess(view, car, pull, None, as_stated)
    events, blind = find_events(pull, _context(first.build, first.target))
    power, torque, told = measure(pull, basis)
    crank, crank_torque, _ = measure(pull, "crank")
    model = first if crank is None else _assess(view, car, pull, crank.value, as_stated)
    air, charge = calibrate(pull, model, crank)
    trials = trials_of(
        pull, first.build, first.target, events, torque=crank_torque, model=model, air_ratio=air, source=source
    )
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
        updated=_updated(view, first.build, trials),
        suspects=_suspects(events, knowledge),
        notes=(*reading.assumed, *told, *_learnt(first.build)),
        trials=trials,
    )


def _updated(view: View, build: Build, trials: tuple[Trial, ...]) -> tuple[UpdatedLimit, ...]:
    """What the trials do to the ratings of this car's parts, beside what was kept before."""
    record = find_record("car", build.car, view.cars())
    book = relevant(view, record, build.platform)
    kept = [t for t in view.trials() if not any((t.car, t.source) == (x.car, x.source) for x in trials)]
    after = with_hindsight(book, [*kept, *trials], record, build.platform)
    kinds, found = discover(), []
    for trial in trials:
        what, quantity = demand_of(trial)
        place = build.place(trial.slot)
        assert place is not None
        assert place.part is not None
        stated, now = place.part.rating(trial.rating), after[place.part.id].rating(trial.rating)
        assert stated is not None
        assert now is not None
        wide = 1.6448536269514722 * float(np.sqrt(np.log1p(now.spread**2)))
        found.append(
            UpdatedLimit(
                slot=trial.slot,
                part=trial.part,
                what=what,
                quantity=quantity,
                value=trial.demand,
                meaning="failed" if trial.reached else "survived",
                text=trial.text,
                rating=Known(
                    name=trial.rating,
                    quantity=kinds[trial.kind].rating(trial.rating).quantity,
                    stated=scalar(stated),
                    stated_spread=stated.spread,
                    value=scalar(now),
                    low=scalar(now) * float(np.exp(-wide)),
                    high=scalar(now) * float(np.exp(wide)),
                ),
            )
        )
    return tuple(found)


def _learnt(build: Build) -> tuple[str, ...]:
    learnt = build.learnt
    if learnt is None:
        return ()
    return (f"compared with the engine as learnt from {len(learnt.records)} records on {learnt.at[:10]}",)


def _assess(view: View, car: str, pull: Pull, power: float | None, as_stated: bool) -> Report:
    boost = pull.traces.get("boost")
    cap = None if boost is None else float(np.clip(np.nanmax(boost.value), 0.0, 4.0e5))
    request = Request(
        power=float(np.clip(power or 150e3, 2.5e4, 1.1e6)),
        boost=cap or None,
        pressure=pull.ambient_pressure,
        ambient=pull.ambient_temperature,
        as_stated=as_stated,
    )
    return assess(view, car, request, suggest=False, hindsight=False)


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
    view: View,
    car: str,
    reading: Reading,
    series: Series,
    knowledge: Knowledge | None,
    basis: str,
    as_stated: bool,
) -> PullReport:
    request = Request(power=150e3, ambient=series.ambient_temperature, as_stated=as_stated)
    build_report = assess(view, car, request, suggest=False)
    found: SessionFindings = judge_session(series)
    power = None
    value = series.values.get(f"{basis} power")
    if value is not None and np.isfinite(value).any():
        top = float(np.nanmax(value))
        power = Measured(low=top * 0.95, value=top, high=top * 1.05)
    notes = [*reading.assumed]
    ethanol = series.values.get("ethanol")
    if ethanol is not None and np.isfinite(ethanol).any():
        notes += ethanol_notes(float(np.nanmedian(ethanol)), claimed_ethanol(series.notes))
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
