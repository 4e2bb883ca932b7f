"""Files and folders of sheets to one book of records, with every defect and what became of every row."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from types import MappingProxyType

from graph.model import Car, Part, Platform
from graph.service import View
from graph.store import Database, SheetRow, refuse_undoing
from ingest.car import read_car
from ingest.consistency import Known, Origins, check_cars, check_parts, check_platforms
from ingest.decoration import Decoration, decorations, is_decorated
from ingest.folder import sheet_files
from ingest.header import Header
from ingest.line import Line
from ingest.mapping import mapping_of, remembered
from ingest.memory import uncollected
from ingest.part import read_parts
from ingest.platform import PlatformDraft, make_platform, read_constants, read_curves, read_slots
from ingest.problem import Problem, UnreadableFile
from ingest.question import ask
from ingest.relation import NUMBER
from ingest.sheet import HELD, LOADED, NOT_DATA, Reading, lines
from ingest.speed_line import Draft, attach, read_speed_lines
from ingest.table import Sheet, read_workbook
from ingest.vocabulary import Vocabulary, read_vocabulary


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
    problems, rows : list of Problem, list of SheetRow
        Every defect; every row as read.
    tallies, sources : list of Tally, list of Source
        Row counts of each sheet; the files.
    headers : dict of str to list
        File to its headers, each with the name of its sheet.
    """

    parts: list[Part] = field(default_factory=list)
    platforms: list[Platform] = field(default_factory=list)
    cars: list[Car] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    tallies: list[Tally] = field(default_factory=list)
    rows: list[SheetRow] = field(default_factory=list)
    sources: list[Source] = field(default_factory=list)
    headers: dict[str, list[tuple[str, Header]]] = field(default_factory=dict)


@dataclass(slots=True, kw_only=True)
class _Work:
    """What reading needs to remember until all sheets are read."""

    readings: list[Reading] = field(default_factory=list)
    origins: dict[str, Origins] = field(default_factory=dict)
    sheets: list[tuple[Sheet, Reading]] = field(default_factory=list)
    maps: list[Draft] = field(default_factory=list)


@uncollected()
def read_book(paths: Iterable[Path | str], *, words: Path | None = None, known: View | None = None) -> Book:
    """Read sheets, folders of sheets, platform and car sheets, in any mix of formats.

    Parameters
    ----------
    paths : iterable of path
        Files and folders.
    words : Path or None
        A shop's own list of words (:func:`ingest.vocabulary.read_vocabulary`).
    known : View or None
        What is in the database already, so that names may lead there. Where it is None and no platform is among the
        sheets, names of parts in other sheets are not followed.

    Returns
    -------
    Book
        Good rows as records, bad rows held with their text, every defect.

    Raises
    ------
    UsageError
        As :func:`ingest.folder.sheet_files`, or the list of words is wrong.
    """
    vocabulary = read_vocabulary(words)
    book = Book()
    work = _Work()
    drafts: dict[Path, PlatformDraft] = {}
    for path in sheet_files(paths):
        try:
            workbook = read_workbook(path)
        except UnreadableFile as error:
            book.problems.append(_unreadable(error, "a sheet as XLSX, XLS, ODS or CSV"))
            continue
        digest = hashlib.sha256(path.read_bytes()).hexdigest()
        book.sources.append(Source(name=path.name, sha256=digest, path=str(path)))
        # the tables of a platform stand in one workbook, or as text tables in one folder
        together = path.parent.resolve() if workbook.kind == "text" else path.resolve()
        beside = _beside(path, book) if workbook.kind != "text" else {}
        for sheet in workbook.sheets:
            decoration = beside.get(sheet.name, Decoration())
            _read_sheet(sheet, decoration, book, drafts.setdefault(together, PlatformDraft()), work, vocabulary)
    for draft in drafts.values():
        if draft.lines:
            _finish_platform(draft, book, work)
    book.parts = attach(book.parts, work.maps, work.readings)
    _name_factory_parts(book)
    for reading in work.readings:
        book.problems.extend(reading.problems)
    _check(book, work, known)
    for sheet, reading in work.sheets:
        book.headers.setdefault(sheet.file, []).extend((sheet.name, header) for header in reading.headers)
        book.rows.extend(reading.rows[number] for number in sorted(reading.rows))
        book.tallies.append(_tally(sheet, reading))
    order = {source.name: n for n, source in enumerate(book.sources)}
    place = {(s.file, s.name): n for n, (s, _) in enumerate(work.sheets)}
    book.problems.sort(key=lambda p: (order.get(p.file, -1), place.get((p.file, p.sheet), -1), p.row or 0))
    return book


def _unreadable(error: UnreadableFile, expected: str) -> Problem:
    return Problem(file=error.file, found=error.found, expected=expected, remedy=error.remedy)


def _beside(path: Path, book: Book) -> Mapping[str, Decoration]:
    """Decorations by sheet; the values of a file whose decorations cannot be read are read all the same."""
    try:
        return decorations(path) if is_decorated(path) else {}
    except UnreadableFile as error:
        book.problems.append(_unreadable(error, "a readable spreadsheet"))
        return {}


def _read_sheet(
    sheet: Sheet, decoration: Decoration, book: Book, draft: PlatformDraft, work: _Work, words: Vocabulary
) -> None:
    reading = Reading(file=sheet.file, sheet=sheet.name, words=words, decoration=decoration)
    work.readings.append(reading)
    work.sheets.append((sheet, reading))
    tables: dict[str, list[Line]] = {}
    data = list(lines(sheet, reading))
    for line in data:
        tables.setdefault(line.header.table, []).append(line)
    book.parts.extend(read_parts(tables.get("parts", []), reading, {p.id: p.source for p in book.parts}))
    work.maps.extend(read_speed_lines(tables.get("speed_lines", []), reading))
    once = [line for line in data if line.header.numbered < 2]
    reading.problems.extend(ask(sheet, reading.decoration, once, reading.answered))
    read_curves(tables.get("curves", []), reading, draft)
    read_slots(tables.get("slots", []), reading, draft)
    properties, table = tables.get("properties", []), tables.get("installed", [])
    about_car = any(words.meaning("property", line.text("property")) == "car" for line in properties)
    if not (table or about_car):
        read_constants(properties, reading, draft)
        return
    car = read_car(properties, table, reading)
    if car is None:
        return
    if any(other.id == car.id for other in book.cars):
        first = reading.origins["head", "car"]
        reading.problems.append(
            first.problem("rating", f"{car.id} again", "each car once", "rename or delete one of the sheets")
        )
        reading.hold_all([*properties, *table], "the car stands in another sheet")
        return
    work.origins[f"car {car.id}"] = reading.origins
    book.cars.append(car)


def _finish_platform(draft: PlatformDraft, book: Book, work: _Work) -> None:
    file = next((line.file for _, line in draft.lines if line.header.table == "properties"), draft.lines[0][1].file)
    platform, problems = make_platform(draft, file)
    book.problems.extend(problems)
    if platform is None:
        return
    if any(other.id == platform.id for other in book.platforms):
        book.problems.append(
            Problem(
                file=file,
                found=f"{platform.id} again",
                expected="each platform once",
                remedy="remove one of the two files",
            )
        )
        for reading, line in draft.lines:
            reading.hold_all([line], "the platform stands in another file")
        return
    work.origins[f"platform {platform.id}"] = {k: v for r, _ in draft.lines for k, v in r.origins.items()}
    book.platforms.append(platform)


def _name_factory_parts(book: Book) -> None:
    """Mark the parts with which a platform leaves the factory."""
    factory = {slot.factory_part for platform in book.platforms for slot in platform.slots}
    book.parts = [replace(part, factory=True) if part.id in factory else part for part in book.parts]


def _check(book: Book, work: _Work, known: View | None) -> None:
    parts = {p.id: p for p in (() if known is None else known.parts())} | {p.id: p for p in book.parts}
    platforms = {p.id: p for p in (() if known is None else known.platforms())} | {p.id: p for p in book.platforms}
    numbers = {n for r in work.readings for line in r.held_parts for n in NUMBER.findall(line.word("number"))}
    everything = Known(parts=MappingProxyType(parts), held=frozenset(numbers), platforms=MappingProxyType(platforms))
    if known is None and not (book.platforms and book.parts):
        return
    lines_of_parts = {
        key: line for r in work.readings for key, line in r.origins.items() if key[0] in ("part", "rating")
    }
    book.problems.extend(check_parts(book.parts, everything, lines_of_parts))
    of_platforms = {p.id: work.origins[f"platform {p.id}"] for p in book.platforms}
    book.problems.extend(check_platforms(book.platforms, everything, of_platforms))
    book.problems.extend(check_cars(book.cars, everything, {c.id: work.origins[f"car {c.id}"] for c in book.cars}))


def _tally(sheet: Sheet, reading: Reading) -> Tally:
    outcomes = [row.outcome for row in reading.rows.values()]
    return Tally(
        file=sheet.file,
        sheet=sheet.name,
        rows=len(sheet.rows),
        loaded=outcomes.count(LOADED),
        held=outcomes.count(HELD),
        not_data=outcomes.count(NOT_DATA),
    )


@uncollected()
def store_book(
    database: Database,
    book: Book,
    *,
    who: str,
    version: str,
    seen: int | None = None,
    replace_corrections: bool = False,
) -> None:
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
    seen : int or None
        Newest load when the book was read [1]; what somebody wrote since is not overwritten.
    replace_corrections : bool
        True to let the sheets overwrite what was corrected by hand.

    Raises
    ------
    Conflict
        A part was corrected by hand, or written since the book was read; nothing is stored.
    """
    with database.write() as unit:
        if not replace_corrections:
            refuse_undoing(unit, book.parts, seen=seen, platforms=book.platforms, cars=book.cars)
        for source in book.sources:
            taken = remembered(mapping_of(book.headers.get(source.name, ())))
            load = unit.record_load(
                name=source.name, sha256=source.sha256, who=who, tool_version=version, mapping=taken
            )
            places = unit.record_rows(load, (r for r in book.rows if r.file == source.name))
            unit.add_parts(load, [p for p in book.parts if _from(p.source, source.name)], places)
            unit.add_platforms(load, [p for p in book.platforms if _from(p.source, source.name)])
            unit.add_cars(load, [c for c in book.cars if _from(c.source, source.name)])


def _from(source: str, file: str) -> bool:
    return source == file or source.startswith(f"{file}, ")
