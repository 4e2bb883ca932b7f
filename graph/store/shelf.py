"""Reading parts: all, by number, by what they fit, by what they name, by what they carry."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from sqlalchemy import Column, ColumnElement, Connection, Select, Table, Text, and_, cast, collate, func, or_, select

from graph.actor import LOCAL, Actor
from graph.model import Curve, Meaning, Part, RelationKind
from graph.store import table as t
from graph.store.likeness import Fitment
from graph.store.record import decoded, part_record

#: In the place of infinity, which no database compares alike.
MOST = 1.0e300
#: Parts up to which their rows are asked for by number and not by the question that found them.
FEW = 500
#: Parts from which on a rating is looked for by its value and not part by part.
MANY = 2000
#: True for a current revision, told so that the search begins elsewhere: nearly all revisions are current.
STANDS = func.coalesce(t.part_revision.c.superseded_by, 0) == 0


class Shelf:
    """Current parts.

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
        return next(iter(self.parts_numbered((number,))), None)

    def parts_numbered(self, numbers: Iterable[str]) -> tuple[Part, ...]:
        """Current parts with these numbers; those that the book does not hold are left out."""
        revision = t.part_revision.c
        wanted = sorted(set(numbers))
        found: list[Part] = []
        for start in range(0, len(wanted), FEW):
            few = select(revision.id).where(revision.part_id.in_(wanted[start : start + FEW]), STANDS)
            found += self._parts(few, everything=False)
        return tuple(found)

    def part_numbers(self) -> tuple[str, ...]:
        """Numbers of all current parts, in order."""
        revision = t.part_revision.c
        query = select(revision.part_id).where(revision.superseded_by.is_(None)).order_by(revision.part_id)
        return tuple(self._connection.execute(query).scalars())

    def known_numbers(self, numbers: Iterable[str]) -> set[str]:
        """Those of some numbers that the book holds."""
        revision = t.part_revision.c
        wanted = sorted(set(numbers))
        known: set[str] = set()
        for start in range(0, len(wanted), FEW):
            few = wanted[start : start + FEW]
            query = select(revision.part_id).where(revision.part_id.in_(few), STANDS)
            known.update(self._connection.execute(query).scalars())
        return known

    def fitments(self, kind: str | None = None) -> tuple[Fitment, ...]:
        """Codes that parts fit, once for all parts of one kind that fit the same; of one kind or of all."""
        c = t.fitment.c
        query = select(c.id, c.kind, cast(c.codes, Text)).order_by(c.id)
        rows = self._connection.execute(query if kind is None else query.where(c.kind == kind)).all()
        codes = decoded(text for _, _, text in rows)
        return tuple(Fitment(i, kind, tuple(of)) for (i, kind, _), of in zip(rows, codes, strict=True))

    def parts_of(self, fitments: Sequence[int]) -> tuple[Part, ...]:
        """Current parts of some fitments."""
        return self._parts(self._among(fitments), everything=False)

    def one_of(self, fitments: Sequence[int], *, bought: bool = False, but: str = "") -> tuple[Part, ...]:
        """One current part of some fitments, but not that one; `bought` is to be no factory part."""
        revision = t.part_revision.c
        wanted = self._among(fitments).where(revision.part_id != but)
        if bought:
            wanted = wanted.where(revision.factory.is_(False))
        return self._of([row.id for row in self._connection.execute(wanted.limit(1))])

    def parts_that_reach(self, rating: str, at_least: float, fitments: Sequence[int]) -> tuple[Part, ...]:
        """Current parts of some fitments that state at least this [SI], and those whose rating is a curve."""
        stated = t.rating.c
        same = (stated.revision_id == t.part_revision.c.id, _by_part(rating))
        enough = or_(stated.value >= at_least, stated.value.is_(None))
        return self._parts(
            self._among(fitments).where(select(stated.revision_id).where(*same, enough).exists()), everything=False
        )

    def parts_that_name(self, numbers: Iterable[str]) -> tuple[Part, ...]:
        """Current parts with a statement that names one of some numbers."""
        mention = t.mention.c
        named = (
            select(mention.revision_id)
            .join(t.part_revision, t.part_revision.c.id == mention.revision_id)
            .where(mention.number.in_(sorted(set(numbers))), STANDS)
        )
        return self._parts(named, everything=False)

    def parts_that_require(self, part: Part) -> tuple[Part, ...]:
        """Current parts that require a rating which this part reaches, and that share a code with it."""
        revision, relation, fit = t.part_revision.c, t.relation.c, t.part_fit.c
        lowest = ((r.name, min(r.value.y) if isinstance(r.value, Curve) else r.value) for r in part.ratings)
        reached = [and_(relation.rating == name, relation.at_least <= low) for name, low in lowest]
        if not reached:
            return ()
        wanted = (
            select(revision.id)
            .join(t.relation, relation.revision_id == revision.id)
            .where(relation.slot == part.kind, relation.kind == RelationKind.REQUIRES.value, or_(*reached))
            .where(STANDS)
        )
        if part.fits:
            own = select(fit.revision_id).where(fit.revision_id == revision.id)
            wanted = wanted.where(or_(own.where(fit.code.in_(part.fits)).exists(), ~own.exists()))
        return self._parts(wanted, everything=False)

    def count_of(self, fitments: Sequence[int]) -> int:
        """How many current parts some fitments have."""
        return self._connection.scalar(self._among(fitments).with_only_columns(func.count())) or 0

    def carrying(
        self,
        kind: str,
        rating: str,
        low: float,
        high: float,
        *,
        fitments: Sequence[int] | None,
        first: int | None,
        down: bool,
    ) -> tuple[int, tuple[Part, ...], tuple[Part, ...]]:
        """Current parts of one kind with a rating in a range [SI] that is not where one failed.

        Parameters
        ----------
        kind, rating : str
            What is compared.
        low, high : float
            The range [SI].
        fitments : sequence of int or None
            Which parts of the kind; None for all.
        first : int or None
            How many to read; None for all.
        down : bool
            True to begin with the highest value.

        Returns
        -------
        count : int
            How many single numbers are in the range.
        parts : tuple of Part
            The first of them.
        curves : tuple of Part
            Parts whose rating is a curve, in the range or not.
        """
        revision, stated = t.part_revision.c, t.rating.c
        if fitments is None or self.count_of(fitments) > MANY:  # by the values, else by the parts
            mine, named = [STANDS, revision.kind == kind], [stated.name == rating, first_of_name()]
            if fitments is not None:
                mine.append(revision.fitment_id.in_(fitments))
        else:
            mine = [revision.superseded_by.is_(None), revision.fitment_id.in_(fitments)]
            named = [_by_part(rating), first_of_name()]
        joined = select(revision.id).join(t.rating, stated.revision_id == revision.id).where(*mine, *named)
        inside = joined.where(
            stated.value.between(max(low, -MOST), min(high, MOST)), stated.meaning != Meaning.FAILED.value
        )
        count = self._connection.scalar(inside.with_only_columns(func.count())) or 0
        order = stated.value.desc() if down else stated.value
        begin = list(
            self._connection.execute(inside.order_by(order, self._by_letter(revision.part_id)).limit(first)).scalars()
        )
        curves = joined.where(stated.value.is_(None))
        return count, self._of(begin), self._parts(curves, everything=False)

    def _of(self, revisions: Sequence[int]) -> tuple[Part, ...]:
        """Parts of some revisions, in the order of their numbers."""
        revision = t.part_revision.c
        found: list[Part] = []
        for start in range(0, len(revisions), FEW):
            found += self._parts(
                select(revision.id).where(revision.id.in_(revisions[start : start + FEW])), everything=False
            )
        return tuple(found)

    def _by_letter(self, column: Column[str]) -> ColumnElement[str]:
        """Order of the letters' numbers, whatever the language of a server."""
        return collate(column, "C") if self._connection.dialect.name == "postgresql" else column

    @staticmethod
    def _among(fitments: Sequence[int]) -> Select[tuple[int]]:
        revision = t.part_revision.c
        return select(revision.id).where(revision.superseded_by.is_(None), revision.fitment_id.in_(fitments))

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

    def _rows(self, query: Select[Any]) -> list[Mapping[str, Any]]:
        return [dict(row) for row in self._connection.execute(query).mappings()]


def _by_part(rating: str) -> ColumnElement[bool]:
    """A rating's name, told so that the ratings of a part are looked through and not the parts of a rating."""
    return t.rating.c.name.concat("") == rating


def first_of_name() -> ColumnElement[bool]:
    """True for the first rating of its name that a part states, which is the one that counts."""
    other, stated = t.rating.alias(), t.rating.c
    earlier = select(other.c.revision_id).where(
        other.c.revision_id == stated.revision_id,
        other.c.position < stated.position,
        other.c.name.concat("") == stated.name,
    )
    return or_(stated.position == 0, ~earlier.exists())
