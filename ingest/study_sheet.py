"""The sheet of a study: lists in a TOML file, or a table with one assessment in each row.

A table has a header with the words car, power, boost, torque, power speed, fuel, install, ambient, altitude, pressure,
minutes, build and day; car and power are needed.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from graph.service import Request
from graph.study import CHUNK, Case
from ingest.problem import Problem, UnreadableValue
from ingest.study_list import read_lists
from ingest.study_word import OWN, QUANTITIES, quantity_of
from ingest.table import Row, Sheet, read_workbook

COLUMNS = ("car", *QUANTITIES, "fuel", "install", "build", "day")


@dataclass(frozen=True, slots=True, kw_only=True)
class StudySheet:
    """A study as read.

    Parameters
    ----------
    cases : tuple of Case
        What can be asked.
    problems : tuple of Problem
        What could not be read.
    samples, chunk : int
        Joint samples of each assessment; assessments that a worker takes at a time [1].
    """

    cases: tuple[Case, ...]
    problems: tuple[Problem, ...] = ()
    samples: int = 0
    chunk: int = CHUNK


def read_study(path: Path) -> StudySheet:
    """Read the sheet of a study.

    Parameters
    ----------
    path : Path
        A ``.toml`` file, or a table (XLSX, ODS, CSV).

    Returns
    -------
    StudySheet
        Quantities in SI units.

    Raises
    ------
    UsageError
        A TOML file that cannot be read, with everything that is wrong in it.
    UnreadableFile
        A table that cannot be read at all.
    """
    if path.suffix.lower() != ".toml":
        return _table(path)
    cases, numbers = read_lists(path)
    return StudySheet(cases=cases, samples=numbers.get("samples", 0), chunk=numbers.get("chunk", CHUNK))


def _table(path: Path) -> StudySheet:
    workbook = read_workbook(path)
    cases: list[Case] = []
    problems: list[Problem] = []
    for sheet in workbook.sheets:
        if sheet.hidden or not any(row.cells for row in sheet.rows):
            continue
        problems.extend(sheet.problems)
        for found in _rows(sheet):
            if isinstance(found, Case):
                cases.append(found)
            else:
                problems.append(found.at(file=path.name, sheet=sheet.name))
    return StudySheet(cases=tuple(cases), problems=tuple(problems))


def _rows(sheet: Sheet) -> Iterator[Case | Problem]:
    """Cases of one sheet, and its defects."""
    filled = [row for row in sheet.rows if row.cells]
    header = filled[0]
    names: dict[str, str] = {}
    for cell in header.cells:
        word = " ".join(cell.text.lower().replace("_", " ").split())
        if word in COLUMNS and word not in names.values():
            names[cell.column] = word
        elif word:
            yield Problem(
                row=header.number,
                column=cell.column,
                found=repr(cell.text),
                expected=f"one of {', '.join(COLUMNS)}, each once",
                remedy="rename the column",
            )
    for needed in ("car", "power"):
        if needed not in names.values():
            yield Problem(
                row=header.number, found="no column for it", expected=f"a column '{needed}'", remedy="add the column"
            )
            return
    for row in filled[1:]:
        yield from _case(row, names)


def _case(row: Row, names: Mapping[str, str]) -> Iterator[Case | Problem]:
    """One row: a case, or every defect in it."""
    texts = {names[c.column]: (c.text, c.column) for c in row.cells if c.column in names and c.text}
    asked: dict[str, Any] = {}
    defects: list[Problem] = []
    for name, (field, _, _) in QUANTITIES.items():
        if name in texts:
            text, column = texts[name]
            try:
                asked[field] = quantity_of(text, name)
            except UnreadableValue as error:
                defects.append(error.problem(row=row.number, column=column))
    defects.extend(
        Problem(row=row.number, found="an empty cell", expected=f"a {needed}", remedy="fill it, or delete the row")
        for needed in ("car", "power")
        if needed not in texts
    )
    if defects:
        yield from defects
        return
    said = {name: texts[name][0] if name in texts else "" for name in ("car", "fuel", "install", "build", "day")}
    install = tuple(filter(None, (p.strip() for p in said["install"].split(","))))
    yield Case(
        car=said["car"],
        build=said["build"] or " + ".join(install) or OWN,
        day=said["day"],
        request=Request(fuel=said["fuel"] or None, install=install, **asked),
    )
