"""A table of a sheet as lines with named fields: where it starts, what is data, and what became of every row."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from graph.store.record import SheetRow
from ingest.decoration import Decoration
from ingest.header import TABLES, Header, KeyWords, declared_units, parts_fields, recognise, with_units
from ingest.line import Line, line_under
from ingest.numbered import grouped, side_by_side
from ingest.problem import Problem
from ingest.table import Row, Sheet
from ingest.vocabulary import Vocabulary, plain_word, read_vocabulary

_PRICE = re.compile(r"price|preis|€|\beur\b|\b[ev]k\b|\bcost\b|kosten", re.I)
#: Rows of a sheet without a header among which the one nearest to a header is looked for.
_LOOKED_AT = 200
LOADED, HELD, NOT_DATA = "loaded", "held", "not data"
#: First cell of a sheet that the program itself has written into an annotated copy.
OWN_LIST = "Written by Pinchpoint; this sheet is not read"


@dataclass(slots=True, kw_only=True)
class Reading:
    """What reading one sheet has given so far.

    Parameters
    ----------
    file, sheet : str
        Which sheet.
    words : Vocabulary
        The words that a sheet may use.
    problems : list of Problem
        Every defect.
    rows : dict of int to SheetRow
        Every row by its number as read, and what became of it.
    origins : dict
        What was read from where: ``(kind of record, its name)`` to line.
    held_parts : list of Line
        First rows of parts that are held.
    headers : list of Header
        The headers that were found.
    decoration : Decoration
        What the sheet says beside its values.
    answered : set of str
        Cells whose comment has been used.
    lacking : set of (int, str)
        Columns that were asked for once: row of the header, field.
    """

    file: str
    sheet: str
    words: Vocabulary = field(default_factory=read_vocabulary)
    problems: list[Problem] = field(default_factory=list)
    rows: dict[int, SheetRow] = field(default_factory=dict)
    origins: dict[tuple[str, str], Line] = field(default_factory=dict)
    held_parts: list[Line] = field(default_factory=list)
    headers: list[Header] = field(default_factory=list)
    decoration: Decoration = field(default_factory=Decoration)
    answered: set[str] = field(default_factory=set)
    lacking: set[tuple[int, str]] = field(default_factory=set)

    def blank(self, line: Line, name: str) -> str:
        """What to call an empty cell: nothing, or a part of merged cells."""
        block = self.decoration.block(line.cell(name)) if line.cell(name) else ""
        return f"nothing of its own: the cell is merged in {block}" if block else "nothing"

    def keep(self, line: Line, outcome: str, note: str = "") -> None:
        """Record what became of a data row; one of several ratings that is held holds the row."""
        before = self.rows.get(line.number)
        if line.header.numbered > 1 and before is not None and before.outcome == HELD:
            outcome, note = HELD, "; ".join(dict.fromkeys(filter(None, (before.note, note))))
        self._set(line.number, line.raw, outcome, note)

    def aside(self, row: Row, note: str) -> None:
        """Record a row that is no data, and why."""
        self._set(row.number, row.filled, NOT_DATA, note)

    def wait(self, row: Row, note: str) -> None:
        """Record a row that is held although nobody can say what it is."""
        self._set(row.number, row.filled, HELD, note)

    def hold_all(self, lines: Iterable[Line], note: str) -> None:
        """Hold rows that were good in themselves, because the record that they belong to cannot be made."""
        for line in lines:
            if self.rows[line.number].outcome == LOADED:
                self.keep(line, HELD, note)

    def _set(self, number: int, raw: Mapping[str, str], outcome: str, note: str) -> None:
        self.rows[number] = SheetRow(self.file, self.sheet, number, raw, outcome, note)


def lines(sheet: Sheet, reading: Reading) -> Iterator[Line]:
    """The data rows of a sheet, each under the header that stands above it.

    Titles, headers, unit rows and blank rows are recorded as no data; a column without a known header is asked about
    once. Where no header is found at all, the filled rows are held, because nobody can say that they are no data.

    Parameters
    ----------
    sheet : Sheet
        As read.
    reading : Reading
        Takes what is no data and what is asked.

    Yields
    ------
    Line
        With its cells by field.
    """
    if sheet.rows and sheet.rows[0].texts[:1] == (OWN_LIST,):
        for row in sheet.rows:
            reading.aside(row, "the program's own list")
        return
    reading.problems.extend(sheet.problems)
    faulty = {problem.row for problem in sheet.problems}
    header: Header | None = None
    headers: tuple[Header, ...] = ()
    titles: list[Row] = []
    foreign: frozenset[int] = frozenset()
    gap, unit_row = False, 0
    keys = KeyWords(reading.words)
    for index, row in enumerate(sheet.rows):
        filled = bool(row.texts)
        if gap and filled and header is not None and header.table == "parts":
            foreign = _second_table(sheet.rows[index:], header, reading.words)
            if foreign:
                reading.problems.append(_not_read(sheet, row, len(foreign)))
        gap = not filled
        if row.number in foreign:
            reading.wait(row, "a second table on the sheet, or a remark")
            continue
        found = recognise(row, reading.words, keys) if keys.among(row.texts) else None
        if not filled and row.number not in faulty:
            reading.aside(row, "blank")
        elif found is not None:
            below = sheet.rows[index + 1] if index + 1 < len(sheet.rows) else row
            units = declared_units(below, found, reading.words) if below.number == row.number + 1 else None
            header = found if units is None else with_units(found, units, reading.words)
            unit_row = 0 if units is None else below.number
            headers = grouped(header, reading.words)
            header = headers[0]
            reading.headers.extend(headers)
            reading.aside(row, "header")
            reading.problems.extend(_asked(sheet, header))
        elif header is None:
            titles.append(row)
            reading.aside(row, "title")
        elif row.number == unit_row:
            reading.aside(row, "units of the header")
        else:
            fault = row.number in faulty
            if len(headers) == 1:
                yield line_under(header, row, sheet.file, sheet.name, fault=fault)
            else:
                yield from side_by_side(headers, row, sheet.file, sheet.name, fault=fault)
    if header is None and titles:
        reading.problems.append(_no_header(sheet, titles, reading.words))
        for row in titles:
            reading.wait(row, "no header row above it")


def _no_header(sheet: Sheet, titles: Sequence[Row], words: Vocabulary) -> Problem:
    row, found = titles[0], "no header row"
    remedy = "add the header row, for example No., Part, Slot, Fits, Rating of, Rating, Unit"
    near = max(titles[:_LOOKED_AT], key=lambda title: len(parts_fields(title, words)))
    if len(fields := parts_fields(near, words)) > 1:
        row, lacking = near, sorted(TABLES["parts"] - fields)
        names = {"number": "the part number ('No.')", "slot": "the place of the part ('Slot')"}
        found = f"a row that has no column for {' or '.join(names[name] for name in lacking)}"
        remedy = "add or rename that column here, or add its header to the shop's list of words"
    return Problem(
        file=sheet.file,
        sheet=sheet.name,
        row=row.number,
        found=found,
        expected="a row with the headers of a parts, platform or car sheet",
        remedy=remedy,
    )


def _second_table(rows: Sequence[Row], header: Header, words: Vocabulary) -> frozenset[int]:
    """Numbers of the rows of a block behind a blank row, where not one of them is a row of the parts table."""
    block: list[int] = []
    for row in rows:
        texts = row.filled
        if not texts or recognise(row, words) is not None:
            break
        own = any(texts.get(header.columns.get(name, "")) for name in ("slot", "rating", "rating_of"))
        number = texts.get(header.columns["number"], "")
        first = plain_word(re.sub(r"[:\d].*", "", next(iter(texts.values()))))
        if (own and re.search(r"\d", number)) or words.words["word"].get(first) == "subtotal":
            return frozenset()
        block.append(row.number)
    return frozenset(block)


def _not_read(sheet: Sheet, row: Row, count: int) -> Problem:
    column, text = next(iter(row.filled.items()))
    return Problem(
        file=sheet.file,
        sheet=sheet.name,
        row=row.number,
        column=column,
        found=f"{text!r}, which begins a second table or a remark of {count} rows"
        if count > 1
        else f"{text!r}, a remark or a row without a part number",
        expected="one table on the sheet",
        remedy="move it to a sheet or a file of its own, or delete it; these rows are held",
    )


def _asked(sheet: Sheet, header: Header) -> Iterator[Problem]:
    """One question for each column that is not read."""
    taken = {plain_word(header.names[column]) for column in header.columns.values()}
    for column in header.unknown:
        twice = plain_word(header.names[column]) in taken
        price = not twice and "price" not in header.columns and _PRICE.search(header.names[column])
        yield Problem(
            file=sheet.file,
            sheet=sheet.name,
            row=header.row,
            column=column,
            found=f"a column headed {header.names[column]!r}" + (" again" if twice else ""),
            expected="each column once" if twice else "a header of the list of words",
            remedy="the column is not read: rename its header to 'Price net EUR' if its prices are net and in euro"
            if price
            else "the column is not read: rename its header, delete it, or add the header to the shop's list of words",
        )
