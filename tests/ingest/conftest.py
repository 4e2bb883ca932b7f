from __future__ import annotations

import csv
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from graph.model import Part
from ingest.book import Book

Rows = Sequence[Sequence[Any]]


def _csv(path: Path, tabs: Mapping[str, Rows]) -> Path:
    (rows,) = tabs.values()
    with path.open("w", newline="", encoding="utf-8") as stream:
        csv.writer(stream, delimiter=";").writerows([["" if v is None else v for v in row] for row in rows])
    return path


def _xlsx(path: Path, tabs: Mapping[str, Rows]) -> Path:
    from openpyxl import Workbook

    book = Workbook()
    book.remove(book.active)
    for name, rows in tabs.items():
        sheet = book.create_sheet(name)
        for number, row in enumerate(rows, start=1):
            for column, value in enumerate(row, start=1):
                cell = sheet.cell(row=number, column=column, value=value)
                if isinstance(value, str):
                    cell.data_type = "s"  # a text that begins with "=" is meant as a text
    book.save(path)
    return path


def _ods(path: Path, tabs: Mapping[str, Rows]) -> Path:
    from odf.opendocument import OpenDocumentSpreadsheet
    from odf.table import Table, TableCell, TableRow
    from odf.text import P

    book = OpenDocumentSpreadsheet()
    for name, rows in tabs.items():
        table = Table(name=name)
        for row in rows:
            line = TableRow()
            for value in row:
                if value is None or value == "":
                    line.addElement(TableCell())
                    continue
                number = isinstance(value, int | float)
                cell = TableCell(valuetype="float", value=repr(value)) if number else TableCell(valuetype="string")
                cell.addElement(P(text=str(value)))
                line.addElement(cell)
            table.addElement(line)
        book.spreadsheet.addElement(table)
    book.save(str(path))
    return path


@pytest.fixture
def write(tmp_path: Path) -> Callable[[str, Mapping[str, Rows]], Path]:
    """Writer of a file with tabs; the ending of the name says in which format."""

    def writer(name: str, tabs: Mapping[str, Rows]) -> Path:
        path = tmp_path / name
        return {".csv": _csv, ".xlsx": _xlsx, ".ods": _ods}[path.suffix](path, tabs)

    return writer


@pytest.fixture
def conserve() -> Callable[[Book], None]:
    """Check that no row is lost: rows in = loaded + held + named as no data, each row once."""

    def check(book: Book) -> None:
        for tally in book.tallies:
            assert tally.rows == tally.loaded + tally.held + tally.not_data, tally
            own = [r for r in book.rows if (r.file, r.sheet) == (tally.file, tally.sheet)]
            assert [r.number for r in own] == list(range(1, tally.rows + 1))
            assert all(r.note for r in own if r.outcome != "loaded")
        assert sum(t.rows for t in book.tallies) == len(book.rows)

    return check


@pytest.fixture
def nameless() -> Callable[[Part], Part]:
    """A part without the place it was read from."""

    def strip(part: Part) -> Part:
        ratings = tuple(replace(r, evidence=replace(r.evidence, source="")) for r in part.ratings)
        return replace(part, ratings=ratings, source="")

    return strip
