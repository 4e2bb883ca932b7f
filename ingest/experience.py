"""How a shop's jobs turn out: its sheets of hours and of findings, with every defect."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from graph.errors import OutOfRange, UnknownName
from graph.experience import Experience, JobTime, Spread, Surprise
from graph.service import find_kind
from ingest.named_table import NamedTable, open_named
from ingest.problem import Problem
from ingest.table import Row

#: The sheets of a folder; either may be missing.
HOURS, FINDINGS = "hours.csv", "findings.csv"
_HOURS, _PRICES = ("Low h", "Usual h", "High h"), ("Low price", "Usual price", "High price")
HOURS_COLUMNS = ("Job", *_HOURS)
FINDINGS_COLUMNS = ("Finding", "Text", "Found when", "Not when", "Chance %", *_HOURS, *_PRICES)
#: Longest job [h], and dearest finding [currency].
LONGEST, DEAREST = 400.0, 1e6
HOUR = 3600.0


@dataclass(slots=True, kw_only=True)
class ExperienceBook:
    """What reading gave: experience from the rows without defects, and the defects."""

    experience: Experience
    problems: list[Problem] = field(default_factory=list)


def read_experience(folder: Path | str) -> ExperienceBook:
    """Read the sheets of hours and of findings.

    Parameters
    ----------
    folder : path
        Holds ``hours.csv`` (how long jobs take: one in 20 is quicker than *Low h*, half take less than *Usual h*, one
        in 20 takes longer than *High h*) and ``findings.csv`` (what may be found when a place is opened, how often,
        and what it adds; prices net). Either may be missing; both may have a column *Source*.

    Returns
    -------
    ExperienceBook
        Durations [s], prices [currency].

    Raises
    ------
    UnreadableFile
        A sheet is empty or lacks a column.
    """
    problems: list[Problem] = []
    hours, findings = Path(folder) / HOURS, Path(folder) / FINDINGS
    times: list[JobTime | None] = []
    surprises: list[Surprise | None] = []
    if hours.exists():
        table = open_named(hours, HOURS_COLUMNS, problems)
        times = [_time(table, row) for row in table.rows]
    if findings.exists():
        table = open_named(findings, FINDINGS_COLUMNS, problems)
        surprises = [_surprise(table, row) for row in table.rows]
    experience = Experience(
        times=tuple(t for t in times if t is not None), surprises=tuple(s for s in surprises if s is not None)
    )
    return ExperienceBook(experience=experience, problems=problems)


def _time(table: NamedTable, row: Row) -> JobTime | None:
    job = _jobs(table, row, "Job")
    labour = _spread(table, row, _HOURS, least=0.01, most=LONGEST, unit=HOUR)
    return None if len(job) != 1 or labour is None else JobTime(job=next(iter(job)), labour=labour)


def _surprise(table: NamedTable, row: Row) -> Surprise | None:
    key, text = (_said(table, row, column) for column in ("Finding", "Text"))
    jobs = _jobs(table, row, "Found when")
    noted = len(table.problems)
    unless = _jobs(table, row, "Not when", needed=False)
    refused = len(table.problems) > noted
    chance = table.number(row, "Chance %", 0.1, 99.9)
    labour = _spread(table, row, _HOURS, least=0.0, most=LONGEST, unit=HOUR)
    parts = _spread(table, row, _PRICES, least=0.0, most=DEAREST, unit=1.0)
    if not key or not text or not jobs or refused or chance is None or labour is None or parts is None:
        return None
    return Surprise(
        key=key,
        text=text,
        jobs=jobs,
        unless=unless,
        probability=chance / 100.0,
        labour=labour,
        parts=parts,
        source=table.text(row, "Source"),
    )


def _said(table: NamedTable, row: Row, column: str) -> str:
    text = table.text(row, column).strip()
    if not text:
        table.defect(row, column, "an empty cell", "a text", "fill it in, or delete the row")
    return text


def _jobs(table: NamedTable, row: Row, column: str, *, needed: bool = True) -> frozenset[str]:
    """Kinds, or numbers, of the parts that a cell names; empty after a defect."""
    names = [name.strip() for name in table.text(row, column).split(",") if name.strip()]
    if needed and not names:
        table.defect(row, column, "an empty cell", "a slot or a part number", "name the job")
    found = set()
    for name in names:
        try:
            found.add(find_kind(name).name)
        except UnknownName:
            if not any(c.isdigit() for c in name):
                table.defect(
                    row, column, repr(name), "a slot or a part number", "write the slot as in the book of parts"
                )
                return frozenset()
            found.add(name)
    return frozenset(found)


def _spread(
    table: NamedTable, row: Row, columns: tuple[str, ...], *, least: float, most: float, unit: float
) -> Spread | None:
    values = [table.number(row, column, least, most) for column in columns]
    low, usual, high = values
    if low is None or usual is None or high is None:
        return None
    try:
        return Spread(low=low * unit, usual=usual * unit, high=high * unit)
    except OutOfRange as error:
        table.defect(row, columns[0], f"{low:g}, {usual:g}, {high:g}", error.allowed, error.remedy)
        return None
