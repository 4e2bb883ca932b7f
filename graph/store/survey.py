"""Reading for questions about every part: through what parts have in common, and through the numbers in doubt."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Column, Select, func, literal, select

from graph.model import Meaning, Part, Relation, RelationKind
from graph.store import table as t
from graph.store.engine_note import ENGINE
from graph.store.likeness import Outline, Statement
from graph.store.notebook import LOOK
from graph.store.record import SheetRow
from graph.store.shelf import FEW, STANDS, Shelf, first_of_name

#: Said so that the index of held rows is used: an index of some rows wants the word itself, not a place for it.
HELD = t.sheet_row.c.outcome == literal("held", literal_execute=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class Demand:
    """A rating that parts of one fitment require of a place [SI]."""

    fitment: int
    slot: str
    rating: str
    at_least: float


class Survey(Shelf):
    """What a look over the whole book needs."""

    def outlines(self) -> tuple[Outline, ...]:
        """What parts state, once for all that state the same."""
        return tuple(
            Outline(
                id=row.id,
                kind=row.kind,
                fits=row.fits,
                stated=tuple(
                    Statement(name=s["name"], meaning=Meaning(s["meaning"]), conditions=tuple(s["conditions"]))
                    for s in row.stated
                ),
            )
            for row in self._connection.execute(select(t.outline).order_by(t.outline.c.id))
        )

    def count_by_outline(self, outlines: Sequence[int]) -> Mapping[int, int]:
        """How many current parts some outlines have."""
        return self._counts(t.part_revision.c.outline_id, outlines)

    def count_by_fitment(self, fitments: Sequence[int]) -> Mapping[int, int]:
        """How many current parts some fitments have."""
        return self._counts(t.part_revision.c.fitment_id, fitments)

    def first_by_outline(self, outlines: Sequence[int], first: int | None) -> tuple[Part, ...]:
        """Current parts of some outlines, the first by number."""
        revision = t.part_revision.c
        query = select(revision.id).where(revision.superseded_by.is_(None), revision.outline_id.in_(outlines))
        query = query.order_by(self._by_letter(revision.part_id)).limit(first)
        return self._of(list(self._connection.execute(query).scalars()))

    def first_numbers(self, fitments: Sequence[int], first: int | None) -> tuple[str, ...]:
        """Numbers of current parts of some fitments, the first of them."""
        revision = t.part_revision.c
        query = select(revision.part_id).where(revision.superseded_by.is_(None), revision.fitment_id.in_(fitments))
        query = query.order_by(self._by_letter(revision.part_id)).limit(first)
        return tuple(self._connection.execute(query).scalars())

    def _counts(self, column: Column[int], wanted: Sequence[int]) -> Mapping[int, int]:
        current = t.part_revision.c.superseded_by.is_(None)
        query = select(column, func.count()).where(current, column.in_(wanted)).group_by(column)
        return {row[0]: row[1] for row in self._connection.execute(query)}

    def doubts(self, topic: str) -> tuple[str, ...]:
        """Numbers that a question has to look at, in order."""
        c = t.doubt.c
        return tuple(sorted(self._connection.execute(select(c.number).where(c.topic == topic)).scalars()))

    def statements_naming(self, numbers: Sequence[str]) -> tuple[Relation, ...]:
        """Statements of current parts that name one of some numbers."""
        revision, mention, relation = t.part_revision.c, t.mention.c, t.relation.c
        found: list[Relation] = []
        for start in range(0, len(numbers), FEW):
            query = (
                select(relation.kind, relation.part)
                .join(t.mention, mention.revision_id == relation.revision_id)
                .join(t.part_revision, revision.id == mention.revision_id)
                .where(mention.number.in_(numbers[start : start + FEW]), STANDS)
                .distinct()
            )
            rows = self._connection.execute(query)
            found += [Relation(kind=RelationKind(row.kind), part=row.part) for row in rows]
        return tuple(found)

    def held_now(self, first: int | None) -> tuple[int, tuple[SheetRow, ...]]:
        """Rows of the newest load of each file that were held: how many, and the first, newest load first."""
        newest = select(func.max(t.load.c.id)).group_by(t.load.c.name)
        c = t.sheet_row.c
        query = select(t.sheet_row).where(HELD, c.load_id.in_(newest))
        count = self._connection.scalar(query.with_only_columns(func.count())) or 0
        return count, self._sheet_rows(query.order_by(c.load_id.desc(), c.id).limit(first)) if count else ()

    def unmet_by_number(self) -> tuple[Demand, ...]:
        """Ratings required of a place that no single number among parts with a shared code reaches.

        A curve may still reach it, or a part that goes anywhere.
        """
        revision, relation, stated = t.part_revision.c, t.relation.c, t.rating.c
        asked = (
            select(
                revision.fitment_id,
                relation.slot,
                relation.rating,
                relation.at_least,
                func.min(revision.id).label("one"),
            )
            .join(t.relation, relation.revision_id == revision.id)
            .where(relation.slot.is_not(None), relation.kind == RelationKind.REQUIRES.value)
            .where(relation.rating.is_not(None), relation.at_least.is_not(None), STANDS)
            .group_by(revision.fitment_id, relation.slot, relation.rating, relation.at_least)
            .cte("asked")
        )
        mine, theirs = t.part_fit.alias("mine").c, t.part_fit.alias("theirs").c
        able = (
            select(stated.revision_id)
            .where(mine.revision_id == asked.c.one, theirs.code == mine.code, theirs.kind == asked.c.slot)
            .where(theirs.current.is_(True), stated.revision_id == theirs.revision_id)
            .where(stated.name.concat("") == asked.c.rating, stated.value >= asked.c.at_least, first_of_name())
        )
        return tuple(
            Demand(fitment=row.fitment_id, slot=row.slot, rating=row.rating, at_least=row.at_least)
            for row in self._connection.execute(select(asked).where(~able.exists()))
        )

    def demanding(self, demands: Sequence[Demand]) -> tuple[tuple[str, Demand, str], ...]:
        """Current parts with a demand: number, demand, words; a part that names another as well is left out."""
        if not demands:
            return ()
        revision, relation = t.part_revision.c, t.relation.c
        query = (
            select(
                revision.part_id, revision.fitment_id, relation.rating, relation.at_least, relation.text, relation.slot
            )
            .join(t.relation, relation.revision_id == revision.id)
            .where(STANDS, relation.kind == RelationKind.REQUIRES.value)
            .where(relation.slot.is_not(None), func.coalesce(relation.part, "") == "")
        )
        wanted = set(demands)
        found = []
        for row in self._connection.execute(query):
            if row.rating is not None and row.at_least is not None:
                demand = Demand(fitment=row.fitment_id, slot=row.slot, rating=row.rating, at_least=row.at_least)
                if demand in wanted:
                    found.append((row.part_id, demand, row.text))
        return tuple(found)

    def stays_behind(self) -> Mapping[str, int]:
        """What the book holds beside its current parts, platforms and cars: how many of each; looks are in the cars."""
        revision, noted = t.part_revision.c, t.car_note.c
        counted = {
            "earlier revisions of parts": select(func.count()).where(revision.superseded_by.is_not(None)),
            "limits seen on pulls": select(func.count()).select_from(t.trial),
            "lessons about engines": select(func.count()).where(noted.topic == ENGINE),
            "other notes of cars": select(func.count()).where(noted.topic.not_in((LOOK, ENGINE))),
        }
        found = {what: self._connection.scalar(query) or 0 for what, query in counted.items()}
        return {what: count for what, count in found.items() if count}

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
