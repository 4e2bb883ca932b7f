"""Sheets of a platform: constants, curves over speed, slots."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches
from types import MappingProxyType

from graph.errors import UnknownName
from graph.model import Curve, Platform, Slot
from graph.operation import PLATFORM_CONSTANTS, PLATFORM_CURVES, PLATFORM_RANGES
from graph.quantity import Quantity
from graph.service import find_kind
from ingest.line import Line
from ingest.problem import Problem, UnreadableValue
from ingest.property import property_name, read_property
from ingest.sheet import HELD, LOADED, Reading
from ingest.units import read_value
from ingest.vocabulary import plain_word

WORDS = ("platform", "name", "codes")
SPEEDS = (5.0, 250.0)
FACTORS = (0.3, 1.6)


@dataclass(slots=True, kw_only=True)
class PlatformDraft:
    """A platform while its sheets are read.

    Parameters
    ----------
    words : dict of str to str
        ``platform``, ``name``, ``codes``.
    constants : dict of str to float
        [SI]
    points : dict of str to dict of float to float
        Curves as speed [1/s] to value [1].
    slots : dict of str to Slot
        By name.
    held : set of str
        Properties, curves and ``slots`` of which a row is held: a platform is loaded whole or not at all.
    lines : list of (Reading, Line)
        Every row that belongs to it.
    """

    words: dict[str, str] = field(default_factory=dict)
    constants: dict[str, float] = field(default_factory=dict)
    points: dict[str, dict[float, float]] = field(default_factory=dict)
    slots: dict[str, Slot] = field(default_factory=dict)
    held: set[str] = field(default_factory=set)
    lines: list[tuple[Reading, Line]] = field(default_factory=list)


def read_constants(lines: Iterable[Line], reading: Reading, draft: PlatformDraft) -> None:
    """Words and constants of a platform from its property rows.

    Parameters
    ----------
    lines : iterable of Line
        Rows of property and value.
    reading : Reading
        Takes defects and what became of each row.
    draft : PlatformDraft
        Takes what was read.
    """
    for line in lines:
        draft.lines.append((reading, line))
        name = property_name(line, reading, (*WORDS, *PLATFORM_CONSTANTS))
        if name not in WORDS and name not in PLATFORM_CONSTANTS:
            _unknown(line, reading, (*WORDS, *PLATFORM_CONSTANTS))
        elif name in draft.words or name in draft.constants:
            reading.problems.append(
                line.problem("property", f"{name} again", "each property once", "remove the row that does not hold")
            )
            reading.keep(line, HELD, "stated twice")
        elif name in WORDS and line.word("rating") and not line.fault:
            draft.words[name] = line.word("rating")
            reading.keep(line, LOADED)
        else:
            value = None
            if name in WORDS or not line.text("rating"):
                reading.problems.append(line.problem("rating", "nothing", f"the {name}", "fill it in"))
            elif not line.fault:
                value = read_property(line, PLATFORM_CONSTANTS[name], reading, PLATFORM_RANGES.get(name))
            if value is None:
                draft.held.add(name)
                reading.keep(line, HELD, "the value has a defect")
            else:
                draft.constants[name] = value
                reading.origins["constant", name] = line
                reading.keep(line, LOADED)


def read_curves(lines: Iterable[Line], reading: Reading, draft: PlatformDraft) -> None:
    """Points of curves over engine speed from rows of property, speed and value.

    Parameters
    ----------
    lines : iterable of Line
        The rows; the unit column is that of the speed.
    reading : Reading
        Takes defects and what became of each row.
    draft : PlatformDraft
        Takes the points [1/s, 1].
    """
    for line in lines:
        draft.lines.append((reading, line))
        name = property_name(line, reading, PLATFORM_CURVES)
        if name not in PLATFORM_CURVES:
            _unknown(line, reading, PLATFORM_CURVES)
            continue
        speed = read_property(line, Quantity.ROTATIONAL_SPEED, reading, SPEEDS, "speed")
        value = _factor(line, reading)
        points = draft.points.setdefault(name, {})
        if speed in points:
            reading.problems.append(
                line.problem(
                    "speed",
                    f"{line.text('speed')} of {name} again",
                    "each speed once",
                    "remove the row that does not hold",
                )
            )
            speed = None
        if speed is None or value is None or line.fault:
            draft.held.add(name)
            reading.keep(line, HELD, "the point has a defect")
        else:
            points[speed] = value
            reading.keep(line, LOADED)


def _factor(line: Line, reading: Reading) -> float | None:
    try:
        value = read_value(line.value("rating"), Quantity.RATIO, declared_unit="1").value
    except UnreadableValue as defect:
        reading.problems.append(line.problem("rating", defect.found, defect.expected, defect.remedy))
        return None
    if not FACTORS[0] <= value <= FACTORS[1]:
        reading.problems.append(
            line.problem("rating", f"{value:g}", f"{FACTORS[0]:g} to {FACTORS[1]:g}", "check the number")
        )
        return None
    return value


def read_slots(lines: Iterable[Line], reading: Reading, draft: PlatformDraft) -> None:
    """Slots from rows of slot, count, condition and factory part.

    Parameters
    ----------
    lines : iterable of Line
        The rows.
    reading : Reading
        Takes defects and what became of each row.
    draft : PlatformDraft
        Takes the slots.
    """
    for line in lines:
        draft.lines.append((reading, line))
        before = len(reading.problems)
        count = _count(line, reading)
        try:
            kind = find_kind(plain_word(line.word("slot")))
        except UnknownName as unknown:
            found = repr(line.word("slot")) if line.text("slot") else "nothing"
            reading.problems.append(line.problem("slot", found, str(unknown), "use one of the known places"))
            draft.held.add("slots")
            reading.keep(line, HELD, "unknown place")
            continue
        if kind.label in draft.slots:
            reading.problems.append(
                line.problem("slot", f"{kind.label} again", "each slot once", "remove one of the two")
            )
        if len(reading.problems) > before or line.fault:
            draft.held.add("slots")
            reading.keep(line, HELD, "the slot has a defect")
            continue
        draft.slots[kind.label] = Slot(
            name=kind.label,
            kind=kind.name,
            count=count,
            only_with=line.word("only_with") or None,
            factory_part=line.word("factory_part") or None,
        )
        reading.origins["slot", kind.label] = line
        reading.keep(line, LOADED)


def _count(line: Line, reading: Reading) -> int:
    if not line.text("count"):
        return 1
    try:
        measure = read_value(line.value("count"), Quantity.COUNT)
        if measure.value < 1 or measure.value > 16 or measure.qualifiers or measure.condition:
            raise UnreadableValue(repr(line.text("count")), "a whole number from 1 to 16", "correct the number")
    except UnreadableValue as defect:
        reading.problems.append(line.problem("count", defect.found, defect.expected, defect.remedy))
        return 1
    return int(measure.value)


def _unknown(line: Line, reading: Reading, known: Sequence[str]) -> None:
    found = line.word("property")
    near = get_close_matches(plain_word(found), known, n=1)
    remedy = f"did you mean {near[0]!r}?" if near else "use one of these names, or delete the row"
    reading.problems.append(
        line.problem("property", repr(found) if found else "nothing", "one of: " + ", ".join(known), remedy)
    )
    reading.keep(line, HELD, "unknown property")


def make_platform(draft: PlatformDraft, file: str) -> tuple[Platform | None, list[Problem]]:
    """A platform from what its sheets held, or what is missing.

    Parameters
    ----------
    draft : PlatformDraft
        What was read; where the platform cannot be made, its rows are held.
    file : str
        Where it came from.

    Returns
    -------
    platform : Platform or None
        None where anything is missing.
    problems : list of Problem
        One for each missing item that has no defect of its own.
    """
    curves = {
        name: Curve(x=tuple(sorted(points)), y=tuple(points[x] for x in sorted(points)))
        for name, points in draft.points.items()
    }
    short = {name for name in PLATFORM_CURVES if name not in curves or len(curves[name].x) < 2}
    absent = [w for w in WORDS if w not in draft.words] + [c for c in PLATFORM_CONSTANTS if c not in draft.constants]
    missing = [f"the property {name!r}" for name in absent if name not in draft.held]
    missing += [f"the curve {name!r} with two points or more" for name in PLATFORM_CURVES if name in short - draft.held]
    if not draft.slots and "slots" not in draft.held:
        missing.append("a table of slots")
    sheets = [line.sheet for _, line in draft.lines if line.header.table == "properties"] or [""]
    problems = [
        Problem(
            file=file,
            sheet=sheets[0],
            found=f"no row for {item.removeprefix('the ')}" if item.startswith("the") else "no slots",
            expected=item,
            remedy="add it to the sheets of the platform; without it the platform is not loaded",
        )
        for item in missing
    ]
    problems.extend(_contradiction(draft))
    if absent or short or draft.held or not draft.slots:
        for reading, line in draft.lines:
            reading.hold_all([line], "the platform cannot be made")
        return None, problems
    codes = tuple(dict.fromkeys(c for c in re.split(r"[;,\s]+", draft.words["codes"]) if c))
    platform = Platform(
        id=draft.words["platform"],
        name=draft.words["name"],
        codes=codes,
        constants=MappingProxyType(dict(draft.constants)),
        curves=MappingProxyType(curves),
        slots=tuple(draft.slots.values()),
        source=file,
    )
    return platform, problems


def _contradiction(draft: PlatformDraft) -> list[Problem]:
    """Factory power that the factory torque cannot give at the speed of the power (P = 2 pi N M)."""
    power, torque, speed = (draft.constants.get(c) for c in ("factory power", "factory torque", "power speed"))
    if power is None or torque is None or speed is None or power <= 1.02 * torque * 2.0 * math.pi * speed:
        return []
    key = ("constant", "factory power")
    line = next(reading.origins[key] for reading, _ in draft.lines if key in reading.origins)
    return [
        line.problem(
            "rating",
            f"{power / 1e3:.0f} kW at {speed * 60:.0f} 1/min, which takes {power / (2 * math.pi * speed):.0f} N.m",
            f"no more than the factory torque of {torque:.0f} N.m gives",
            "correct the power, the torque or the speed of the power",
        )
    ]
