"""Sheets of a platform: constants, curves over speed, slots."""

from __future__ import annotations

import re
from collections.abc import Mapping
from types import MappingProxyType

from graph.errors import UnknownName
from graph.model import Curve, Platform, Slot
from graph.operation import PLATFORM_CONSTANTS, PLATFORM_CURVES, PLATFORM_RANGES
from graph.quantity import Quantity
from graph.service import find_kind
from ingest.problem import Problem, UnreadableValue
from ingest.sheet import HELD, LOADED, Line, Reading
from ingest.units import parse_quantity

WORDS = ("platform", "name", "codes")


def read_constants(lines: list[Line], reading: Reading) -> tuple[dict[str, str], dict[str, float]]:
    """Words and constants of a platform from its property rows.

    Parameters
    ----------
    lines : list of Line
        Rows of property and value.
    reading : Reading
        Takes defects and what became of each row.

    Returns
    -------
    words : dict of str to str
        ``platform``, ``name``, ``codes``.
    constants : dict of str to float
        [SI]
    """
    words: dict[str, str] = {}
    constants: dict[str, float] = {}
    for line in lines:
        name = line.text("property").lower()
        if name in WORDS:
            words[name] = line.text("rating")
            reading.keep(line, LOADED)
        elif name in PLATFORM_CONSTANTS:
            value = read_value(line, PLATFORM_CONSTANTS[name], reading, PLATFORM_RANGES.get(name))
            if value is not None:
                constants[name] = value
            reading.keep(line, LOADED if value is not None else HELD)
        else:
            reading.problems.append(
                line.problem("property", repr(name), "one of: " + ", ".join((*WORDS, *PLATFORM_CONSTANTS)), "use one of these names")
            )
            reading.keep(line, HELD, "unknown property")
    return words, constants


def read_value(
    line: Line, quantity: Quantity, reading: Reading, allowed: tuple[float, float] | None = None, field: str = "rating"
) -> float | None:
    """Value of a row with a unit column [SI]; None and a problem where it cannot be read."""
    unit = line.text("unit") or None
    try:
        value = parse_quantity(line.text(field), quantity, declared_unit=unit).value
    except UnreadableValue as defect:
        at = "unit" if unit is None else field
        reading.problems.append(line.problem(at, defect.found, defect.expected, defect.remedy))
        return None
    if allowed is not None and not allowed[0] <= value <= allowed[1]:
        reading.problems.append(
            line.problem(
                field,
                f"{line.text(field)} {unit or ''} ({value:.4g} {quantity.unit})",
                f"between {allowed[0]:.4g} and {allowed[1]:.4g} {quantity.unit}",
                "check the unit and the decimal point",
            )
        )
        return None
    return value


def read_curves(lines: list[Line], reading: Reading) -> dict[str, Curve]:
    """Curves over engine speed [1/s] from rows of property, speed and value."""
    points: dict[str, list[tuple[float, float]]] = {}
    for line in lines:
        name = line.text("property").lower()
        if name not in PLATFORM_CURVES:
            reading.problems.append(
                line.problem("property", repr(name), "one of: " + ", ".join(PLATFORM_CURVES), "use one of these names")
            )
            reading.keep(line, HELD, "unknown curve")
            continue
        speed = read_value(line, Quantity.ROTATIONAL_SPEED, reading, (5.0, 250.0), "speed")
        value = _ratio(line, reading)
        if speed is None or value is None:
            reading.keep(line, HELD)
            continue
        points.setdefault(name, []).append((speed, value))
        reading.keep(line, LOADED)
    return {n: Curve(x=tuple(x for x, _ in sorted(p)), y=tuple(y for _, y in sorted(p))) for n, p in points.items()}


def _ratio(line: Line, reading: Reading) -> float | None:
    try:
        value = parse_quantity(line.text("rating"), Quantity.RATIO, declared_unit="1").value
    except UnreadableValue as defect:
        reading.problems.append(line.problem("rating", defect.found, defect.expected, defect.remedy))
        return None
    if not 0.3 <= value <= 1.6:
        reading.problems.append(line.problem("rating", f"{value:g}", "0.3 to 1.6", "check the number"))
        return None
    return value


def read_slots(lines: list[Line], reading: Reading) -> tuple[Slot, ...]:
    """Slots from rows of slot, count, condition and factory part."""
    slots: list[Slot] = []
    for line in lines:
        try:
            kind = find_kind(line.text("slot"))
        except UnknownName as unknown:
            reading.problems.append(line.problem("slot", repr(line.text("slot")), str(unknown), "use one of the known places"))
            reading.keep(line, HELD)
            continue
        count = line.text("count") or "1"
        number = re.fullmatch(r"(\d+)(?:\.0)?", count)
        if number is None or int(number.group(1)) < 1:
            reading.problems.append(line.problem("count", repr(count), "a whole number from 1", "correct the number"))
            reading.keep(line, HELD)
            continue
        slots.append(
            Slot(
                name=kind.label,
                kind=kind.name,
                count=int(number.group(1)),
                only_with=line.text("only_with") or None,
                factory_part=line.text("factory_part") or None,
            )
        )
        reading.keep(line, LOADED)
    return tuple(slots)


def make_platform(
    words: Mapping[str, str],
    constants: Mapping[str, float],
    curves: Mapping[str, Curve],
    slots: tuple[Slot, ...],
    file: str,
) -> tuple[Platform | None, list[Problem]]:
    """A platform from what its sheets held, or what is missing.

    Parameters
    ----------
    words, constants, curves, slots
        As read from the sheets [SI].
    file : str
        Where they came from.

    Returns
    -------
    platform : Platform or None
        None where anything is missing.
    problems : list of Problem
        One for each missing item.
    """
    missing = [f"the property {w!r}" for w in WORDS if not words.get(w)]
    missing += [f"the constant {c!r}" for c in PLATFORM_CONSTANTS if c not in constants]
    missing += [f"the curve {c!r} with two points or more" for c in PLATFORM_CURVES if len(curves.get(c, Curve(x=(), y=())).x) < 2]
    if not slots:
        missing.append("a table of slots")
    if missing:
        return None, [
            Problem(file=file, sheet="", row=None, column="", found="nothing", expected=m, remedy="add it to the platform's sheets")
            for m in missing
        ]
    codes = tuple(filter(None, (c.strip() for c in re.split(r"[;,]", words["codes"]))))
    return (
        Platform(
            id=words["platform"],
            name=words["name"],
            codes=codes,
            constants=MappingProxyType(dict(constants)),
            curves=MappingProxyType(dict(curves)),
            slots=slots,
            source=file,
        ),
        [],
    )
