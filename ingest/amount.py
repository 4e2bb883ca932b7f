"""Price, times and stock of a part: plain amounts, each with what a shop writes in its place."""

from __future__ import annotations

import re
from collections.abc import Callable

from graph.quantity import Quantity
from ingest.line import Line
from ingest.number import take_number
from ingest.problem import Problem, UnreadableValue
from ingest.question import GROSS, human_comment
from ingest.sheet import Reading
from ingest.spelling import normalise_text
from ingest.unit_list import quantity_phrase
from ingest.units import read_value

Add = Callable[[Problem], None]
_CURRENCY = re.compile(r"(?:eur|euro|€)", re.I)
_LONGEST = {"labour": 400.0 * 3600.0, "lead": 2.0 * 366.0 * 86400.0}


def read_price(line: Line, name: str, reading: Reading, add: Add) -> float | None:
    """Net price [EUR]; None and a problem where the cell holds no plain amount."""
    expected = "a net price such as 188 or 1650,00"
    value = line.value(name)
    comment = human_comment(reading.decoration, line.cell(name))
    gross = next((t for t in (line.text(name), comment, line.word("note")) if GROSS.search(t)), None)
    if gross is not None:
        reading.answered.add(line.cell(name))
        said = "" if gross == line.text(name) else f" with the {'comment' if gross == comment else 'note'} {gross!r}"
        add(
            line.problem(
                name,
                f"{line.text(name)!r}{said}, a price with tax",
                expected,
                "write the price without tax and delete the word",
            )
        )
        return None
    try:
        if isinstance(value, int | float) and not isinstance(value, bool):
            amount, rest = float(value), ""
        elif isinstance(value, str):
            amount, rest = take_number(_CURRENCY.sub("", normalise_text(value)).strip(), expected)
        else:
            raise UnreadableValue(repr(line.text(name)), expected, "write the price as a number")
        if rest.strip(" \u00a0-,") or amount < 0.0 or amount > 1e6:
            raise UnreadableValue(
                repr(line.text(name)), expected, "write the net price as one number, or leave it empty"
            )
    except UnreadableValue as defect:
        add(line.problem(name, defect.found, defect.expected, defect.remedy))
        return None
    return amount


def read_duration(line: Line, name: str, reading: Reading, add: Add) -> float | None:
    """Labour or lead time [s], of a range the longer end; None and a problem where it cannot be read.

    A bare number has the unit of its header; labour is never in days, because a working day is not 24 hours.
    """
    if name == "lead" and reading.words.meaning("word", line.text(name)) == "in stock":
        return 0.0
    try:
        measure = read_value(line.value(name), Quantity.DURATION, declared_unit=line.unit(name))
        if set(measure.qualifiers) - {"range", "approximately", "at most"}:
            raise UnreadableValue(repr(line.text(name)), "a duration", "write one number, or a range as 2-3")
        if name == "labour" and measure.unit in ("days", "weeks"):
            raise UnreadableValue(repr(line.text(name)), "hours of labour", "write hours: a working day is not 24 h")
        longest = measure.value if measure.high is None else measure.high
        if not 0.0 <= longest <= _LONGEST[name]:
            raise UnreadableValue(repr(line.text(name)), "a duration that can be", "check the number and the unit")
    except UnreadableValue as defect:
        expected, remedy = defect.expected, defect.remedy
        if expected == quantity_phrase(Quantity.DURATION):  # its example is the dead time of an injector
            expected = "a lead time such as 3 days" if name == "lead" else "a time of labour such as 2.5 h"
            remedy = "write it so, or as a range such as 2-3; leave the cell empty if it is not known"
        add(line.problem(name, defect.found, expected, remedy))
        return None
    return longest


def read_stock(line: Line, name: str, _: Reading, add: Add) -> float | None:
    """Pieces on the shelf [1]; None and a problem where the cell holds no plain count."""
    try:
        measure = read_value(line.value(name), Quantity.COUNT)
        if measure.qualifiers or measure.condition:
            raise UnreadableValue(
                repr(line.text(name)),
                "a whole number of new pieces",
                "write the number; what is special about it goes to the note, such as 'used, 30 000 km'",
            )
    except UnreadableValue as defect:
        add(line.problem(name, defect.found, defect.expected, defect.remedy))
        return None
    return measure.value
