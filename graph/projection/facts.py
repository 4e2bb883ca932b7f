"""What the views are made of: the current records, and the files that they were loaded from."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Protocol

from graph.model import Car, Part, Platform

_PLACE = re.compile(r"(?P<file>.+?)(?:, sheet '(?P<sheet>.*?)')?, row (?P<row>\d+)")


class SheetRows(Protocol):
    """One row of a sheet as read; the store has them."""

    @property
    def file(self) -> str:
        """File name."""

    @property
    def sheet(self) -> str:
        """Sheet name."""

    @property
    def number(self) -> int:
        """Row number as shown."""

    @property
    def cells(self) -> Mapping[str, str]:
        """Header to text."""

    @property
    def outcome(self) -> str:
        """What became of the row."""

    @property
    def note(self) -> str:
        """Why, where it is not loaded."""


class View(Protocol):
    """What is read of the store."""

    def parts(self, kind: str | None = None, fits: str | None = None) -> tuple[Part, ...]:
        """Current parts."""

    def platforms(self) -> tuple[Platform, ...]:
        """Current platforms."""

    def cars(self) -> tuple[Car, ...]:
        """Current cars."""

    def loads(self) -> tuple[Mapping[str, Any], ...]:
        """Every load, oldest first."""

    def rows(self, load: int | None = None) -> Iterable[SheetRows]:
        """Rows as read."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """One load of one file.

    Parameters
    ----------
    name : str
        File name.
    sha256 : str
        Of its bytes.
    who : str
        Who loaded it.
    at : datetime or None
        When, with its time zone.
    version : str
        Of the program that loaded it.
    """

    name: str
    sha256: str
    who: str = ""
    at: datetime | None = None
    version: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """A row that was held back: how it begins, why, and where it stands."""

    begins: str
    why: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """Everything that is current in a book.

    Parameters
    ----------
    parts, platforms, cars : tuple
        Current records.
    sources : mapping of (str, str, int) to Source
        File, sheet and row of every citation to the newest load that read it there.
    files : mapping of str to Source
        File name to its newest load.
    held : tuple of Held
        Rows of the newest load of each file that were held back.
    """

    parts: tuple[Part, ...]
    platforms: tuple[Platform, ...] = ()
    cars: tuple[Car, ...] = ()
    sources: Mapping[tuple[str, str, int], Source] = field(default_factory=dict)
    files: Mapping[str, Source] = field(default_factory=dict)
    held: tuple[Held, ...] = ()

    def part(self, number: str) -> Part | None:
        """The part with this number, or None."""
        return next((p for p in self.parts if p.id == number), None)

    def origin(self, source: str) -> Source | None:
        """The load that a source text such as ``parts.xlsx, sheet 'Air', row 3`` points into, or None."""
        place = _PLACE.match(source)
        if place is not None:
            found = self.sources.get((place["file"], place["sheet"] or "", int(place["row"])))
            return found or self.files.get(place["file"])
        return self.files.get(source.partition(", sheet ")[0])


def _sheet(row: SheetRows) -> str:
    """Sheet name as sources write it: none for a file that has no sheets."""
    return "" if row.file.lower().endswith((".csv", ".tsv", ".txt")) else row.sheet


def gather(view: View) -> Facts:
    """Read the facts of a store.

    Parameters
    ----------
    view : View
        Inside a transaction.

    Returns
    -------
    Facts
        Current records and where they come from.
    """
    parts, platforms, cars = view.parts(), view.platforms(), view.cars()
    wanted = _cited(parts, platforms, cars)
    sources: dict[tuple[str, str, int], Source] = {}
    files: dict[str, Source] = {}
    held: list[Held] = []
    for load in reversed(view.loads()):
        name = load["name"]
        newest = name not in files
        if not newest and not any(place[0] == name for place in wanted):
            continue
        source = Source(name=name, sha256=load["sha256"], who=load["who"], at=load["at"], version=load["tool_version"])
        files.setdefault(name, source)
        for row in view.rows(load["id"]):
            place = (row.file, _sheet(row), row.number)
            if row.outcome == "loaded" and place in wanted and _holds(row, wanted[place]):
                sources[place] = source
                del wanted[place]
            if newest and row.outcome == "held":
                held.append(held_row(row))
    return Facts(parts=parts, platforms=platforms, cars=cars, sources=sources, files=files, held=tuple(held))


def _cited(
    parts: Iterable[Part], platforms: Iterable[Platform], cars: Iterable[Car]
) -> dict[tuple[str, str, int], str]:
    """Rows that the records cite, each with the part number that must stand in it, or with nothing."""
    texts = [
        (source, part.id) for part in parts for source in (part.source, *(r.evidence.source for r in part.ratings))
    ]
    texts += [(platform.source, "") for platform in platforms]
    texts += [(source, "") for car in cars for source in (car.source, *(i.source for i in car.installed))]
    found = ((_PLACE.match(text), number) for text, number in texts)
    return {(m["file"], m["sheet"] or "", int(m["row"])): number for m, number in found if m is not None}


def _holds(row: SheetRows, number: str) -> bool:
    return not number or any(text.strip() == number for text in row.cells.values())


def held_row(row: SheetRows) -> Held:
    """A row that was held back, as it is told."""
    sheet = f", sheet '{row.sheet}'" if _sheet(row) else ""
    begins = next((text for text in row.cells.values() if text), "")
    return Held(begins=begins, why=row.note, source=f"{row.file}{sheet}, row {row.number}")
