"""What changed between two loads, and how an earlier revision comes back: as a new one, nothing is taken away."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import func, select

from graph.errors import UnknownName
from graph.model import Part
from graph.store import table as t
from graph.store.content import part_content
from graph.store.statement import FieldChange, Say, bare, changes
from graph.store.unit import Unit
from graph.store.view import View


@dataclass(frozen=True, slots=True, kw_only=True)
class Revision:
    """One revision of a part.

    Parameters
    ----------
    number : int
        Counted from 1 for each part [1].
    load : int
        The load that brought it.
    name, who : str
        Of the load: its file and who loaded it.
    at : datetime
        When it was loaded, UTC.
    part : Part
        The part as it stood then.
    """

    number: int
    load: int
    name: str
    who: str
    at: datetime
    part: Part


@dataclass(frozen=True, slots=True, kw_only=True)
class PartChange:
    """What became of a part between two loads.

    Parameters
    ----------
    part : str
        Its number.
    before, after : Part or None
        As it stood after each load; None where it was not there.
    fields : tuple of FieldChange
        What it says differently; empty for a part that came or went.
    load : int
        The load that changed it last.
    who : str
        Who loaded that.
    at : datetime
        When.
    cars : tuple of str
        Cars on record that carry the part.
    """

    part: str
    before: Part | None
    after: Part | None
    fields: tuple[FieldChange, ...]
    load: int
    who: str
    at: datetime
    cars: tuple[str, ...]


def revisions(view: View, part: str) -> tuple[Revision, ...]:
    """Every revision of a part, oldest first.

    Parameters
    ----------
    view : View
        An open transaction.
    part : str
        Its number.

    Returns
    -------
    tuple of Revision
        The last one is the current one.

    Raises
    ------
    UnknownName
        No such part.
    """
    c = t.part_revision.c
    found = view._rows(select(c.id, c.load_id).where(c.part_id == part).order_by(c.id))
    loads = {r["id"]: r for r in view._rows(select(t.load).where(t.load.c.id.in_([r["load_id"] for r in found])))}
    if not found:
        raise UnknownName("part", part, [p.id for p in view.parts()])
    records = view._parts(select(c.id).where(c.part_id == part), everything=False)  # in the order of the revisions
    return tuple(
        Revision(
            number=number,
            load=row["load_id"],
            name=loads[row["load_id"]]["name"],
            who=loads[row["load_id"]]["who"],
            at=loads[row["load_id"]]["at"],
            part=record,
        )
        for number, (row, record) in enumerate(zip(found, records, strict=True), start=1)
    )


def difference(view: View, load_a: int, load_b: int, say: Say = bare) -> tuple[PartChange, ...]:
    """Parts that stood differently after two loads.

    Parameters
    ----------
    view : View
        An open transaction.
    load_a, load_b : int
        Two loads, in any order: what stood after the first is *before*.
    say : callable
        Puts the SI values of ratings into words.

    Returns
    -------
    tuple of PartChange
        In the order of the part numbers. A part whose row has only moved in its sheet has not changed.

    Raises
    ------
    UnknownName
        No such load.
    """
    loads = {row["id"]: row for row in view.loads()}
    for load in (load_a, load_b):
        if load not in loads:
            raise UnknownName("load", str(load), [str(known) for known in loads])
    before, after = _standing(view, load_a), _standing(view, load_b)
    touched = [number for number in before.keys() | after.keys() if before.get(number) != after.get(number)]
    records = _parts(view, [r for number in touched for r in (before.get(number), after.get(number)) if r is not None])
    origin = _loads_of(view, list(records))
    carried: dict[str, list[str]] = {}
    for car in view.cars():
        for installed in car.installed:
            if installed.part is not None:
                carried.setdefault(installed.part, []).append(car.id)
    found = []
    for number in sorted(touched):
        old, new = before.get(number, 0), after.get(number, 0)
        one, other = records.get(old), records.get(new)
        fields = changes(one, other, say) if one is not None and other is not None else ()
        if one is not None and other is not None and not fields:
            continue
        bringer = loads[origin[max(old, new)]]
        found.append(
            PartChange(
                part=number,
                before=one,
                after=other,
                fields=fields,
                load=bringer["id"],
                who=bringer["who"],
                at=bringer["at"],
                cars=tuple(dict.fromkeys(carried.get(number, ()))),
            )
        )
    return tuple(found)


def restore(unit: Unit, part: str, revision: int, *, who: str, tool_version: str) -> int:
    """Make an earlier revision of a part the current one, as a new revision.

    Parameters
    ----------
    unit : Unit
        An open writing transaction.
    part : str
        The part's number.
    revision : int
        Which one, counted from 1.
    who : str
        Who restores it.
    tool_version : str
        Of the program.

    Returns
    -------
    int
        The load under which it is recorded; nothing but that load is added where the revision is the current one.

    Raises
    ------
    UnknownName
        No such part or revision.
    """
    known = revisions(unit, part)
    wanted = next((r for r in known if r.number == revision), None)
    if wanted is None:
        raise UnknownName(f"revision of {part}", str(revision), [str(r.number) for r in known])
    load = unit.record_load(
        name=f"revision {revision} of {part} restored",
        sha256=part_content(wanted.part),
        who=who,
        tool_version=tool_version,
        what="restore revision",
        about=part,
        detail={"revision": revision},
    )
    unit.add_parts(load, [wanted.part])
    return load


def _standing(view: View, load: int) -> dict[str, int]:
    """Revision of each part that was current after a load."""
    c = t.part_revision.c
    latest = select(c.part_id, func.max(c.id).label("id")).where(c.load_id <= load).group_by(c.part_id)
    return {row["part_id"]: row["id"] for row in view._rows(latest)}


def _parts(view: View, ids: list[int]) -> dict[int, Part]:
    """Parts by revision; read one revision of each number at a time, so that the two are not mixed up."""
    c = t.part_revision.c
    rows = view._rows(select(c.id, c.part_id).where(c.id.in_(ids)).order_by(c.id)) if ids else []
    found: dict[int, Part] = {}
    for wanted in (_firsts(rows), _lasts(rows)):
        parts = {p.id: p for p in view._parts(select(c.id).where(c.id.in_(wanted.values())), everything=False)}
        found.update((revision, parts[number]) for number, revision in wanted.items())
    return found


def _firsts(rows: list[Mapping[str, Any]]) -> dict[str, int]:
    return {row["part_id"]: row["id"] for row in reversed(rows)}


def _lasts(rows: list[Mapping[str, Any]]) -> dict[str, int]:
    return {row["part_id"]: row["id"] for row in rows}


def _loads_of(view: View, ids: list[int]) -> dict[int, int]:
    c = t.part_revision.c
    return {r["id"]: r["load_id"] for r in view._rows(select(c.id, c.load_id).where(c.id.in_(ids)))} if ids else {}
