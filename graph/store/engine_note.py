"""What dyno records taught of the engines of cars: rows to records and back. Append only; the newest row of a car holds."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from hashlib import sha256
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, insert, select

from graph.actor import Role
from graph.errors import UsageError
from graph.learnt import Learnt
from graph.model import Car
from graph.store import table as t

if TYPE_CHECKING:
    from graph.store.unit import Unit

ENGINE = "engine"
MAY = "keep what rollers taught of an engine"


@dataclass(frozen=True, slots=True, kw_only=True)
class Lesson:
    """One revision of what is known of a car's engine.

    Parameters
    ----------
    car : str
        Which.
    learnt : Learnt or None
        What held from then on; None where it was withdrawn.
    reason : str
        Why it was withdrawn.
    digests : tuple of str
        SHA-256 of the logs that it came from.
    by, at : str
        Who and when (ISO date and time).
    """

    car: str
    learnt: Learnt | None
    reason: str = ""
    digests: tuple[str, ...] = ()
    by: str = ""
    at: str = ""


def read_lessons(connection: Connection, car: str | None = None) -> tuple[Lesson, ...]:
    """Every revision of what is known of engines, of one car or of all, oldest first."""
    c = t.car_note.c
    query = select(c.car, c.body, t.load.c.at, t.load.c.who).join(t.load, t.load.c.id == c.load_id)
    query = query.where(c.topic == ENGINE).order_by(c.id)
    if car is not None:
        query = query.where(c.car == car)
    return tuple(
        _lesson(row["car"], row["body"], by=row["who"], at=row["at"].isoformat(timespec="minutes"))
        for row in connection.execute(query).mappings()
    )


def _lesson(car: str, body: Mapping[str, Any], *, by: str, at: str) -> Lesson:
    said = body["learnt"]
    learnt = None
    if said is not None:
        learnt = Learnt(
            fields=tuple(said["fields"]),
            mean=tuple(said["mean"]),
            covariance=tuple(tuple(row) for row in said["covariance"]),
            fed=tuple((name, value) for name, value in said["fed"]),
            readings=said["readings"],
            records=tuple(said["records"]),
            fuels=tuple(said["fuels"]),
            words=tuple(said["words"]),
            by=by,
            at=at,
        )
    return Lesson(car=car, learnt=learnt, reason=body["reason"], digests=tuple(body["digests"]), by=by, at=at)


def with_lessons(cars: Sequence[Car], lessons: Sequence[Lesson]) -> tuple[Car, ...]:
    """Cars with the newest of what is known of their engines."""
    newest = {lesson.car: lesson.learnt for lesson in lessons}
    return tuple(replace(car, learnt=newest[car.id]) if car.id in newest else car for car in cars)


def keep_lesson(
    unit: Unit, car: str, learnt: Learnt, *, who: str, tool_version: str, digests: Sequence[str] = ()
) -> int:
    """Keep what dyno records taught of an engine; it replaces what was kept before, which stays on record.

    Parameters
    ----------
    unit : Unit
        An open writing transaction.
    car : str
        Id of the car.
    learnt : Learnt
        What holds from now on.
    who : str
        Who keeps it.
    tool_version : str
        Of the program.
    digests : sequence of str
        SHA-256 of the logs that it came from.

    Returns
    -------
    int
        The load under which it is recorded.

    Raises
    ------
    NotAllowed
        The person may not record calibrations.
    """
    unit.actor.need(MAY, Role.CALIBRATE)
    return _add(unit, car, learnt, "", digests, who, tool_version)


def withdraw_lesson(unit: Unit, car: str, reason: str, *, who: str, tool_version: str) -> int:
    """Let an engine count as stated again; what was kept stays on record.

    Parameters
    ----------
    unit : Unit
        An open writing transaction.
    car : str
        Id of the car.
    reason : str
        Why, in words.
    who : str
        Who withdraws it.
    tool_version : str
        Of the program.

    Returns
    -------
    int
        The load under which it is recorded.

    Raises
    ------
    NotAllowed
        The person may not record calibrations.
    UsageError
        Nothing is kept of this car's engine, or no reason is given.
    """
    unit.actor.need(MAY, Role.CALIBRATE)
    if not reason.strip():
        raise UsageError("say why it is withdrawn: it stays on record beside what was kept")
    kept = read_lessons(unit._connection, car)
    if not kept or kept[-1].learnt is None:
        raise UsageError(f"nothing is kept of the engine of {car}; there is nothing to withdraw")
    return _add(unit, car, None, reason.strip(), (), who, tool_version)


def _add(
    unit: Unit, car: str, learnt: Learnt | None, reason: str, digests: Sequence[str], who: str, tool_version: str
) -> int:
    told = "as stated again" if learnt is None else f"{learnt.readings} readings"
    load = unit.record_load(
        name=f"{ENGINE} of {car}: {told}",
        sha256=digests[0] if len(digests) == 1 else sha256("".join(digests).encode()).hexdigest(),
        who=who,
        tool_version=tool_version,
        what=ENGINE,
        about=car,
        detail={"reason": reason} if learnt is None else {"records": list(learnt.records)},
    )
    said = None if learnt is None else {k: v for k, v in asdict(learnt).items() if k not in ("by", "at")}
    body = {"learnt": said, "reason": reason, "digests": list(digests)}
    unit._connection.execute(insert(t.car_note), [{"load_id": load, "car": car, "topic": ENGINE, "body": body}])
    return load
