"""The parts book written back as sheets: the columns that :mod:`ingest.part` reads, no digit of a value left out.

What a spreadsheet would take for a formula is written as plain text: in a workbook by the cell's type, in a CSV file by
an apostrophe before it. Beside a CSV file stands its description for programs.

References
----------
RFC 4180, Common Format and MIME Type for CSV Files, 2005.
"""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path

from graph.kinds import discover
from graph.limit import Kind, RatingSpec
from graph.model import Curve, Meaning, Part, Rating, Relation, RelationKind
from graph.quantity import Quantity
from ingest.evidence import evidence_kind
from ingest.parts_columns import header_of, metadata
from ingest.reference import read_unit
from ingest.unit_list import SI
from ingest.units import convert
from ingest.vocabulary import read_vocabulary

Cell = str | float | int | None

#: Beginnings of a cell that a spreadsheet takes for a formula.
FORMULA = ("=", "+", "-", "@", "\t", "\r")
#: Units in which values are written; SI for the others.
WRITTEN: dict[Quantity, str] = {
    Quantity.ABSOLUTE_PRESSURE: "bar abs",
    Quantity.GAUGE_PRESSURE: "bar gauge",
    Quantity.PRESSURE_DIFFERENCE: "kPa",
    Quantity.MASS_FLOW: "g/s",
    Quantity.VOLUME_FLOW: "L/h",
    Quantity.VOLUME: "cm3",
    Quantity.ROTATIONAL_SPEED: "rpm",
    Quantity.POWER: "kW",
    Quantity.ENERGY: "mJ",
    Quantity.LENGTH: "mm",
    Quantity.DISTANCE: "km",
    Quantity.AREA: "mm2",
    Quantity.DURATION: "ms",
    Quantity.ANGLE: "°",
    Quantity.TEMPERATURE: "°C",
}
#: Units in which a value is written that no number in its usual unit leads back to.
EXACT: dict[Quantity, str] = {
    **SI,
    Quantity.ABSOLUTE_PRESSURE: "Pa abs",
    Quantity.GAUGE_PRESSURE: "Pa gauge",
}


def rows_of(part: Part) -> Iterator[dict[str, Cell]]:
    """Rows of one part, one for each rating, its own columns in the first.

    Parameters
    ----------
    part : Part
        As recorded [SI].

    Yields
    ------
    dict of str to cell
        Column to text or number, in the units of :data:`WRITTEN`; columns without a value are missing.
    """
    kind = discover()[part.kind]
    own: dict[str, Cell] = {
        "No.": part.id,
        "Part": part.name,
        "Slot": kind.label,
        "Fits": "; ".join(part.fits),
        "Price net EUR": part.price,
        "Labour h": None if part.labour is None else _number(part.labour, lambda v: v * 3600.0, 1.0 / 3600.0),
        "Lead days": None if part.lead_time is None else _number(part.lead_time, lambda v: v * 86400.0, 1.0 / 86400.0),
        "Stock": part.stock,
        "Requires": "; ".join([*map(_clause, part.relations), *(f"task: {task}" for task in part.tasks)]),
        "Interfaces": "; ".join(f"{i.port}: {i.type}" for i in part.interfaces),
        "Note": part.note,
        "Maker": part.maker,
    }
    for i, rating in enumerate(part.ratings or (None,)):
        row: dict[str, Cell] = dict(own) if i == 0 else {"No.": part.id}
        if rating is not None:
            row.update(_rating(rating, kind))
        yield {name: value for name, value in row.items() if value is not None and value != ""}


def _rating(rating: Rating, kind: Kind) -> dict[str, Cell]:
    spec = kind.rating(rating.name)
    note = re.search(r"; spread of [\d.]+ % assumed for .*$", rating.evidence.detail)
    detail = rating.evidence.detail[: note.start()] if note is not None else rating.evidence.detail
    if not detail or evidence_kind(detail, read_vocabulary()) is not rating.evidence.kind:
        detail = rating.evidence.kind.value
    return {
        "Rating of": rating.name,
        "Rating": _value(rating, spec),
        "Unit": _unit_of(rating.value, spec.quantity),
        "Condition": "; ".join(_conditions(rating, spec)),
        "Meaning": None if rating.meaning is Meaning.NOMINAL else rating.meaning.value,
        "Evidence": detail,
        "Date": rating.evidence.date,
        "± %": None if note is not None else _number(rating.spread, lambda v: v * 0.01, 100.0),
        "By": rating.evidence.by,
    }


def _value(rating: Rating, spec: RatingSpec) -> Cell:
    if not isinstance(rating.value, Curve):
        exact = _unit_of(rating.value, spec.quantity) == EXACT[spec.quantity]
        return rating.value if exact else _in(rating.value, spec.quantity)
    over = spec.over or Quantity.RATIO
    return "; ".join(
        f"{_text(_in(x, over))}{_behind(over)}: {_text(_in(y, spec.quantity))}"
        for x, y in zip(rating.value.x, rating.value.y, strict=True)
    )


def _unit_of(value: float | Curve, quantity: Quantity) -> str:
    """Unit in which a value is written; SI where no number in the usual unit leads back to the last digit."""
    usual = WRITTEN.get(quantity, EXACT[quantity])
    if isinstance(value, Curve):
        return usual
    label = read_unit(usual, quantity).unit.label
    return usual if convert(_in(value, quantity), label, SI[quantity], quantity) == value else EXACT[quantity]


def _conditions(rating: Rating, spec: RatingSpec) -> Iterator[str]:
    for condition in rating.conditions:
        wanted = next((c for c in spec.conditions if c.name == condition.name), None)
        if condition.assumed or wanted is None:
            continue
        if isinstance(condition.value, str) or wanted.quantity is None:
            yield f"{condition.name} {condition.value}"
        else:
            yield f"{condition.name} {_text(_in(condition.value, wanted.quantity))}{_behind(wanted.quantity)}"


def _behind(quantity: Quantity) -> str:
    """A unit behind a number within a text."""
    unit = WRITTEN.get(quantity, SI[quantity])
    return "" if unit == "1" and quantity is not Quantity.RATIO else f" {unit}"


def _in(value: float, quantity: Quantity) -> float:
    """An SI value in the unit in which it is written, with the fewest digits that read back as the same value."""
    unit = WRITTEN.get(quantity, SI[quantity])
    label = read_unit(unit, quantity).unit.label

    def back(number: float) -> float:
        return convert(number, label, SI[quantity], quantity)

    return _shortest(convert(value, SI[quantity], label, quantity), back, value)


def _number(value: float, back: Callable[[float], float], factor: float) -> float:
    return _shortest(value * factor, back, value)


def _shortest(number: float, back: Callable[[float], float], value: float) -> float:
    """The number with the fewest digits that leads back to the value; as near as can be where none does."""
    for digits in range(1, 18):
        short = float(f"{number:.{digits}g}")
        if back(short) == value:
            return short
    return number


def _text(number: float) -> str:
    """All digits of a number, never in a form with two readings."""
    if number.is_integer() and abs(number) < 1e15:
        return str(int(number))
    text = repr(number)
    return f"{text}0" if re.fullmatch(r"-?[1-9]\d{0,2}\.\d{3}", text) else text


def _clause(relation: Relation) -> str:
    if relation.text:
        return relation.text
    if relation.part is not None:
        words = {
            RelationKind.REQUIRES: "",
            RelationKind.EXCLUDES: "not with ",
            RelationKind.SUPERSEDES: "supersedes ",
            RelationKind.ADAPTS: "adapts ",
            RelationKind.MEMBER: "includes ",
        }
        return words[relation.kind] + relation.part
    kind = discover()[relation.slot or ""]
    spec = kind.rating(relation.rating or "")
    value = _text(_in(relation.at_least or 0.0, spec.quantity))
    return f"{kind.label} {spec.name} >= {value}{_behind(spec.quantity)}"


def write_workbook(parts: Iterable[Part], path: Path) -> None:
    """Write parts into a workbook, one sheet for each area of the book.

    Parameters
    ----------
    parts : iterable of Part
        As recorded.
    path : Path
        New or old file; an old one is replaced.
    """
    from openpyxl import Workbook
    from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE

    listed = list(parts)
    header = header_of(listed)
    workbook = Workbook()
    workbook.remove(workbook.active)
    for area in dict.fromkeys(kind.area for kind in discover().values()):
        inside = [p for p in listed if discover()[p.kind].area == area]
        if not inside:
            continue
        sheet = workbook.create_sheet(area)
        sheet.append(header)
        for number, row in enumerate((row for part in inside for row in rows_of(part)), start=2):
            for column, name in enumerate(header, start=1):
                value = row.get(name)
                if value is None:
                    continue
                if isinstance(value, str):  # a workbook cannot hold control characters
                    value = ILLEGAL_CHARACTERS_RE.sub("\N{REPLACEMENT CHARACTER}", value)
                cell = sheet.cell(row=number, column=column, value=value)
                if isinstance(value, str):
                    cell.data_type = "s"
                    cell.quotePrefix = value.startswith(FORMULA)
    if not workbook.sheetnames:
        workbook.create_sheet("Parts").append(header)
    workbook.save(path)


def write_text(parts: Iterable[Part], path: Path) -> Path:
    """Write parts into a CSV file, and its description beside it.

    Parameters
    ----------
    parts : iterable of Part
        As recorded.
    path : Path
        New or old file; an old one is replaced.

    Returns
    -------
    Path
        The description.
    """
    listed = list(parts)
    header = header_of(listed)
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(header)
    for part in listed:
        for row in rows_of(part):
            writer.writerow([harmless(row.get(name)) for name in header])
    path.write_bytes(out.getvalue().encode("utf-8"))
    beside = path.with_name(f"{path.name}-metadata.json")
    beside.write_text(json.dumps(metadata(path.name, header), ensure_ascii=False, indent=1) + "\n", encoding="utf-8")
    return beside


def harmless(value: Cell) -> str:
    """A cell of a CSV file that no spreadsheet takes for a formula.

    Parameters
    ----------
    value : str, float, int or None
        The cell.

    Returns
    -------
    str
        A number as it is; a text that begins like a formula with an apostrophe before it.

    Examples
    --------
    >>> harmless("=1+1")
    "'=1+1"
    >>> harmless(-1.5)
    '-1.5'
    """
    if value is None:
        return ""
    if not isinstance(value, str):
        return _text(float(value))
    return f"'{value}" if value.startswith(FORMULA) else value
