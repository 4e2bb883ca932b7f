"""Files and folders of sheets to one book of records, with every defect and what became of every row."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

from graph.errors import PinchpointError, UsageError
from graph.model import Car, Curve, Part, Platform, Slot
from graph.store import Database, SheetRow
from ingest.car import read_car
from ingest.part import read_parts
from ingest.platform import make_platform, read_constants, read_curves, read_slots
from ingest.problem import Problem
from ingest.sheet import HELD, LOADED, NOT_DATA, Line, Reading, lines
from ingest.table import Sheet, read_workbook

SUFFIXES = frozenset({".xlsx", ".xlsm", ".xls", ".ods", ".csv", ".txt", ".tsv"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Tally:
    """Rows of one sheet: read, loaded, held, named as no data; the first is the sum of the others."""

    file: str
    sheet: str
    rows: int
    loaded: int
    held: int
    not_data: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """A file that was read: its name, its SHA-256 and where it lies."""

    name: str
    sha256: str
    path: str


@dataclass(slots=True, kw_only=True)
class Book:
    """What reading gave.

    Parameters
    ----------
    parts, platforms, cars : list
        Records.
    problems : list of Problem
        Every defect.
    tallies : list of Tally
        Row counts of each sheet.
    rows : list of SheetRow
        Every row as read.
    sources : list of Source
        The files.
    """

    parts: list[Part] = field(default_factory=list)
    platforms: list[Platform] = field(default_factory=list)
    cars: list[Car] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    tallies: list[Tally] = field(default_factory=list)
    rows: list[SheetRow] = field(default_factory=list)
    sources: list[Source] = field(default_factory=list)


@dataclass(slots=True, kw_only=True)
class _PlatformDraft:
    words: dict[str, str] = field(default_factory=dict)
    constants: dict[str, float] = field(default_factory=dict)
    curves: dict[str, Curve] = field(default_factory=dict)
    slots: tuple[Slot, ...] = ()


def read_book(paths: Iterable[Path | str]) -> Book:
    """Read sheets, folders of sheets, platform and car sheets, in any mix of formats.

    Parameters
    ----------
    paths : iterable of path
        Files and folders.

    Returns
    -------
    Book
        Good rows as records, bad rows held with their text, every defect.

    Raises
    ------
    UsageError
        A path does not exist, or there is no sheet in it.
    """
    book = Book()
    for path in _files(paths):
        book.sources.append(
            Source(name=path.name, sha256=hashlib.sha256(path.read_bytes()).hexdigest(), path=str(path))
        )
        try:
            workbook = read_workbook(path)
        except PinchpointError as error:
            book.problems.append(
                Problem(file=path.name, found=str(error), expected="a sheet", remedy="save it again as XLSX, ODS or CSV")
            )
            continue
        draft = _PlatformDraft()
        for sheet in workbook.sheets:
            _read_sheet(sheet, book, draft)
        if draft.constants or draft.curves or draft.slots:
            platform, missing = make_platform(draft.words, draft.constants, draft.curves, draft.slots, path.name)
            book.problems.extend(missing)
            if platform is not None:
                book.platforms.append(platform)
    _cross_check(book)
    return book


def _files(paths: Iterable[Path | str]) -> list[Path]:
    found: list[Path] = []
    for given in map(Path, paths):
        if given.is_dir():
            inside = sorted(p for p in given.iterdir() if p.suffix.lower() in SUFFIXES and not p.name.startswith(("~", ".")))
            if not inside:
                raise UsageError(f"{given} holds no sheet; allowed are {', '.join(sorted(SUFFIXES))}")
            found.extend(inside)
        elif given.is_file():
            found.append(given)
        else:
            raise UsageError(f"{given} does not exist; name a sheet or a folder of sheets")
    return found


def _read_sheet(sheet: Sheet, book: Book, draft: _PlatformDraft) -> None:
    reading = Reading(file=sheet.file, sheet=sheet.name)
    tables: dict[str, list[Line]] = {}
    for line in lines(sheet, reading):
        tables.setdefault(line.header.table, []).append(line)
    if "parts" in tables:
        seen = {p.id: p.source for p in book.parts}
        book.parts.extend(read_parts(tables["parts"], reading, seen))
    if "curves" in tables:
        draft.curves.update(read_curves(tables["curves"], reading))
    if "slots" in tables:
        draft.slots += read_slots(tables["slots"], reading)
    properties = tables.get("properties", [])
    if "installed" in tables or any(line.text("property").lower() == "car" for line in properties):
        car = read_car(properties, tables.get("installed", []), reading)
        if car is not None:
            book.cars.append(car)
    elif properties:
        words, constants = read_constants(properties, reading)
        draft.words.update(words)
        draft.constants.update(constants)
    if not tables and any(r.note == "title" for r in reading.rows):
        reading.problems.append(
            Problem(
                file=sheet.file,
                sheet=sheet.name,
                found="no header row",
                expected="a row with the headers of a parts, platform or car sheet",
                remedy="add the header row, for example No., Part, Slot, Fits, Rating of, Rating, Unit",
            )
        )
    counts = {outcome: sum(r.outcome == outcome for r in reading.rows) for outcome in (LOADED, HELD, NOT_DATA)}
    book.tallies.append(
        Tally(
            file=sheet.file,
            sheet=sheet.name,
            rows=len(sheet.rows),
            loaded=counts[LOADED],
            held=counts[HELD],
            not_data=counts[NOT_DATA],
        )
    )
    book.rows.extend(reading.rows)
    book.problems.extend(reading.problems)


def _cross_check(book: Book) -> None:
    """Requirements that name a part nowhere in a book that holds parts and a platform."""
    if not book.platforms or not book.parts:
        return
    known = {p.id for p in book.parts}
    held = {v.strip() for r in book.rows if r.outcome == HELD for v in r.cells.values()}
    for part in book.parts:
        for relation in part.relations:
            for number in (relation.part or "").split(" | "):
                if number and number not in known and number not in held:
                    book.problems.append(
                        Problem(
                            file=part.source.split(",")[0],
                            found=f"{part.id} names {number}",
                            expected="a part of the book",
                            remedy=f"add {number} to the parts book or correct the number",
                        )
                    )
    for platform in book.platforms:
        for slot in platform.slots:
            if slot.factory_part is not None and slot.factory_part not in known and slot.factory_part not in held:
                book.problems.append(
                    Problem(
                        file=platform.source,
                        sheet="Slots",
                        found=f"{slot.factory_part} in the slot {slot.name}",
                        expected="a part of the book",
                        remedy=f"add {slot.factory_part} to the parts book or correct the number",
                    )
                )


def store_book(database: Database, book: Book, *, who: str, version: str) -> None:
    """Write a book into the database, all of it or nothing.

    Parameters
    ----------
    database : Database
        Open for writing.
    book : Book
        As read.
    who : str
        Who loads it.
    version : str
        Of the program.
    """
    with database.write() as unit:
        load = ""
        for source in book.sources:
            load = unit.record_load(name=source.name, sha256=source.sha256, who=who, tool_version=version)
            unit.record_rows(load, (r for r in book.rows if r.file == source.name))
        unit.add_parts(load, book.parts)
        unit.add_platforms(load, book.platforms)
        unit.add_cars(load, book.cars)
