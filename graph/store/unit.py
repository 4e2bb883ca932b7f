"""What a transaction adds. Each way in asks for a role; nothing stays if the transaction fails."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import Table, func, insert, select, update

from graph.actor import WRITING, Role
from graph.model import Car, Part, Platform
from graph.store import table as t
from graph.store.record import (
    SheetRow,
    car_body,
    content_hash,
    interface_row,
    part_content,
    part_row,
    platform_body,
    rating_row,
    relation_row,
)
from graph.store.trail import note
from graph.store.view import CAR, PLATFORM, View


class Unit(View):
    """What one use case adds; nothing of it stays if the transaction fails. Each way in asks for a role."""

    def record_load(
        self,
        *,
        name: str,
        sha256: str,
        who: str,
        tool_version: str,
        mapping: Mapping[str, str] | None = None,
        what: str = "load",
        about: str | None = None,
        detail: Mapping[str, Any] | None = None,
    ) -> int:
        """Record that a file was loaded, or that records were written otherwise; the audit trail gains an entry.

        Parameters
        ----------
        name, sha256 : str
            Of the file.
        who : str
            Who loads it, on this machine; somebody who signed in is recorded as such.
        tool_version : str
            Of the program.
        mapping : mapping of str to str or None
            Header to field, as used.
        what : str
            For the audit trail.
        about : str or None
            For the audit trail: what it was done to; None for the file.
        detail : mapping of str to object or None
            For the audit trail, JSON.

        Returns
        -------
        int
            The load.
        """
        self.actor.need("record anything", *WRITING)
        result = self._connection.execute(
            insert(t.load).values(
                name=name,
                sha256=sha256,
                who=who if self.actor.local else self.actor.name,
                at=datetime.now(UTC),
                tool_version=tool_version,
                mapping=dict(mapping or {}),
            )
        )
        load = int(result.inserted_primary_key[0])  # type: ignore[index]
        facts = {"sha256": sha256, "version": tool_version, **(detail or {})}
        note(self._connection, self.actor, what, name if about is None else about, who=who, load=load, detail=facts)
        return load

    def record_rows(self, load: int, rows: Iterable[SheetRow]) -> dict[str, int]:
        """Record rows as read.

        Parameters
        ----------
        load : int
            The load that they belong to.
        rows : iterable of SheetRow
            As read.

        Returns
        -------
        dict of str to int
            Place in words to the row, for :meth:`add_parts`.
        """
        following = (self._connection.execute(select(func.max(t.sheet_row.c.id))).scalar() or 0) + 1
        places: dict[str, int] = {}
        values: list[dict[str, Any]] = []
        for number, r in enumerate(rows, following):
            places[r.place] = number
            values.append(
                {
                    "id": number,
                    "load_id": load,
                    "file": r.file,
                    "sheet": r.sheet,
                    "number": r.number,
                    "cells": dict(r.cells),
                    "outcome": r.outcome,
                    "note": r.note,
                }
            )
        self._insert(t.sheet_row, values)
        return places

    def add_parts(self, load: int, parts: Iterable[Part], places: Mapping[str, int] | None = None) -> None:
        """Add parts; one with other content supersedes its revision, one with the same content adds nothing.

        Parameters
        ----------
        load : int
            The load that they belong to.
        parts : iterable of Part
            As read.
        places : mapping of str to int or None
            Place in words to the sheet row, as :meth:`record_rows` gives it; a rating leads to the row of its evidence.
        """
        listed = list(parts)
        if listed:
            self.actor.need("change parts", Role.KEEP)
        known = places or {}
        revision = t.part_revision.c
        current = {
            r.part_id: (r.id, r.content)
            for r in self._connection.execute(
                select(revision.part_id, revision.id, revision.content).where(revision.superseded_by.is_(None))
            )
        }
        following = (self._connection.execute(select(func.max(revision.id))).scalar() or 0) + 1
        rows: dict[str, list[dict[str, Any]]] = defaultdict(list)
        replaced: list[tuple[int, int]] = []
        for part in listed:
            content = part_content(part)
            before = current.get(part.id)
            if before is not None and before[1] == content:
                continue
            key = {"revision_id": following}
            rows["part_revision"].append({**part_row(part), "id": following, "load_id": load, "content": content})
            for i, code in enumerate(part.fits):
                rows["part_fit"].append({**key, "position": i, "code": code, "kind": part.kind, "current": True})
            for i, rating in enumerate(part.ratings):
                row = known.get(rating.evidence.source.partition(", column '")[0])
                rows["rating"].append({**key, "position": i, **rating_row(rating), "row_id": row})
            for i, interface in enumerate(part.interfaces):
                rows["interface"].append({**key, "position": i, **interface_row(interface)})
            for i, relation in enumerate(part.relations):
                rows["relation"].append({**key, "position": i, **relation_row(relation)})
            if before is not None:
                replaced.append((before[0], following))
            current[part.id] = (following, content)
            following += 1
        for target in (t.part_revision, t.part_fit, t.rating, t.interface, t.relation):
            self._insert(target, rows[target.name])
        for old, new in replaced:
            self._connection.execute(update(t.part_revision).where(revision.id == old).values(superseded_by=new))
            self._connection.execute(update(t.part_fit).where(t.part_fit.c.revision_id == old).values(current=False))

    def add_platforms(self, load: int, platforms: Iterable[Platform]) -> None:
        """Add platforms; one with other content supersedes its revision."""
        for platform in platforms:
            self.actor.need("change platforms", Role.KEEP)
            self._add_document(load, PLATFORM, platform.id, platform_body(platform))

    def add_cars(self, load: int, cars: Iterable[Car]) -> None:
        """Add cars; one with other content supersedes its revision."""
        for car in cars:
            self.actor.need("change cars", Role.ADVISE, Role.KEEP)
            self._add_document(load, CAR, car.id, car_body(car))

    def _add_document(self, load: int, kind: str, record: str, body: dict[str, Any]) -> None:
        c = t.document_revision.c
        content = content_hash(body)
        before = self._connection.execute(
            select(c.id, c.content).where(c.type == kind, c.record_id == record, c.superseded_by.is_(None))
        ).first()
        if before is not None and before.content == content:
            return
        result = self._connection.execute(
            insert(t.document_revision).values(type=kind, record_id=record, load_id=load, content=content, body=body)
        )
        if before is not None:
            new = int(result.inserted_primary_key[0])  # type: ignore[index]
            self._connection.execute(update(t.document_revision).where(c.id == before.id).values(superseded_by=new))

    def _insert(self, target: Table, rows: list[dict[str, Any]]) -> None:
        """Insert many rows of the same columns by the driver itself, each column made ready once."""
        if not rows:
            return
        dialect = self._connection.dialect
        names = list(rows[0])
        compiled = insert(target).compile(dialect=dialect, column_keys=names)
        columns = []
        for name in names:
            ready = target.c[name].type.dialect_impl(dialect).bind_processor(dialect)
            found = [row[name] for row in rows]
            columns.append(found if ready is None else list(map(ready, found)))
        order = compiled.positiontup
        if order is None:
            many: Any = [dict(zip(names, row, strict=True)) for row in zip(*columns, strict=True)]
        else:
            at = [names.index(name) for name in order]
            many = list(zip(*(columns[i] for i in at), strict=True))
        self._connection.exec_driver_sql(str(compiled), many)
