"""Logs of control units and dynos to records: channels in SI units, their rates, and every doubt as a question.

What cannot be told with certainty (gauge or absolute, the sign of a spark correction, seconds or milliseconds) is
asked and not guessed; the channel stays out until it is answered.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from graph.model import Array
from graph.quantity import Quantity
from graph.trace import CHANNELS, Pull, Reading, Series, Trace
from ingest.channel import read_head
from ingest.log_column import ANSWERS, Column, ColumnReader
from ingest.log_range import full_load, saturated
from ingest.log_table import read_log_table
from ingest.problem import Problem, UnreadableValue
from ingest.table import column_letters
from ingest.units import parse_quantity

_PRESSURE = re.compile(r"([\d.,]+\s*(?:hPa|mbar|kPa|bar))", re.I)
_TEMPERATURE = re.compile(r"([\d.,]+\s*°\s*[CF])")
_SPREAD = re.compile(r"(?:±|\+/-)\s*(\d+(?:[.,]\d+)?)\s*%")


@dataclass(slots=True, kw_only=True)
class LogBook:
    """What reading a log gave.

    Parameters
    ----------
    reading : Reading
        The records.
    problems : list of Problem
        Every defect and every question.
    rates : dict of str to float
        Measured samples a second of each channel [1/s].
    ignored : tuple of str
        Heads of columns that are no known channel.
    sha256 : str
        Digest of the file's content.
    source : str
        Its name with the first letters of that digest, so that two logs of one name are told apart.
    """

    reading: Reading
    problems: list[Problem] = field(default_factory=list)
    rates: dict[str, float] = field(default_factory=dict)
    ignored: tuple[str, ...] = ()
    sha256: str = ""
    source: str = ""


def read_log(path: Path | str, answers: Mapping[str, str] | None = None, *, cylinders: int = 4) -> LogBook:
    """Read a log.

    Parameters
    ----------
    path : path
        Text in any usual form, or a spreadsheet.
    answers : mapping of str to str or None
        Answers to questions of an earlier reading, of :data:`ANSWERS`.
    cylinders : int
        Of the engine [1]; needed where air is given per stroke.

    Returns
    -------
    LogBook
        One pull over time, or a session with one line per pull; defects.

    Raises
    ------
    UnreadableFile
        There is no table of numbers with a head.
    """
    table = read_log_table(Path(path))
    work = _Work(table=table, answers=answers or {}, problems=list(table.problems))
    columns, ignored = work.columns()
    heads = {c.head.name for c in columns}
    reading: Reading
    if "pull" in heads and "time" not in heads:
        reading = Reading(series=work.series(columns), assumed=tuple(work.assumed))
    else:
        pull = work.pull(columns, cylinders)
        present = {re.sub(r" \d+$", " #", n) for n in pull.traces} | set(pull.traces)
        reading = Reading(
            pull=pull, missing=tuple(c for c in CHANNELS if c not in present), assumed=tuple(work.assumed)
        )
    rates = {n: t.rate for n, t in reading.pull.traces.items() if t.rate is not None} if reading.pull else {}
    sha256 = hashlib.sha256(Path(path).read_bytes()).hexdigest()
    return LogBook(
        reading=reading,
        problems=work.problems,
        rates=rates,
        ignored=ignored,
        sha256=sha256,
        source=f"{Path(path).name} ({sha256[:8]})",
    )


@dataclass(slots=True, kw_only=True)
class _Work(ColumnReader):
    """Puts columns together to a pull or a series."""

    def pull(self, columns: list[Column], cylinders: int) -> Pull:
        pressure, temperature, spread = self.weather()
        times = [c for c in columns if c.head.name == "time"]
        raw: dict[str, Trace] = {}
        for column in columns:
            if column.head.word.channel in ("time", "pull", "start"):
                continue
            own = next((t for t in reversed(times) if t.index < column.index), times[0] if times else None)
            trace = self.trace(column, own, pressure)
            if trace is not None:
                raw[trace.channel] = trace
        speed = raw.get("engine speed")
        for column in columns:
            name = column.head.name
            if column.scale.per_stroke and name in raw:
                if speed is None:
                    self.defect(column.index, "air per stroke without engine speed", "engine speed", "log it too")
                    del raw[name]
                    continue
                at = np.interp(raw[name].time, speed.time, speed.value)
                raw[name] = replace(raw[name], value=raw[name].value * cylinders * at / 2.0)
        self.correction_sign(raw, columns)
        raw = self.powers(raw, columns)
        cut, told = full_load(raw)
        self.assumed.extend(told)
        traces = {name: replace(t, saturated=saturated(t, cut)) for name, t in cut.items()}
        return Pull(
            traces=traces,
            ambient_pressure=pressure,
            ambient_temperature=temperature,
            crank_spread=spread,
            notes=tuple(self.table.prologue),
        )

    def trace(self, column: Column, time: Column | None, ambient: float | None) -> Trace | None:
        name, scale = column.head.name, column.scale
        value = self.in_si(column, ambient)
        if value is None:
            return None
        if time is None:
            stamps, rate = np.arange(value.size, dtype=float), None
        else:
            stamps = time.value * time.scale.factor + time.scale.offset
            keep = np.isfinite(stamps) & (np.isfinite(value) | (scale.factor == 0.0))
            stamps, value = stamps[keep], value[keep]
            stamps, value = self.rising(stamps, value, time)
            if stamps.size < 2:
                return None
            rate = float((stamps.size - 1) / (stamps[-1] - stamps[0]))
        if np.isfinite(value).sum() < 2:
            return None
        return Trace(
            channel=name,
            time=stamps,
            value=value,
            rate=rate,
            source=f"{self.table.file}, column '{column_letters(column.index)}'",
        )

    def rising(self, stamps: Array, value: Array, time: Column) -> tuple[Array, Array]:
        """Keep the longest part in which time rises; report the rest once for each column of time."""
        steps = np.diff(stamps)
        if not (steps <= 0.0).any():
            return stamps, value
        resets = int((steps < 0.0).sum())
        found = f"{resets} resets of the clock" if resets else f"{int((steps == 0.0).sum())} equal time stamps"
        if not any(p.found == found and p.column == column_letters(time.index) for p in self.problems):
            self.defect(time.index, found, "rising time stamps", "the longest rising part is used; export again")
        edges = [0, *(np.flatnonzero(steps < 0.0) + 1), stamps.size]
        spans = [(edges[k + 1] - edges[k], edges[k], edges[k + 1]) for k in range(len(edges) - 1)]
        _, low, high = max(spans)
        stamps, value = stamps[low:high], value[low:high]
        fresh = np.concatenate([[True], np.diff(stamps) > 0.0])
        return stamps[fresh], value[fresh]

    def correction_sign(self, raw: dict[str, Trace], columns: list[Column]) -> None:
        """Turn spark corrections so that minus is pulled, or ask."""
        names = [n for n in raw if n.startswith("spark correction")]
        if not names:
            return
        values = np.concatenate([raw[n].value[np.isfinite(raw[n].value)] for n in names])
        if values.size == 0:
            return
        low, high = float(values.min()), float(values.max())
        answer = self.answers.get("spark correction")
        if answer not in ANSWERS["spark correction"]:
            answer = "minus" if high <= 1e-4 else "plus" if low >= -1e-4 else None
            if answer is not None and high - low > 1e-4:
                self.assumed.append(f"spark correction: {answer} taken as pulled, it has no other sign")
        if answer is None:
            index = next(c.index for c in columns if c.head.name in names)
            self.defect(
                index,
                "spark corrections of both signs",
                "which sign means pulled",
                "answer 'spark correction=minus' or 'spark correction=plus'",
            )
            for name in names:
                del raw[name]
        elif answer == "plus":
            for name in names:
                raw[name] = replace(raw[name], value=-raw[name].value)

    def powers(self, raw: dict[str, Trace], columns: list[Column]) -> dict[str, Trace]:
        """Give a bare power its basis."""
        if "power" not in raw:
            return raw
        column = next(c for c in columns if c.head.name == "power")
        basis = column.scale.basis or self.answers.get("power", "")
        trace = raw.pop("power")
        if basis not in ANSWERS["power"]:
            self.defect(
                column.index,
                "a power that may be at the wheels or at the crank",
                "wheel or crank",
                "answer 'power=wheel' or 'power=crank' (or --basis)",
            )
            return raw
        name = f"{basis} power"
        raw.setdefault(name, replace(trace, channel=name))
        return raw

    def weather(self) -> tuple[float | None, float | None, float]:
        """Air pressure [Pa], air temperature [K] and spread of a crank power [1] from the lines before the head."""
        pressure = temperature = None
        spread = 0.05
        for line in self.table.prologue:
            low = line.casefold()
            if any(w in low for w in ("pressure", "luftdruck", "baro")) and (match := _PRESSURE.search(line)):
                value = _read(match[1], Quantity.ABSOLUTE_PRESSURE)
                pressure = value if value is not None and 5e4 < value < 1.1e5 else pressure
            if any(w in low for w in ("air temp", "ambient", "lufttemp", "außentemp")) and (
                match := _TEMPERATURE.search(line)
            ):
                temperature = _read(match[1], Quantity.TEMPERATURE) or temperature
            if match := _SPREAD.search(line):
                spread = min(max(float(match[1].replace(",", ".")) / 100.0, 0.005), 0.3)
        return pressure, temperature, spread

    def series(self, columns: list[Column]) -> Series:
        pressure, temperature, _ = self.weather()
        values: dict[str, Array] = {}
        raw: dict[str, Trace] = {}
        for column in columns:
            value = self.in_si(column, pressure)
            if value is not None and np.isfinite(value).any() and column.head.word.channel != "pull":
                raw[column.head.name] = Trace(
                    channel=column.head.name, time=np.arange(value.size, dtype=float), value=value
                )
        self.correction_sign(raw, columns)
        raw = self.powers(raw, columns)
        values = {name: trace.value for name, trace in raw.items() if name != "start"}
        count = len(self.table.rows)
        start = raw["start"].value if "start" in raw else np.full(count, np.nan)
        index = next((i for i, h in enumerate(self.table.heads) if (r := read_head(h)) and r.name == "change"), None)
        said = {} if index is None else self.table.rows.odd.get(index, {})
        changes = tuple(said.get(k, "") for k in range(count))
        return Series(
            values=values,
            start=start,
            changes=changes,
            notes=tuple(self.table.prologue),
            ambient_temperature=temperature,
        )


def _read(text: str, quantity: Quantity) -> float | None:
    try:
        return parse_quantity(text, quantity).value
    except UnreadableValue:
        return None
