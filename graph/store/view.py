"""What a transaction reads: current records, in a few queries; parts and questions about them are in its bases."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, TypeVar

from sqlalchemy import select

from graph.capacity import Trial
from graph.decision import Decision
from graph.model import Car, Platform, Rating
from graph.note import Fact, Look, PlanChange, seen_on
from graph.store import table as t
from graph.store.engine_note import Lesson, read_lessons, with_lessons
from graph.store.notebook import read_changes, read_decisions, read_facts, read_looks, read_trials
from graph.store.record import SheetRow, car_record, platform_record, rating_record
from graph.store.survey import HELD, Survey

_Record = TypeVar("_Record", Platform, Car)
PLATFORM, CAR = "platform", "car"


class View(Survey):
    """Current records, read in a few queries."""

    def platforms(self) -> tuple[Platform, ...]:
        """Current platforms in the order of their ids."""
        return self._documents(PLATFORM, platform_record)

    def cars(self) -> tuple[Car, ...]:
        """Current cars in the order of their ids, with what was seen of them since their sheet."""
        looks = self.looks()
        found = [seen_on(c, [x for x in looks if x.car == c.id]) for c in self._documents(CAR, car_record)]
        return with_lessons(found, self.lessons())

    def platform(self, code: str) -> Platform | None:
        """The current platform with this id, or None."""
        return next(iter(self._documents(PLATFORM, platform_record, code)), None)

    def car(self, number: str) -> Car | None:
        """The current car with this id, with what was seen of it since its sheet, or None."""
        found = next(iter(self._documents(CAR, car_record, number)), None)
        return None if found is None else with_lessons([seen_on(found, self.looks(number))], self.lessons(number))[0]

    def lessons(self, car: str | None = None) -> tuple[Lesson, ...]:
        """What dyno records taught of engines, every revision, of one car or of all, oldest first."""
        return read_lessons(self._connection, car)

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
        return self._sheet_rows(select(t.sheet_row).where(HELD).order_by(t.sheet_row.c.id))

    def rating_history(self, part: str, name: str) -> tuple[Rating, ...]:
        """Every revision of one rating of one part, oldest first."""
        query = (
            select(t.rating)
            .join(t.part_revision, t.part_revision.c.id == t.rating.c.revision_id)
            .where(t.part_revision.c.part_id == part, t.rating.c.name == name)
            .order_by(t.rating.c.revision_id)
        )
        return tuple(rating_record(r) for r in self._rows(query))
