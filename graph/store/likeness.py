"""What many parts have in common, kept once: the codes that they fit, and what they state, without the values.

A question about every part then looks at the few things that parts have in common, and only then at the parts.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, NamedTuple

from sqlalchemy import Connection, select

from graph.model import Condition, Meaning, Part
from graph.store import table as t
from graph.store.record import canonical


class Fitment(NamedTuple):
    """Codes that parts of one kind fit, in their order."""

    id: int
    kind: str
    codes: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Statement:
    """One rating that is stated: its name, what its number means, and the conditions that are known."""

    name: str
    meaning: Meaning
    conditions: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Outline:
    """What parts of one kind state; `fits` is true if they fit a code."""

    id: int
    kind: str
    fits: bool
    stated: tuple[Statement, ...]


class Likenesses:
    """Fitments and outlines as they are, and those that new parts add.

    Parameters
    ----------
    connection : Connection
        Inside a writing transaction.
    """

    def __init__(self, connection: Connection) -> None:
        self._known: dict[tuple[Any, ...], int] = {}
        self._outlines: dict[tuple[Any, ...], int] = {}
        self._conditions: dict[int, tuple[object, tuple[str, ...]]] = {}
        self.fitments: list[tuple[Any, ...]] = []
        self.outlines: list[tuple[Any, ...]] = []
        for row in connection.execute(select(t.fitment)):
            self._known[row.kind, tuple(row.codes)] = row.id
        for row in connection.execute(select(t.outline)):
            stated = tuple((s["name"], s["meaning"], tuple(s["conditions"])) for s in row.stated)
            self._outlines[row.kind, row.fits, stated] = row.id

    def fitment(self, part: Part) -> int:
        """The fitment of a part."""
        number = self._known.get((part.kind, part.fits))
        if number is None:
            number = self._known[part.kind, part.fits] = len(self._known) + 1
            self.fitments.append((number, part.kind, canonical(part.fits)))
        return number

    def outline(self, part: Part) -> int:
        """The outline of a part."""
        stated = tuple([(r.name, r.meaning._value_, self._known_conditions(r.conditions)) for r in part.ratings])
        key = (part.kind, bool(part.fits), stated)
        number = self._outlines.get(key)
        if number is None:
            number = self._outlines[key] = len(self._outlines) + 1
            body = [{"name": name, "meaning": meaning, "conditions": list(c)} for name, meaning, c in stated]
            self.outlines.append((number, part.kind, bool(part.fits), canonical(body)))
        return number

    def _known_conditions(self, conditions: tuple[Condition, ...]) -> tuple[str, ...]:
        """Names of the conditions that have a value."""
        found = self._conditions.get(id(conditions))
        if found is None:  # the conditions are kept, so that their place is not given to others
            names = tuple(c.name for c in conditions if c.value is not None)
            found = self._conditions[id(conditions)] = conditions, names
        return found[1]
