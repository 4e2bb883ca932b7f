"""One transaction: what it reads (:class:`View`) and what it adds (:class:`Unit`)."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from datetime import UTC, datetime
from typing import Any, TypeVar

from sqlalchemy import Connection, Select, Table, func, insert, select, update

from graph.model import Car, Part, Platform, Rating
from graph.store import table as t
from graph.store.record import (
    SheetRow,
    car_body,
    car_record,
    content_hash,
    interface_row,
    part_content,
    part_record,
    part_row,
    platform_body,
    platform_record,
    rating_record,
    rating_row,
    relation_row,
)

_Record = TypeVar("_Record", Platform, Car)
PLATFORM, CAR = "platform", "car"


class View:
    """Current records, read in a few queries.

    Parameters
    ----------
    connection : Connection
        Inside a transaction.
    """

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def parts(self, kind: str | None = None, fits: str | None = None) -> tuple[Part, ...]:
        """Current parts in the order of their numbers, all or those of one kind and one code."""
        revision = t.part_revision.c
        wanted = select(revision.id).where(revision.superseded_by.is_(None))
        if fits is not None:
            fit = t.part_fit.c
            wanted = select(fit.revision_id).where(fit.code == fits, fit.current.is_(True))
            if kind is not None:
                wanted = wanted.where(fit.kind == kind)
        elif kind is not None:
            wanted = wanted.where(revision.kind == kind)
        return self._parts(wanted, everything=kind is None and fits is None)

    def part(self, number: str) -> Part | None:
        """The current part with this number, or None."""
        revision = t.part_revision.c
        wanted = select(revision.id).where(revision.part_id == number, revision.superseded_by.is_(None))
        return next(iter(self._parts(wanted, everything=False)), None)

    def _parts(self, wanted: Select[tuple[int]], *, everything: bool) -> tuple[Part, ...]:
        revision = t.part_revision.c
        rows = self._rows(select(t.part_revision).where(revision.id.in_(wanted)).order_by(revision.part_id))
        children = {
            child.name: self._grouped(child, wanted, everything)
            for child in (t.part_fit, t.rating, t.interface, t.relation)
        }
        return tuple(
            part_record(
                row,
                [f["code"] for f in children["part_fit"][row["id"]]],
                children["rating"][row["id"]],
                children["interface"][row["id"]],
                children["relation"][row["id"]],
            )
            for row in rows
        )

    def _grouped(
        self, child: Table, wanted: Select[tuple[int]], everything: bool
    ) -> Mapping[int, list[Mapping[str, Any]]]:
        query = select(child).order_by(child.c.revision_id, child.c.position)
        if not everything or child is not t.rating:
            query = query.where(child.c.revision_id.in_(wanted))
        grouped: dict[int, list[Mapping[str, Any]]] = defaultdict(list)
        for row in self._rows(query):
            grouped[row["revision_id"]].append(row)
        return grouped

    def platforms(self) -> tuple[Platform, ...]:
        """Current platforms in the order of their ids."""
        return self._documents(PLATFORM, platform_record)

    def cars(self) -> tuple[Car, ...]:
        """Current cars in the order of their ids."""
        return self._documents(CAR, car_record)

    def platform(self, code: str) -> Platform | None:
        """The current platform with this id, or None."""
        return next(iter(self._documents(PLATFORM, platform_record, code)), None)

    def car(self, number: str) -> Car | None:
        """The current car with this id, or None."""
        return next(iter(self._documents(CAR, car_record, number)), None)

    def _documents(
        self, kind: str, record: Callable[[Mapping[str, Any]], _Record], only: str | None = None
    ) -> tuple[_Record, ...]:
        c = t.document_revision.c
        query = select(c.body).where(c.type == kind, c.superseded_by.is_(None)).order_by(c.record_id)
        if only is not None:
            query = query.where(c.record_id == only)
        return tuple(record(body) for body in self._connection.execute(query).scalars())

    def loads(self) -> tuple[Mapping[str, Any], ...]:
        """Every load, oldest first: id, name, sha256, who, at, tool_version."""
        return tuple(self._rows(select(t.load).order_by(t.load.c.id)))

    def rows(self, load: int | None = None) -> tuple[SheetRow, ...]:
        """Rows as read, of one load or of all."""
        query = select(t.sheet_row).order_by(t.sheet_row.c.id)
        return self._sheet_rows(query if load is None else query.where(t.sheet_row.c.load_id == load))

    def held_rows(self) -> tuple[SheetRow, ...]:
        """Rows of every load that were held, as read, oldest first."""
        return self._sheet_rows(select(t.sheet_row).where(t.sheet_row.c.outcome == "held").order_by(t.sheet_row.c.id))

    def _sheet_rows(self, query: Select[Any]) -> tuple[SheetRow, ...]:
        return tuple(
            SheetRow(
                file=r["file"],
                sheet=r["sheet"],
                number=r["number"],
                cells=r["cells"],
                outcome=r["outcome"],
                note=r["note"],
            )
            for r in self._rows(query)
        )

    def rating_history(self, part: str, name: str) -> tuple[Rating, ...]:
        """Every revision of one rating of one part, oldest first."""
        query = (
            select(t.rating)
            .join(t.part_revision, t.part_revision.c.id == t.rating.c.revision_id)
            .where(t.part_revision.c.part_id == part, t.rating.c.name == name)
            .order_by(t.rating.c.revision_id)
        )
        return tuple(rating_record(r) for r in self._rows(query))

    def _rows(self, query: Select[Any]) -> list[Mapping[str, Any]]:
        return [dict(row) for row in self._connection.execute(query).mappings()]


class Unit(View):
    """What one use case adds; nothing of it stays if the transaction fails."""

    def record_load(
        self, *, name: str, sha256: str, who: str, tool_version: str, mapping: Mapping[str, str] | None = None
    ) -> int:
        """Record that a file was loaded.

        Parameters
        ----------
        name, sha256 : str
            Of the file.
        who : str
            Who loads it.
        tool_version : str
            Of the program.
        mapping : mapping of str to str or None
            Header to field, as used.

        Returns
        -------
        int
            The load.
        """
        result = self._connection.execute(
            insert(t.load).values(
                name=name,
                sha256=sha256,
                who=who,
                at=datetime.now(UTC),
                tool_version=tool_version,
                mapping=dict(mapping or {}),
            )
        )
        return int(result.inserted_primary_key[0])  # type: ignore[index]

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
        for part in parts:
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
            self._add_document(load, PLATFORM, platform.id, platform_body(platform))

    def add_cars(self, load: int, cars: Iterable[Car]) -> None:
        """Add cars; one with other content supersedes its revision."""
        for car in cars:
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
        if rows:
            self._connection.execute(insert(target), rows)
