"""Columns of a log as numbers in the log's own units: heads, cells, units, doubles; doubts become questions."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from graph.model import Array
from graph.quantity import Quantity
from ingest.channel import Head, read_head
from ingest.log_table import LogTable
from ingest.log_unit import Scale, scale_of
from ingest.problem import Problem, UnreadableValue
from ingest.table import column_letters

STANDARD_PRESSURE = 101325.0
#: What a person may be asked, and the answers: --answer 'boost=gauge'.
ANSWERS: Mapping[str, tuple[str, ...]] = {
    "boost": ("gauge", "absolute"),
    "spark correction": ("minus", "plus"),
    "time": ("s", "ms"),
    "power": ("wheel", "crank"),
}


@dataclass(slots=True, kw_only=True)
class Column:
    """One column of a known channel, in the log's own unit."""

    head: Head
    index: int
    value: Array
    scale: Scale


@dataclass(slots=True, kw_only=True)
class ColumnReader:
    """Reads columns and keeps what is wrong with them.

    Parameters
    ----------
    table : LogTable
        The log.
    answers : mapping of str to str
        Answers to questions, of :data:`ANSWERS`.
    problems : list of Problem
        Defects and questions so far.
    assumed : list of str
        What was taken for granted.
    """

    table: LogTable
    answers: Mapping[str, str]
    problems: list[Problem]
    assumed: list[str] = field(default_factory=list)

    def defect(self, index: int, found: str, expected: str, remedy: str, row: int | None = None) -> None:
        """Note a defect of one column."""
        self.problems.append(
            Problem(
                file=self.table.file,
                row=row,
                column=column_letters(index),
                found=found,
                expected=expected,
                remedy=remedy,
            )
        )

    def columns(self) -> tuple[list[Column], tuple[str, ...]]:
        """Columns that are known channels, as numbers in the log's own units."""
        found: list[Column] = []
        ignored: list[str] = []
        for index, text in enumerate(self.table.heads):
            head = read_head(text) if text else None
            if head is None:
                if text:
                    ignored.append(text)
                elif self.table.rows.filled(index):
                    self.defect(index, "numbers without a name", "the name of a channel", "name the column in the head")
                continue
            if head.word.quantity is None:
                continue
            values = self.numbers(index)
            if head.name == "time" and not head.unit:
                head = replace(head, unit=self.unit_of_time(index, values))
                if not head.unit:
                    continue
            if head.name == "lambda" and not head.unit and np.nanmedian([*values, np.nan, 1.0]) > 5.0:
                self.defect(
                    index,
                    "an air-fuel ratio without its scale",
                    "lambda",
                    "write lambda, or AFR(E0) for 14.7 at lambda 1",
                )
                continue
            try:
                scale = scale_of(head)
            except UnreadableValue as error:
                self.defect(index, error.found, error.expected, error.remedy)
                continue
            found.append(Column(head=head, index=index, value=values, scale=scale))
        return self.without_doubles(found), tuple(ignored)

    def numbers(self, index: int) -> Array:
        """A column's numbers, NaN where there is none; cells that are no numbers are reported once."""
        rows = self.table.rows
        values = rows.column(index)
        bad = [(rows.number(k), text) for k, text in sorted(rows.odd.get(index, {}).items())]
        if bad:
            count = f" and {len(bad) - 1} more in this column" if len(bad) > 1 else ""
            sign = "comma" if self.table.decimal == "," else "point"
            self.defect(
                index,
                f"{bad[0][1][:40]!r}{count}",
                f"one number with a decimal {sign}",
                "the value is left out; correct the cell or export the log again",
                bad[0][0],
            )
        return values

    def unit_of_time(self, index: int, values: Array) -> str:
        """Seconds or milliseconds, or nothing where it cannot be told."""
        answer = self.answers.get("time")
        if answer in ANSWERS["time"]:
            return answer
        steps = np.diff(values[np.isfinite(values)])
        step = float(np.median(steps)) if steps.size else 0.0
        if 0.0 < step < 1.0:
            self.assumed.append("time stamps taken as seconds: they step by fractions")
            return "s"
        if step >= 5.0:
            self.assumed.append("time stamps taken as milliseconds: they step by whole numbers of 5 and more")
            return "ms"
        self.defect(index, "time without a unit", "seconds or milliseconds", "answer 'time=s' or 'time=ms'")
        return ""

    def without_doubles(self, columns: list[Column]) -> list[Column]:
        """Leave one of equal columns and none of those that contradict each other; times may be many."""
        kept: list[Column] = []
        for column in columns:
            name = column.head.name
            twin = next((c for c in kept if c.head.name == name and name != "time"), None)
            if twin is None:
                kept.append(column)
                continue
            own, other = (c.value * c.scale.factor + c.scale.offset for c in (column, twin))
            if np.allclose(own, other, rtol=0.02, equal_nan=True) and column.scale.reference == twin.scale.reference:
                self.assumed.append(f"two columns of {name} agree; the first is used")
                continue
            self.defect(
                column.index,
                f"a second column of {name} (also in {column_letters(twin.index)}) with other numbers",
                "each channel once",
                "name them apart; both are left out until then",
            )
            kept = [c for c in kept if c is not twin]
        return kept

    def in_si(self, column: Column, ambient: float | None) -> Array | None:
        """A column in SI units; values that cannot be are left out and reported."""
        head, scale = column.head, column.scale
        value = column.value * scale.factor + scale.offset
        if head.word.quantity is Quantity.GAUGE_PRESSURE:
            reference = scale.reference
            if head.word.channel == "boost" and not reference:
                reference = self.answers.get("boost", "")
                if not reference and np.nanmin([*value, np.inf]) < 0.0:
                    reference = "gauge"
                    self.assumed.append("boost taken as gauge: it goes below zero")
                if reference not in ANSWERS["boost"]:
                    self.defect(
                        column.index,
                        f"{head.name} that may be gauge or absolute",
                        "gauge or absolute",
                        "write it into the head, or answer 'boost=gauge' or 'boost=absolute'",
                    )
                    return None
            if reference == "absolute":
                if ambient is None:
                    note = "air pressure taken as 1013 hPa: the log does not state it"
                    if note not in self.assumed:
                        self.assumed.append(note)
                value = value - (ambient or STANDARD_PRESSURE)
        if head.word.channel == "trim" and np.nanmedian([*value, np.nan, 0.0]) > 0.5:
            value = value - 1.0
        if head.word.bare == "%" and not head.unit and np.nanmax([*value, -np.inf]) <= 0.0105:
            value = value * 100.0
        outside = (value < head.word.low) | (value > head.word.high)
        if outside.any():
            row = self.table.rows.number(int(np.argmax(outside)))
            self.defect(
                column.index,
                f"{int(outside.sum())} values of {head.name} that cannot be",
                f"values from {head.word.low:g} to {head.word.high:g} in SI units",
                "the values are left out; check channel and unit",
                row,
            )
            value = np.where(outside, np.nan, value)
        if head.word.channel == "low-side pressure" and np.nanmedian([*value, np.nan, 0.0]) > 2.0e6:
            self.defect(
                column.index,
                "a low-side pressure over 20 bar",
                "the pressure before the high-pressure pump",
                "check whether it was swapped with the rail pressure",
            )
        return np.asarray(value)
