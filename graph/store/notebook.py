"""Notes of cars and trials of limits: rows to records and back. Append only; who and when stand in their load."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, insert, select

from graph.actor import Role
from graph.capacity import Trial
from graph.decision import Answer, Decision
from graph.model import Belief
from graph.note import Fact, Look, Photo, PlanChange
from graph.store import table as t

if TYPE_CHECKING:
    from graph.store.unit import Unit

LOOK, FACT, CHANGE, DECISION = "look", "fact", "change", "decision"


def read_trials(connection: Connection) -> tuple[Trial, ...]:
    """Every trial that still counts, oldest first: none of a place whose part was fitted anew since."""
    c = t.car_note.c
    looks = connection.execute(select(c.car, c.body, c.load_id).where(c.topic == LOOK).order_by(c.id)).all()
    fitted = {(car, body["slot"]): load for car, body, load in looks if body.get("fitted")}
    query = select(t.trial, t.load.c.at).join(t.load, t.load.c.id == t.trial.c.load_id).order_by(t.trial.c.id)
    return tuple(
        Trial(
            car=r["car"],
            slot=r["slot"],
            kind=r["kind"],
            rating=r["rating"],
            part=r["part"],
            reached=r["reached"],
            demand=r["demand"],
            capacity=r["capacity"],
            rated=r["rated"],
            spread=r["spread"],
            source=r["source"],
            date=r["at"].date().isoformat(),
            text=r["text"],
        )
        for r in connection.execute(query).mappings()
        if r["load_id"] > fitted.get((r["car"], r["slot"]), 0)
    )


def _notes(connection: Connection, topic: str, car: str | None) -> list[dict[str, Any]]:
    c = t.car_note.c
    query = select(c.car, c.body, t.load.c.at, t.load.c.who).join(t.load, t.load.c.id == c.load_id)
    query = query.where(c.topic == topic).order_by(c.id)
    if car is not None:
        query = query.where(c.car == car)
    return [
        {
            **row["body"],
            "car": row["car"],
            "at": row["at"].isoformat(timespec="minutes"),
            "by": str(row["body"].get("by") or row["who"]),
        }
        for row in connection.execute(query).mappings()
    ]


def read_looks(connection: Connection, car: str | None = None) -> tuple[Look, ...]:
    """Looks at one car or at all, oldest first."""
    return tuple(
        Look(**{**body, "belief": Belief(body["belief"]), "photos": tuple(Photo(**p) for p in body["photos"])})
        for body in _notes(connection, LOOK, car)
    )


def read_facts(connection: Connection, car: str | None = None) -> tuple[Fact, ...]:
    """Facts about one car or all, oldest first."""
    return tuple(Fact(**body) for body in _notes(connection, FACT, car))


def read_changes(connection: Connection, car: str | None = None) -> tuple[PlanChange, ...]:
    """Changes of plans of one car or all, oldest first."""
    return tuple(PlanChange(**body) for body in _notes(connection, CHANGE, car))


def read_decisions(connection: Connection, car: str | None = None) -> tuple[Decision, ...]:
    """What customers decided about one car or all, oldest first."""
    notes = _notes(connection, DECISION, car)
    return tuple(Decision(**{**body, "answer": Answer(body["answer"])}) for body in notes)


def add_trials(unit: Unit, trials: Iterable[Trial], *, sha256: str, who: str, tool_version: str) -> int | None:
    """Keep what one log showed of the limits of one car; the same log of the same car is kept once.

    Parameters
    ----------
    unit : Unit
        An open writing transaction.
    trials : iterable of Trial
        Of one log and one car.
    sha256 : str
        Digest of the log's content.
    who : str
        Who judged it.
    tool_version : str
        Of the program.

    Returns
    -------
    int or None
        The load under which they are recorded; None where there is nothing new.

    Raises
    ------
    NotAllowed
        The person may not record pulls.
    """
    listed = list(trials)
    if not listed:
        return None
    unit.actor.need("record pulls", Role.CALIBRATE)
    connection = unit._connection
    known = (
        select(t.trial.c.id)
        .join(t.load, t.load.c.id == t.trial.c.load_id)
        .where(t.load.c.sha256 == sha256, t.trial.c.car == listed[0].car)
    )
    if connection.execute(known.limit(1)).first() is not None:
        return None
    load = unit.record_load(
        name=f"pull of {listed[0].car}: {listed[0].source}",
        sha256=sha256,
        who=who,
        tool_version=tool_version,
        what="pull",
        about=listed[0].car,
    )
    names = [c.name for c in t.trial.columns if c.name not in ("id", "load_id")]
    rows = [{"load_id": load, **{name: getattr(trial, name) for name in names}} for trial in listed]
    connection.execute(insert(t.trial), rows)
    return load


def add_notes(unit: Unit, notes: Iterable[Look | Fact | PlanChange | Decision], *, who: str, tool_version: str) -> None:
    """Keep notes of cars, each under a load of its own.

    Parameters
    ----------
    unit : Unit
        An open writing transaction.
    notes : iterable of Look, Fact, PlanChange or Decision
        Of any cars.
    who : str
        Who enters them.
    tool_version : str
        Of the program.

    Raises
    ------
    NotAllowed
        The person may not record what is on a car.
    """
    for note in notes:
        unit.actor.need("record what is on a car", Role.ADVISE, Role.CALIBRATE)
        topic, about, body = _body(note)
        load = unit.record_load(
            name=f"{topic} of {note.car}: {about}",
            sha256="",
            who=who,
            tool_version=tool_version,
            what=topic,
            about=note.car,
        )
        row = {"load_id": load, "car": note.car, "topic": topic, "body": {**body, "by": note.by}}
        unit._connection.execute(insert(t.car_note), [row])


def _body(note: Look | Fact | PlanChange | Decision) -> tuple[str, str, dict[str, Any]]:
    if isinstance(note, Look):
        return (
            LOOK,
            f"{note.slot}, {note.belief.value}",
            {
                "slot": note.slot,
                "belief": note.belief.value,
                "part": note.part,
                "claim": note.claim,
                "condition": note.condition,
                "instrument": note.instrument,
                "photos": [{"name": p.name, "sha256": p.sha256, "path": p.path} for p in note.photos],
                "fitted": note.fitted,
            },
        )
    if isinstance(note, Fact):
        return FACT, note.key, {"key": note.key, "text": note.text}
    if isinstance(note, Decision):
        return (
            DECISION,
            f"{note.line}, {note.answer.value}",
            {
                "line": note.line,
                "answer": note.answer.value,
                "reason": note.reason,
                "initials": note.initials,
                "harmful": note.harmful,
                "power": note.power,
                "total": note.total,
            },
        )
    return (
        CHANGE,
        f"{note.slot}, {note.finding}",
        {
            "slot": note.slot,
            "finding": note.finding,
            "action": note.action,
            "price": note.price,
            "agreed": note.agreed,
            "fault": note.fault,
        },
    )
