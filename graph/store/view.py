"""What a transaction reads: current records, in a few queries."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping
from typing import Any, TypeVar

from sqlalchemy import Connection, Select, Table, func, or_, select

from graph.actor import LOCAL, Actor
from graph.capacity import Trial
from graph.decision import Decision
from graph.model import Car, Part, Platform, Rating
from graph.note import Fact, Look, PlanChange, seen_on
from graph.store import table as t
from graph.store.notebook import read_changes, read_decisions, read_facts, read_looks, read_trials
from graph.store.record import SheetRow, car_record, part_record, platform_record, rating_record

_Record = TypeVar("_Record", Platform, Car)
#: In the place of infinity, which no database compares alike.
MOST = 1.0e300
#: Parts up to which their rows are asked for by number and not by the question that found them.
FEW = 500
PLATFORM, CAR = "platform", "car"


class View:
    """Current records, read in a few queries.

    Parameters
    ----------
    connection : Connection
        Inside a transaction.
    actor : Actor
        Who reads.
    """

    def __init__(self, connection: Connection, actor: Actor = LOCAL) -> None:
        self._connection = connection
        self.actor = actor

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

    def parts_that_fit_nothing(self, kind: str) -> tuple[Part, ...]:
        """Current parts of one kind that state no code."""
        revision, fit = t.part_revision.c, t.part_fit.c
        current = (revision.superseded_by.is_(None), revision.kind == kind)
        coded = select(func.count()).where(fit.kind == kind, fit.current.is_(True), fit.position == 0)
        if self._connection.scalar(select(func.count(revision.id)).where(*current)) == self._connection.scalar(coded):
            return ()  # the usual case, told by counting
        fits = select(fit.revision_id).where(fit.revision_id == revision.id).exists()
        return self._parts(select(revision.id).where(*current, ~fits), everything=False)

    def parts_that_carry(self, kind: str, rating: str, low: float, high: float) -> tuple[Part, ...]:
        """Current parts of one kind with a rating in a range [SI], and those whose rating is a curve."""
        revision, stated = t.part_revision.c, t.rating.c
        wanted = (
            select(revision.id)
            .join(t.rating, stated.revision_id == revision.id)
            .where(revision.superseded_by.is_(None), revision.kind == kind, stated.name == rating)
            .where(or_(stated.value.is_(None), stated.value.between(max(low, -MOST), min(high, MOST))))
        )
        return self._parts(wanted, everything=False)

    def part_numbers(self) -> tuple[str, ...]:
        """Numbers of all current parts, in order."""
        revision = t.part_revision.c
        query = select(revision.part_id).where(revision.superseded_by.is_(None)).order_by(revision.part_id)
        return tuple(self._connection.execute(query).scalars())

    def parts_that_name(self, number: str, kind: str | None = None) -> tuple[Part, ...]:
        """Current parts with a statement that names another one, or that requires a rating of its kind."""
        relation, revision = t.relation.c, t.part_revision.c
        said = [relation.part == number, relation.part.contains("|") & relation.part.contains(number, autoescape=True)]
        if kind is not None:
            said.append(relation.slot == kind)
        named = select(relation.revision_id).where(or_(*said))
        return self._parts(
            select(revision.id).where(revision.id.in_(named), revision.superseded_by.is_(None)), everything=False
        )

    def _parts(self, wanted: Select[tuple[int]], *, everything: bool) -> tuple[Part, ...]:
        revision = t.part_revision.c
        rows = self._rows(
            select(t.part_revision).where(revision.id.in_(wanted)).order_by(revision.part_id, revision.id)
        )
        if not rows:
            return ()
        among: Select[tuple[int]] | list[int] = wanted if len(rows) > FEW else [row["id"] for row in rows]
        children = {
            child.name: self._grouped(child, among, everything)
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
        self, child: Table, wanted: Select[tuple[int]] | list[int], everything: bool
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
        """Current cars in the order of their ids, with what was seen of them since their sheet."""
        looks = self.looks()
        return tuple(seen_on(c, [x for x in looks if x.car == c.id]) for c in self._documents(CAR, car_record))

    def platform(self, code: str) -> Platform | None:
        """The current platform with this id, or None."""
        return next(iter(self._documents(PLATFORM, platform_record, code)), None)

    def car(self, number: str) -> Car | None:
        """The current car with this id, with what was seen of it since its sheet, or None."""
        found = next(iter(self._documents(CAR, car_record, number)), None)
        return None if found is None else seen_on(found, self.looks(number))

    def looks(self, car: str | None = None) -> tuple[Look, ...]:
        """Looks at one car or at all, oldest first."""
        return read_looks(self._connection, car)

    def facts(self, car: str | None = None) -> tuple[Fact, ...]:
        """Facts noted of one car or of all, oldest first."""
        return read_facts(self._connection, car)

    def changes(self, car: str | None = None) -> tuple[PlanChange, ...]:
        """Changes of plans of one car or of all, oldest first."""
        return read_changes(self._connection, car)

    def decisions(self, car: str | None = None) -> tuple[Decision, ...]:
        """What customers decided about one car or all, oldest first."""
        return read_decisions(self._connection, car)

    def trials(self) -> tuple[Trial, ...]:
        """What pulls showed of limits, oldest first."""
        return read_trials(self._connection)

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
