"""The audit trail: who did what, when and from where. It is added to and read, never changed.

Two locks hold that: the database refuses UPDATE and DELETE on the table (triggers), and each entry carries the digest
of the one before it, so that a row changed behind the program's back breaks the chain.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, insert, select

from graph.actor import Actor, Role
from graph.store import table as t
from graph.store.record import content_hash

if TYPE_CHECKING:
    from graph.store.view import View

NOTHING = "0" * 64  # digest before the first entry


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One thing that was done.

    Parameters
    ----------
    number : int
        Counted up [1].
    at : datetime
        When, UTC.
    who, place : str
        Who, and from where.
    what, about : str
        What was done, and to what.
    load : int or None
        The load under which the records of it stand.
    detail : mapping of str to object
        What was said before and after, where it is not in the records themselves.
    digest : str
        SHA-256 over this entry and the digest before it.
    """

    number: int
    at: datetime
    who: str
    place: str
    what: str
    about: str
    load: int | None
    detail: Mapping[str, Any]
    digest: str


def note(
    connection: Connection,
    actor: Actor,
    what: str,
    about: str,
    *,
    who: str = "",
    load: int | None = None,
    detail: Mapping[str, Any] | None = None,
) -> None:
    """Add an entry inside a writing transaction.

    Parameters
    ----------
    connection : Connection
        Inside a writing transaction: there is one writer at a time, so the chain has one end.
    actor : Actor
        Who acts.
    what, about : str
        What is done, and to what.
    who : str
        Name of a local actor.
    load : int or None
        Load of its records.
    detail : mapping of str to object or None
        JSON.
    """
    c = t.audit.c
    last = connection.execute(select(c.id, c.digest).order_by(c.id.desc()).limit(1)).first()
    number, previous = (1, NOTHING) if last is None else (last.id + 1, last.digest)
    entry = {
        "id": number,
        "at": datetime.now(UTC).replace(microsecond=0),
        "who": who if actor.local else actor.name,
        "place": actor.place,
        "what": what,
        "about": about,
        "load_id": load,
        "detail": dict(detail or {}),
        "previous": previous,
    }
    connection.execute(insert(t.audit).values(**entry, digest=_digest(entry)))


def _digest(entry: Mapping[str, Any]) -> str:
    names = ("id", "who", "place", "what", "about", "load_id", "detail", "previous")
    return content_hash({"at": entry["at"].isoformat(), **{name: entry[name] for name in names}})


def trail(view: View, *, about: str | None = None, last: int | None = None) -> tuple[Entry, ...]:
    """What was done, oldest first.

    Parameters
    ----------
    view : View
        An open transaction.
    about : str or None
        Only what was done to this part, person or file.
    last : int or None
        Only so many of the newest entries.

    Returns
    -------
    tuple of Entry
        In the order of their numbers.

    Raises
    ------
    NotAllowed
        The reader does not administer the database.
    """
    view.actor.need("read the audit trail", Role.ADMINISTER)
    query = select(t.audit).order_by(t.audit.c.id.desc())
    if about is not None:
        query = query.where(t.audit.c.about == about)
    if last is not None:
        query = query.limit(last)
    return tuple(
        Entry(
            number=row["id"],
            load=row["load_id"],
            **{name: row[name] for name in ("at", "who", "place", "what", "about", "detail", "digest")},
        )
        for row in reversed(view._rows(query))
    )


def broken(view: View) -> int | None:
    """First entry of the trail that is not as it was written; None where the chain is whole.

    Parameters
    ----------
    view : View
        An open transaction.

    Returns
    -------
    int or None
        Its number: it was changed, or one before it was taken away [1].
    """
    view.actor.need("read the audit trail", Role.ADMINISTER)
    previous = NOTHING
    for expected, row in enumerate(view._rows(select(t.audit).order_by(t.audit.c.id)), start=1):
        if row["id"] != expected or row["previous"] != previous or row["digest"] != _digest(row):
            return expected
        previous = row["digest"]
    return None
