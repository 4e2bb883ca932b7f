"""The sheet of a compressor map: one row for each point of each speed line, added to the part that it belongs to.

The points stay as they are written; beside them the envelope that the rest of the program reads (largest flow, surge and
pressure ratio) is taken from the lines where the part's own rows do not state it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from graph.errors import OutOfRange
from graph.model import Condition, Curve, Evidence, EvidenceKind, Part, Rating
from graph.physics.compressor_map import SpeedMap
from graph.physics.map_points import speed_map
from graph.quantity import Quantity
from ingest.evidence import evidence_kind
from ingest.line import Line
from ingest.number import Decimal
from ingest.problem import Problem, UnreadableValue
from ingest.sheet import HELD, LOADED, Reading
from ingest.units import read_value
from ingest.vocabulary import plain_word

KIND = "compressor"
#: Column of the sheet -> rating of the part, and its quantity.
COLUMNS: Mapping[str, tuple[str, Quantity]] = {
    "wheel_speed": ("speed line speed", Quantity.ROTATIONAL_SPEED),
    "flow": ("speed line flow", Quantity.MASS_FLOW),
    "ratio": ("speed line pressure ratio", Quantity.PRESSURE_RATIO),
    "efficiency": ("speed line efficiency", Quantity.RATIO),
}
STATE: Mapping[str, tuple[str, Quantity, str]] = {
    "temperature": ("reference temperature", Quantity.TEMPERATURE, "298 K"),
    "pressure": ("reference pressure", Quantity.ABSOLUTE_PRESSURE, "100 kPa"),
}
#: Header of a blank sheet.
HEAD = (
    "No.", "Wheel speed (1/min)", "Flow (g/s)", "Pressure ratio", "Efficiency (%)", "Reference temperature",
    "Reference pressure", "Surge line", "Evidence", "Note",
)  # fmt: skip
SURGE: Mapping[str, str] = {"soft": "soft", "weich": "soft", "hard": "hard", "hart": "hard"}
#: Share of the last line's largest flow below which it is so level that its ratio, not its flow, is the limit [1].
STEEP = 0.72
#: Pressure ratios at which the envelope is written down [1].
STEPS = 8


@dataclass(slots=True, kw_only=True)
class Draft:
    """Rows of one part's map while they are read."""

    number: str
    first: Line
    reading: Reading
    lines: list[Line] = field(default_factory=list)
    points: list[dict[str, float]] = field(default_factory=list)
    state: dict[str, float] = field(default_factory=dict)
    surge: str = "not stated"
    whole: bool = True


def read_speed_lines(lines: Iterable[Line], reading: Reading) -> tuple[Draft, ...]:
    """Points of maps from the data rows of one sheet.

    Parameters
    ----------
    lines : iterable of Line
        Rows under a header of a map.
    reading : Reading
        Takes defects and what became of each row.

    Returns
    -------
    tuple of Draft
        One for each part number, in the order of the sheet; the reference state may stand in the first row alone.
    """
    drafts: dict[str, Draft] = {}
    for line in lines:
        number = line.word("number")
        if not number:
            reading.problems.append(
                line.problem("number", "nothing", "the part number of the compressor in every row", "write it")
            )
            reading.keep(line, HELD, "no part number")
            continue
        draft = drafts.setdefault(number, Draft(number=number, first=line, reading=reading))
        draft.lines.append(line)
        _read_point(draft, line)
        _read_state(draft, line)
    return tuple(drafts.values())


def _read_point(draft: Draft, line: Line) -> None:
    point: dict[str, float] = {}
    for column, (_, quantity) in COLUMNS.items():
        found = _number(draft, line, column, quantity)
        if found is not None:
            point[column] = found
    if len(point) == len(COLUMNS):
        draft.points.append(point)
        draft.reading.keep(line, LOADED)
    else:
        draft.whole = False
        draft.reading.keep(line, HELD, "a point with a defect")


def _number(draft: Draft, line: Line, column: str, quantity: Quantity) -> float | None:
    # a pressure ratio has no thousands, so that 1.524 and 1,524 have one reading
    decimal: Decimal | None = None
    if quantity is Quantity.PRESSURE_RATIO:
        decimal = "," if "," in line.text(column) else "."
    try:
        return read_value(line.value(column), quantity, declared_unit=line.unit(column), decimal=decimal).value
    except UnreadableValue as defect:
        draft.reading.problems.append(line.problem(column, defect.found, defect.expected, defect.remedy))
        return None


def _read_state(draft: Draft, line: Line) -> None:
    """Reference state and kind of surge line; further rows may repeat them but not say anything else."""
    for column, (_, quantity, example) in STATE.items():
        if not line.text(column):
            continue
        found = _number(draft, line, column, quantity)
        if found is None:
            draft.whole = False
        elif abs(found - draft.state.setdefault(column, found)) > 1e-6 * found:
            draft.whole = False
            draft.reading.problems.append(
                line.problem(column, repr(line.text(column)), f"one {column} for the whole map, such as {example}", "write it in the first row only")
            )  # fmt: skip
    said = plain_word(line.text("surge"))
    if said and said not in SURGE:
        draft.whole = False
        draft.reading.problems.append(
            line.problem("surge", repr(line.text("surge")), "soft (first pulses) or hard (full reversal)", "say which")
        )
    elif said:
        draft.surge = SURGE[said]


def attach(parts: list[Part], drafts: Iterable[Draft], readings: Iterable[Reading] = ()) -> list[Part]:
    """Add maps to the compressors that they belong to.

    Parameters
    ----------
    parts : list of Part
        Parts of the same load.
    drafts : iterable of Draft
        Maps as read.
    readings : iterable of Reading
        Of every sheet: questions after ratings that a map answers are taken back.

    Returns
    -------
    list of Part
        With the points and the envelope as ratings; a map with a defect is held with all its rows.
    """
    everywhere = list(readings)
    found = {p.id: _sound(p, everywhere) for p in parts}
    for draft in drafts:
        part = found.get(draft.number)
        made = _checked(draft, part)
        if made is None or part is None:
            draft.reading.hold_all(draft.lines, "the map has a defect")
            continue
        added = _ratings(draft, part, made)
        if not added:
            draft.reading.hold_all(draft.lines, "the map has a defect")
            continue
        _take_back(draft.number, added, everywhere)
        found[part.id] = replace(part, ratings=(*part.ratings, *added))
    return [found[p.id] for p in parts]


def _sound(part: Part, readings: list[Reading]) -> Part:
    """A part without the map that its own rows state, where that cannot be one."""
    if part.kind != KIND:
        return part
    columns = [part.rating(name) for name, _ in COLUMNS.values()]
    curves = [r.value for r in columns if r is not None and isinstance(r.value, Curve)]
    if len(curves) < len(COLUMNS):
        return part
    try:
        speed_map(*curves)
    except OutOfRange as defect:
        name = COLUMNS["flow"][0]
        for reading in readings:
            line = reading.origins.get(("rating", f"{part.id} {name}"))
            if line is not None:
                reading.problems.append(
                    line.problem("rating", f"{defect.what}: {defect.found}", defect.allowed, defect.remedy)
                )
        names = {name for name, _ in COLUMNS.values()}
        return replace(part, ratings=tuple(r for r in part.ratings if r.name not in names))
    return part


def _checked(draft: Draft, part: Part | None) -> SpeedMap | None:
    """The map of a draft, or None and the defect that forbids it."""
    first, add = draft.first, draft.reading.problems.append
    if part is None or part.kind != KIND:
        what = f"{draft.number}, " + ("no part of these sheets" if part is None else f"a {part.kind.replace('_', ' ')}")
        add(first.problem("number", what, "a compressor of the parts sheet", "load the map together with the parts"))
        return None
    for column, (name, _, example) in STATE.items():
        if column not in draft.state:
            add(first.problem(column, "nothing", f"the {name} of the map", f"write it, such as {example}; every map has its own"))  # fmt: skip
            draft.whole = False
    if not draft.whole:
        return None
    try:
        return speed_map(*(_column(draft, c) for c in COLUMNS))
    except OutOfRange as defect:
        add(first.problem("wheel_speed", f"{defect.what}: {defect.found}", defect.allowed, defect.remedy))
        return None


def _column(draft: Draft, column: str) -> Curve:
    return Curve(x=tuple(float(i) for i in range(1, len(draft.points) + 1)), y=tuple(p[column] for p in draft.points))


def _ratings(draft: Draft, part: Part, made: SpeedMap) -> list[Rating]:
    """Points of the map, and its envelope where the part does not state it."""
    evidence, spread = _evidence(draft)
    if evidence is None:
        return []
    state = tuple(Condition(name=name, value=draft.state[c]) for c, (name, _, _) in STATE.items())
    lines = f"{len(draft.points)} points on {len(made.lines)} speed lines"
    rows: list[Rating] = []

    def add(name: str, value: float | Curve, conditions: tuple[Condition, ...], width: float, text: str) -> None:
        if part.rating(name) is None:
            rows.append(
                Rating(name=name, value=value, evidence=evidence, spread=width, conditions=conditions, text=text)
            )

    for column, (name, _) in COLUMNS.items():
        whole = (*state, Condition(name="surge", value=draft.surge)) if column == "flow" else ()
        add(name, _column(draft, column), whole, spread if column == "flow" else 0.0, lines)
    last = made.lines[-1]
    steep = float(np.interp(STEEP * last.flow[-1], last.flow, last.ratio))
    ratios = np.linspace(made.lines[0].ratio[-1], steep, STEPS)
    across = tuple(float(r) for r in ratios)
    derived = f"from {lines}"
    add("choke flow", Curve(x=across, y=tuple(map(float, made.largest_flow(ratios)))), state, spread, derived)
    add("surge flow", Curve(x=across, y=tuple(map(float, made.surge_flow(ratios)))), state, spread, derived)
    add("pressure ratio", float(max(made.lines[-1].ratio)), (), spread, derived)
    return rows


def _evidence(draft: Draft) -> tuple[Evidence | None, float]:
    """How the map is known, and the spread that goes with it."""
    line, words = draft.first, draft.reading.words
    said = line.word("evidence") or "maker map"
    kind: EvidenceKind | None = evidence_kind(said, words)
    if kind is None:
        draft.reading.problems.append(
            line.problem("evidence", repr(said), "how the map is known: " + ", ".join(words.known("evidence")), "use one of these words")
        )  # fmt: skip
        return None, 0.0
    return Evidence(kind=kind, source=line.source("wheel_speed"), detail=said), words.spread[kind.value]


def _take_back(number: str, added: list[Rating], readings: list[Reading]) -> None:
    """Take back the questions after ratings that the map answers."""
    answered = {f"no {rating.name} of {number} in any row" for rating in added}
    for reading in readings:
        reading.problems[:] = [p for p in reading.problems if not _asks(p, answered)]


def _asks(problem: Problem, answered: set[str]) -> bool:
    return any(problem.found.startswith(words) for words in answered)
