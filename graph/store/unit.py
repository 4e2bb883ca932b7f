"""What a transaction adds. Each way in asks for a role; nothing stays if the transaction fails."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import UTC, datetime
from functools import partial
from typing import Any

from sqlalchemy import bindparam, func, insert, select, update

from graph.actor import WRITING, Role
from graph.model import Car, Part, Platform
from graph.store import table as t
from graph.store.bulk import insert_many
from graph.store.content import Canon, part_content
from graph.store.doubt import keep_doubts
from graph.store.likeness import Likenesses
from graph.store.record import (
    PART,
    RATING,
    SheetRow,
    car_body,
    content_hash,
    interface_row,
    part_values,
    platform_body,
    rating_values,
    relation_row,
    rows_place,
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
        canon = Canon()
        places: dict[str, int] = {}
        values: list[tuple[Any, ...]] = []
        begins: dict[tuple[str, str], str] = {}
        for number, r in enumerate(rows, following):
            file, sheet = r.file, r.sheet
            begin = begins.get((file, sheet))
            if begin is None:
                begin = begins[file, sheet] = rows_place(file, sheet)
            places[f"{begin}{r.number}"] = number
            values.append((number, load, file, sheet, r.number, canon.cells(r.cells), r.outcome, r.note))
        names = ("id", "load_id", "file", "sheet", "number", "cells", "outcome", "note")
        insert_many(self._connection, t.sheet_row, names, values)
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
        if not listed:
            return
        self.actor.need("change parts", Role.KEEP)
        known = places or {}
        alike = Likenesses(self._connection)
        revision = t.part_revision.c
        current = {
            r.part_id: (r.id, r.content)
            for r in self._connection.execute(
                select(revision.part_id, revision.id, revision.content).where(revision.superseded_by.is_(None))
            )
        }
        following = (self._connection.execute(select(func.max(revision.id))).scalar() or 0) + 1
        canon = Canon()
        revised: list[tuple[Any, ...]] = []
        fits: list[tuple[Any, ...]] = []
        ratings: list[tuple[Any, ...]] = []
        interfaces: list[tuple[Any, ...]] = []
        relations: list[tuple[Any, ...]] = []
        mentions: list[tuple[Any, ...]] = []
        replaced: list[dict[str, int]] = []
        added: list[Part] = []
        for part in listed:
            content = part_content(part, canon)
            before = current.get(part.id)
            if before is not None and before[1] == content:
                continue
            likeness = (alike.fitment(part), alike.outline(part))
            revised.append((following, load, content, *likeness, *part_values(part, canon.listed(part.tasks))))
            for i, code in enumerate(part.fits):
                fits.append((following, i, code, part.kind, True))
            for i, rating in enumerate(part.ratings):
                row = known.get(rating.evidence.source.partition(", column '")[0])
                said = rating_values(rating, canon.curve(rating.value), canon.conditions(rating.conditions))
                ratings.append((following, i, row, *said))
            for i, interface in enumerate(part.interfaces):
                interfaces.append((following, i, *interface_row(interface).values()))
            for i, relation in enumerate(part.relations):
                relations.append((following, i, *relation_row(relation).values()))
            named = dict.fromkeys(n for relation in part.relations for n in relation.numbers)
            mentions.extend((number, following) for number in named)
            added.append(part)
            if before is not None:
                replaced.append({"old": before[0], "new": following})
            current[part.id] = (following, content)
            following += 1
        many = partial(insert_many, self._connection)
        many(t.fitment, ("id", "kind", "codes"), alike.fitments)
        many(t.outline, ("id", "kind", "fits", "stated"), alike.outlines)
        many(t.part_revision, ("id", "load_id", "content", "fitment_id", "outline_id", *PART), revised)
        many(t.part_fit, ("revision_id", "position", "code", "kind", "current"), fits)
        many(t.rating, ("revision_id", "position", "row_id", *RATING), ratings)
        many(t.interface, ("revision_id", "position", "port", "type"), interfaces)
        many(t.relation, ("revision_id", "position", "kind", "part", "slot", "rating", "at_least", "text"), relations)
        many(t.mention, ("number", "revision_id"), mentions)
        if replaced:
            old = revision.id == bindparam("old")
            self._connection.execute(
                update(t.part_revision).where(old).values(superseded_by=bindparam("new")), replaced
            )
            fit = t.part_fit.c.revision_id == bindparam("old")
            self._connection.execute(update(t.part_fit).where(fit).values(current=False), replaced)
        keep_doubts(self._connection, added, current)

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
