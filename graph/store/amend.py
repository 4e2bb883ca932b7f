"""Corrections by hand: a rating is changed only by somebody who has seen how it stands, and a sheet asks before it undoes that."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

from sqlalchemy import select

from graph.actor import Role
from graph.errors import Conflict
from graph.model import Car, Part, Platform, Rating
from graph.store import table as t
from graph.store.content import part_content
from graph.store.history import Revision, revisions
from graph.store.record import car_body, content_hash, platform_body
from graph.store.statement import FieldChange, Say, bare, changes
from graph.store.unit import Unit
from graph.store.view import CAR, PLATFORM, View

CORRECTION = "correct rating"
_SHOWN = 3
_FEW = 500  # parts that are asked for by their numbers


def correct_rating(
    unit: Unit, part: str, rating: Rating, *, seen: int, who: str, tool_version: str, say: Say = bare
) -> Revision:
    """Change or add one rating of a part, as a new revision.

    Parameters
    ----------
    unit : Unit
        An open writing transaction: between the look and the write nobody else writes.
    part : str
        The part's number.
    rating : Rating
        As it shall stand [SI].
    seen : int
        Revision of the part that the editor saw [1].
    who : str
        Name of a local actor.
    tool_version : str
        Of the program.
    say : callable
        Puts the SI values of ratings into words, for the trail and for whoever is refused.

    Returns
    -------
    Revision
        The current one now.

    Raises
    ------
    Conflict
        Somebody changed the part since; the sentence says who, what and when.
    NotAllowed
        The actor does not keep the book.
    UnknownName
        No such part.
    """
    unit.actor.need("correct a rating", Role.KEEP)
    known = revisions(unit, part)
    _refuse_unseen(part, known, seen, say)
    before = known[-1].part
    ratings = {r.name: r for r in before.ratings} | {rating.name: rating}
    after = replace(before, ratings=tuple(ratings.values()))
    said = [{"field": c.field, "before": c.before, "after": c.after} for c in changes(before, after, say)]
    load = unit.record_load(
        name=f"{rating.name} of {part} corrected",
        sha256=part_content(after),
        who=who,
        tool_version=tool_version,
        what=CORRECTION,
        about=part,
        detail={"seen": seen, "changes": said},
    )
    unit.add_parts(load, [after])
    return revisions(unit, part)[-1]


def _refuse_unseen(part: str, known: tuple[Revision, ...], seen: int, say: Say) -> None:
    current = known[-1]
    if seen == current.number:
        return
    read = next((r for r in known if r.number == seen), None)
    if read is None:
        raise Conflict(f"{part} has revisions 1 to {current.number}, not {seen}; read it again, nothing was changed")
    said = _words(changes(read.part, current.part, say)) or "nothing that counts"
    raise Conflict(
        f"{part}: {current.who} changed {said} on {current.at:%Y-%m-%d at %H:%M} UTC (revision {current.number}, "
        f"{current.name}), after revision {seen} that you saw; read it again, nothing was overwritten"
    )


def _words(fields: tuple[FieldChange, ...]) -> str:
    shown = [f"{f.field} from {f.before or 'nothing'!r} to {f.after or 'nothing'!r}" for f in fields[:_SHOWN]]
    return " and ".join(shown) + (f" and {len(fields) - _SHOWN} more" if len(fields) > _SHOWN else "")


def last_load(view: View) -> int:
    """Number of the newest load, 0 before the first; what was read until then has been seen."""
    return max((row["id"] for row in view._rows(select(t.load.c.id).order_by(t.load.c.id.desc()).limit(1))), default=0)


def refuse_undoing(
    view: View,
    parts: Iterable[Part],
    *,
    seen: int | None = None,
    platforms: Iterable[Platform] = (),
    cars: Iterable[Car] = (),
) -> None:
    """Refuse to write over a correction by hand, or over what somebody wrote after it was read.

    Parameters
    ----------
    view : View
        The writing transaction.
    parts : iterable of Part
        About to be written.
    seen : int or None
        Newest load when the book was read [1]; None to ask for corrections only.
    platforms : iterable of Platform
        About to be written; asked for with `seen` alone, as nothing corrects them by hand.
    cars : iterable of Car
        About to be written, likewise.

    Raises
    ------
    Conflict
        Names the first such record, who changed it and when, and how many more there are.
    """
    undone = _parts_undone(view, {part.id: part for part in parts}, seen)
    if seen is not None:
        for kind, bodies in (
            (PLATFORM, {p.id: content_hash(platform_body(p)) for p in platforms}),
            (CAR, {car.id: content_hash(car_body(car)) for car in cars}),
        ):
            undone += _documents_undone(view, kind, bodies, seen)
    if undone:
        first, more = undone[0], len(undone) - 1
        raise Conflict(
            f"{first['record']}: {first['who']} wrote '{first['name']}' on {first['at']:%Y-%m-%d at %H:%M} UTC, "
            f"and the sheet says otherwise{f' (so for {more} more records)' if more else ''}; nothing was overwritten: "
            "bring the sheet up to date, or load it with --replace-corrections"
        )


def _parts_undone(view: View, written: Mapping[str, Part], seen: int | None) -> list[Mapping[str, Any]]:
    c = t.part_revision.c
    by_hand = t.audit.c.what == CORRECTION
    query = (
        select(c.part_id.label("record"), c.content, t.load.c.who, t.load.c.at, t.load.c.name)
        .join(t.load, t.load.c.id == c.load_id)
        .outerjoin(t.audit, t.audit.c.load_id == t.load.c.id)
        .where(c.superseded_by.is_(None), by_hand if seen is None else by_hand | (t.load.c.id > seen))
        .order_by(c.part_id)
    )
    return [
        row
        for row in view._rows(query.where(c.part_id.in_(written)) if len(written) <= _FEW else query)
        if row["record"] in written and part_content(written[row["record"]]) != row["content"]
    ]


def _documents_undone(view: View, kind: str, content: Mapping[str, str], seen: int) -> list[Mapping[str, Any]]:
    c = t.document_revision.c
    query = (
        select(c.record_id.label("record"), c.content, t.load.c.who, t.load.c.at, t.load.c.name)
        .join(t.load, t.load.c.id == c.load_id)
        .where(c.type == kind, c.superseded_by.is_(None), c.load_id > seen)
        .order_by(c.record_id)
    )
    return [row for row in view._rows(query) if content.get(row["record"], row["content"]) != row["content"]]
