"""Parts of the book back into a sheet: what :mod:`ingest.book` reads again as the same parts."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Any

from openpyxl import Workbook
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE
from openpyxl.styles import Font
from openpyxl.utils import get_column_letter

from graph.errors import UsageError
from graph.kinds import discover
from graph.limit import RatingSpec
from graph.model import Curve, Part, Rating, Relation, RelationKind
from graph.quantity import Quantity
from ingest.evidence import evidence_kind
from ingest.template import HEAD as BLANK
from ingest.template import SHEET, WIDTHS, scaled, unit_of, units_of
from ingest.vocabulary import read_vocabulary

HEAD = (*BLANK[:12], "By", *BLANK[12:])
_OPENING = {
    RelationKind.SUPERSEDES: "supersedes ",
    RelationKind.EXCLUDES: "not with ",
    RelationKind.ADAPTS: "adapts ",
    RelationKind.MEMBER: "includes ",
    RelationKind.REQUIRES: "",
}


def write_parts(parts: Iterable[Part], path: Path | str) -> Path:
    """Write parts as a parts sheet.

    Parameters
    ----------
    parts : iterable of Part
        Of the shop's book.
    path : path
        New file, ending in ``.xlsx``.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    UsageError
        The path has another ending, lies in no folder, or exists.
    """
    path = Path(path)
    if path.suffix.lower() != ".xlsx":
        raise UsageError(f"{path}: a parts sheet is a workbook; name it with the ending .xlsx")
    if not path.parent.is_dir():
        raise UsageError(f"{path.parent} is no folder; name one that exists")
    if path.exists():
        raise UsageError(f"{path} exists; name a new file")
    book = Workbook()
    sheet = book.active
    sheet.title = SHEET
    for index, name in enumerate(HEAD, start=1):
        sheet.cell(row=1, column=index, value=name).font = Font(bold=True)
        sheet.column_dimensions[get_column_letter(index)].width = WIDTHS.get(name, max(11, len(name) + 3))
    sheet.freeze_panes = "C2"
    number = 2
    for part in parts:
        for row in part_rows(part):
            for name, value in row.items():
                _put(sheet.cell(row=number, column=HEAD.index(name) + 1), value)
            number += 1
    book.save(path)
    return path


def part_rows(part: Part) -> list[dict[str, Any]]:
    """Rows of one part: one for each rating, what belongs to the part in the first.

    Parameters
    ----------
    part : Part
        Any part.

    Returns
    -------
    list of dict
        Column to value; empty cells are left out.
    """
    kind = discover()[part.kind]
    own = {
        "Part": part.name,
        "Maker": part.maker,
        "Slot": kind.label,
        "Fits": "; ".join(part.fits),
        "Price net EUR": part.price,
        "Labour h": None if part.labour is None else _plain(part.labour / 3600.0),
        "Lead days": None if part.lead_time is None else _plain(part.lead_time / 86400.0),
        "Stock": part.stock,
        "Requires": "; ".join([*map(_clause, part.relations), *(f"task: {task}" for task in part.tasks)]),
        "Interfaces": "; ".join(f"{i.port}: {i.type}" for i in part.interfaces),
        "Note": part.note,
    }
    rows = [_rating_cells(rating, kind.rating(rating.name)) for rating in part.ratings] or [{}]
    rows[0] = own | rows[0]
    return [{"No.": part.id} | {k: v for k, v in row.items() if v is not None and v != ""} for row in rows]


def _rating_cells(rating: Rating, spec: RatingSpec) -> dict[str, Any]:
    unit = units_of(spec)[0]
    said = rating.evidence.detail.partition("; spread of")[0]
    known = evidence_kind(said, read_vocabulary()) if said else None
    return {
        "Rating of": rating.name,
        "Rating": _value(rating, spec, unit),
        "Unit": unit,
        "Condition": "; ".join(
            f"{c.name} {_condition(c.value, next(s.quantity for s in spec.conditions if s.name == c.name))}"
            for c in rating.conditions
            if not c.assumed
        ),
        "Meaning": rating.meaning.value,
        "Evidence": said if known is rating.evidence.kind else rating.evidence.kind.value,
        "Date": rating.evidence.date,
        "By": rating.evidence.by,
        "± %": _plain(rating.spread * 100.0),
    }


def _value(rating: Rating, spec: RatingSpec, unit: str) -> float | str:
    if not isinstance(rating.value, Curve):
        return _plain(scaled(rating.value, spec.quantity, unit))
    assert spec.over is not None
    across = unit_of(spec.over)
    return "; ".join(
        f"{_plain(scaled(x, spec.over, across))!r}{'' if across == '1' else f' {across}'}: "
        f"{_plain(scaled(y, spec.quantity, unit))!r}"
        for x, y in zip(rating.value.x, rating.value.y, strict=True)
    )


def _condition(value: float | str, quantity: Quantity | None) -> str:
    if quantity is None or isinstance(value, str):
        return str(value)
    unit = unit_of(quantity)
    return f"{_plain(scaled(value, quantity, unit))!r} {unit}"


def _plain(value: float) -> float:
    """A number without the last digits that only the change of unit has brought."""
    return float(f"{value:.13g}")


def _clause(relation: Relation) -> str:
    if relation.text:
        return relation.text
    if relation.part is not None:
        return f"{_OPENING[relation.kind]}{relation.part}"
    kind = discover()[relation.slot or ""]
    spec = kind.rating(relation.rating or "")
    unit = unit_of(spec.quantity)
    return f"{kind.label} {spec.name} >= {_plain(scaled(relation.at_least or 0.0, spec.quantity, unit))!r} {unit}"


def _put(cell: Any, value: Any) -> None:
    """Write one value; a text that a spreadsheet would take for a formula stays a text."""
    if isinstance(value, str):
        cell.value = ILLEGAL_CHARACTERS_RE.sub("", value)
        cell.data_type = "s"
        cell.quotePrefix = value.startswith(("=", "+", "-", "@"))
    else:
        cell.value = value
