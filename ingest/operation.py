"""The sheet of strip-downs: which jobs open the same way in, and how many hours that saves."""

from __future__ import annotations

import csv
from pathlib import Path

from graph.errors import UnknownName, UsageError
from graph.plan.wish import Shared
from graph.quantity import Quantity
from graph.service import find_kind
from ingest.problem import Problem, UnreadableValue
from ingest.units import parse_quantity

COLUMNS = ("Operation", "Job", "Hours", "Does it", "Note")
YES, NO = frozenset({"yes", "y", "ja", "x", "1"}), frozenset({"no", "n", "nein", "", "0"})


def read_operations(path: Path | str) -> tuple[tuple[Shared, ...], tuple[Problem, ...]]:
    """Read a sheet of strip-downs.

    Parameters
    ----------
    path : path
        A CSV file parted by semicolons with the columns Operation, Job (a slot or a part number), Hours (a decimal
        comma or point), Does it (yes where the job itself does the operation, no where it is only cheaper once that
        is done) and Note.

    Returns
    -------
    rows : tuple of Shared
        Durations [s].
    problems : tuple of Problem
        Rows that are held back.

    Raises
    ------
    UsageError
        The file does not exist, is no text, or lacks a column.
    """
    file = Path(path)
    try:
        text = file.read_text("utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise UsageError(f"{file}: cannot be read as a text sheet ({error}); save it as CSV in UTF-8") from error
    reader = csv.DictReader(text.splitlines(), delimiter=";")
    missing = [name for name in COLUMNS[:4] if name not in (reader.fieldnames or ())]
    if missing:
        raise UsageError(
            f"{file.name}: the columns {', '.join(missing)} are missing; expected are {'; '.join(COLUMNS)}"
        )
    rows: list[Shared] = []
    problems: list[Problem] = []
    for number, line in enumerate(reader, start=2):
        if not any(line.get(name) for name in COLUMNS):
            continue
        found = _row(line, file.name, number)
        if isinstance(found, Problem):
            problems.append(found)
        else:
            rows.append(found)
    return tuple(rows), tuple(problems)


def _row(line: dict[str, str], file: str, number: int) -> Shared | Problem:
    """One strip-down, or what is wrong with its row."""

    def held(column: str, expected: str, remedy: str) -> Problem:
        return Problem(
            file=file,
            sheet=file,
            row=number,
            column=column,
            found=repr(line.get(column) or ""),
            expected=expected,
            remedy=remedy,
        )

    operation, job = (line.get("Operation") or "").strip(), (line.get("Job") or "").strip()
    if not operation:
        return held("Operation", "the name of the strip-down", "name it, such as 'bumper off'")
    if not job:
        return held("Job", "a slot or a part number", "name the job that it belongs to")
    try:
        hours = parse_quantity((line.get("Hours") or "").strip(), Quantity.DURATION, declared_unit="h").value
    except UnreadableValue:
        hours = None
    if hours is None or not 0.0 < hours <= 200.0 * 3600.0:
        return held("Hours", "hours above 0", "write a number such as 2,5")
    does = (line.get("Does it") or "").strip().lower()
    if does not in YES | NO:
        return held("Does it", "yes or no", "write yes where the job does the operation itself")
    try:
        job = find_kind(job).name
    except UnknownName:
        if not any(c.isdigit() for c in job):
            return held("Job", "a slot or a part number", "write the slot as in the book of parts")
    return Shared(operation=operation, job=job, duration=float(hours), does=does in YES)
