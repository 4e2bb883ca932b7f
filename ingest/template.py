"""Blank sheets for new parts: one workbook per part kind, with its ratings, units and drop-downs."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from openpyxl import Workbook
from openpyxl.styles import Font, PatternFill
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation

from graph.errors import UsageError
from graph.limit import ConditionSpec, Kind, RatingSpec
from graph.quantity import Quantity
from graph.service import find_kind
from ingest import speed_line
from ingest.sheet import OWN_LIST
from ingest.unit_list import EXAMPLE, UNITS
from ingest.units import parse_quantity
from ingest.vocabulary import Vocabulary, plain_word, read_vocabulary

HEAD = (
    "No.", "Part", "Maker", "Slot", "Fits", "Rating of", "Rating", "Unit", "Condition", "Meaning", "Evidence", "Date",
    "± %", "Price net EUR", "Labour h", "Lead days", "Stock", "Requires", "Interfaces", "Note",
)  # fmt: skip
WIDTHS = {"Part": 32, "Condition": 44, "Requires": 30, "Interfaces": 24, "Note": 30, "Rating of": 20, "Slot": 20}
SHEET, SAMPLE, WORDS, MAP = "Parts", "Example", "Words", "Map"
ROWS = 200
_REFERENCE = {Quantity.GAUGE_PRESSURE: " gauge", Quantity.ABSOLUTE_PRESSURE: " abs"}
_HEAD_FONT, _HEAD_FILL = Font(bold=True), PatternFill("solid", fgColor="DDE6EE")


def write_template(kind: str, path: Path | str) -> Path:
    """Write a blank sheet for parts of one kind, with an example beside it.

    Parameters
    ----------
    kind : str
        Name, label or synonym of a part kind, such as ``tank pump``.
    path : path
        New file, ending in ``.xlsx``.

    Returns
    -------
    Path
        The file. Its sheet ``Parts`` is empty below the header; the sheets ``Example`` and ``Words`` are not read. For
        a compressor there is a sheet ``Map`` for the points of its speed lines.

    Raises
    ------
    UnknownName
        No such kind.
    UsageError
        The path has another ending, lies in no folder, or exists.
    """
    path = Path(path)
    found = find_kind(plain_word(kind))
    if path.suffix.lower() != ".xlsx":
        raise UsageError(f"{path}: a blank sheet is a workbook; name it with the ending .xlsx")
    if not path.parent.is_dir():
        raise UsageError(f"{path.parent} is no folder; name one that exists")
    if path.exists():
        raise UsageError(f"{path} exists; name a new file")
    words = read_vocabulary()
    book = Workbook()
    sheet = book.active
    sheet.title = SHEET
    _header(sheet, 1)
    _offer(sheet, _write_words(book.create_sheet(WORDS), found, words), 2, ROWS + 1)
    _write_sample(book.create_sheet(SAMPLE, 1), found)
    if found.name == speed_line.KIND:
        _header(book.create_sheet(MAP, 1), 1, speed_line.HEAD)
    book.save(path)
    return path


def units_of(spec: RatingSpec) -> list[str]:
    """Every unit in which a rating may be written, the usual one first.

    Parameters
    ----------
    spec : RatingSpec
        The rating.

    Returns
    -------
    list of str
        A pressure with its reference.
    """
    usual = unit_of(spec.quantity)
    labels = [f"{unit.label}{_REFERENCE.get(spec.quantity, '')}" for unit in UNITS[spec.quantity]]
    return [usual, *(label for label in labels if label != usual)]


def example_rows(kind: Kind) -> list[dict[str, Any]]:
    """Rows of an invented part that states every rating of its kind.

    Parameters
    ----------
    kind : Kind
        The kind.

    Returns
    -------
    list of dict
        Column to value; the rows load without a question where the platform ``HM20-D4`` is known or none is.
    """
    own = {
        "No.": "PY-9000",
        "Part": f"sample {kind.label}",
        "Slot": kind.label,
        "Fits": "HM20-D4",
        "Price net EUR": 120,
        "Labour h": 1.5,
        "Lead days": 5,
        "Stock": 1,
    }
    rows: list[dict[str, Any]] = []
    for spec in kind.ratings:
        unit = units_of(spec)[0]
        row = {
            "No.": own["No."],
            "Rating of": spec.name,
            "Rating": _example_value(spec, unit),
            "Unit": unit,
            "Condition": "; ".join(f"{c.name} {_example_condition(c)}" for c in spec.conditions),
            "Evidence": "maker sheet",
            "Date": "2026-04-01",
            "± %": 5,
        }
        rows.append({name: value for name, value in row.items() if value != ""})
    rows = rows or [{}]
    rows[0] = own | rows[0]
    return rows


def unit_of(quantity: Quantity) -> str:
    """Unit in which a quantity is usually written, with its reference where it is a pressure.

    Parameters
    ----------
    quantity : Quantity
        Any quantity.

    Returns
    -------
    str
        That of the program's own example.
    """
    reference = _REFERENCE.get(quantity, "")
    said = EXAMPLE[quantity].removesuffix(reference).partition(" ")[2]
    known = any(unit.label == said for unit in UNITS[quantity])
    return f"{said if known else UNITS[quantity][0].label}{reference}"


def scaled(value: float, quantity: Quantity, unit: str) -> float:
    """Turn an SI value into a unit, by probes: a unit of temperature does not start at nought.

    Parameters
    ----------
    value : float
        [SI]
    quantity : Quantity
        What it is.
    unit : str
        As a sheet writes it.

    Returns
    -------
    float
        [unit]

    Examples
    --------
    >>> scaled(338.15, Quantity.TEMPERATURE, "°C")
    65.0
    """
    nought, low, high = (parse_quantity(str(n), quantity, declared_unit=unit).value for n in (0, 100, 200))
    return (value - nought) / (high - low) * 100.0


def _example_value(spec: RatingSpec, unit: str) -> float | str:
    if spec.example:
        return spec.example
    low, high = spec.plausible
    middle = (low * high) ** 0.5 if low > 0.0 else (low + high) / 4.0
    value = float(f"{scaled(middle, spec.quantity, unit):.2g}")
    if spec.over is None:
        return value
    across = unit_of(spec.over)
    start, end = (5.0, 10.0) if spec.over is not Quantity.PRESSURE_RATIO else (1.5, 3.0)
    behind = "" if across == "1" else f" {across}"
    return f"{start:g}{behind}: {value:g}; {end:g}{behind}: {value:g}"


def _example_condition(condition: ConditionSpec) -> str:
    if condition.quantity is None:
        return str(condition.default or condition.words[0])
    if condition.default is None:
        return EXAMPLE[condition.quantity]
    unit = unit_of(condition.quantity)
    return f"{scaled(float(condition.default), condition.quantity, unit):.4g} {unit}"


def _header(sheet: Any, row: int, head: tuple[str, ...] = HEAD) -> None:
    for index, name in enumerate(head, start=1):
        cell = sheet.cell(row=row, column=index, value=name)
        cell.font, cell.fill = _HEAD_FONT, _HEAD_FILL
        sheet.column_dimensions[get_column_letter(index)].width = WIDTHS.get(name, max(11, len(name) + 3))
    sheet.freeze_panes = f"C{row + 1}"


def _write_sample(sheet: Any, kind: Kind) -> None:
    sheet["A1"] = OWN_LIST
    sheet["A2"] = (
        f"How a {kind.label} is written: one row for each rating, all with one number; what belongs to the part stands "
        "in its first row. Ratings that may be left out: "
        + (", ".join(r.name for r in kind.ratings if not r.required or r.default is not None) or "none")
        + "."
    )
    _header(sheet, 4)
    for row, record in enumerate(example_rows(kind), start=5):
        for name, value in record.items():
            sheet.cell(row=row, column=HEAD.index(name) + 1, value=value)


def _write_words(sheet: Any, kind: Kind, words: Vocabulary) -> dict[str, str]:
    """Write the closed lists; return for each column the range that holds its words."""
    columns = {
        "Slot": [kind.label],
        "Rating of": [spec.name for spec in kind.ratings],
        "Unit": list(dict.fromkeys(unit for spec in kind.ratings for unit in units_of(spec))),
        "Evidence": words.known("evidence"),
        "Meaning": words.known("meaning"),
    }
    sheet["A1"] = OWN_LIST
    ranges: dict[str, str] = {}
    for index, (name, entries) in enumerate(columns.items(), start=1):
        sheet.cell(row=2, column=index, value=name).font = _HEAD_FONT
        for row, entry in enumerate(entries, start=3):
            sheet.cell(row=row, column=index, value=entry).data_type = "s"
        letter = get_column_letter(index)
        sheet.column_dimensions[letter].width = 24
        if entries:
            ranges[name] = f"{WORDS}!${letter}$3:${letter}${2 + len(entries)}"
    return ranges


def _offer(sheet: Any, ranges: dict[str, str], first: int, last: int) -> None:
    for name, source in ranges.items():
        choice = DataValidation(type="list", formula1=f"={source}", allow_blank=True, showErrorMessage=False)
        letter = get_column_letter(HEAD.index(name) + 1)
        choice.add(f"{letter}{first}:{letter}{last}")
        sheet.add_data_validation(choice)
