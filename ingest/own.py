"""The columns that belong to a part itself and stand in its first row: name, fitment, price, times, requirements."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from graph.model import Interface
from ingest.amount import read_duration, read_price, read_stock
from ingest.line import Line, remember
from ingest.problem import Problem
from ingest.relation import Statements, read_interfaces, read_requirements
from ingest.sheet import Reading
from ingest.vocabulary import Vocabulary

Add = Callable[[Problem], None]
_COUNTED = ("price", "labour", "lead", "stock")
_AMOUNTS: tuple[tuple[str, Callable[[Line, str, Reading, Add], float | None]], ...] = (
    ("price", read_price),
    ("labour", read_duration),
    ("lead", read_duration),
    ("stock", read_stock),
)


def read_own(number: str, line: Line, reading: Reading, kind: str) -> dict[str, Any]:
    """Read a part's own columns, as far as they can be read.

    Parameters
    ----------
    number : str
        The part number.
    line : Line
        Its first row.
    reading : Reading
        Takes every defect.
    kind : str
        Name of its kind; empty where that is not known.

    Returns
    -------
    dict
        Fields of :class:`graph.model.Part` without its ratings [SI].
    """
    key = ("bonds", *line.header.picks["requires", "interfaces", "fits"](line.texts))
    bonds = remember(line, key, reading.problems.append, _bonds, reading.words)
    assert bonds is not None
    said, interfaces, fits = bonds
    if not fits:
        _ask(line, reading, "fits", "platform, engine or gearbox codes", "say what the part fits")
    if not line.text("part"):
        _ask(line, reading, "part", "what the shop calls the part", "write its name")
    price, labour, lead, stock = _amounts(line, reading)
    name = line.word("part")
    return {
        "id": number,
        "kind": kind,
        "name": name,
        "maker": line.word("maker"),
        "fits": fits,
        "interfaces": interfaces,
        "relations": said.relations,
        "tasks": said.tasks,
        "price": price,
        "labour": labour,
        "lead_time": lead,
        "stock": None if stock is None else int(stock),
        "factory": name.casefold().startswith("factory "),
        "note": line.word("note"),
        "source": line.source("number"),
    }


def _amounts(line: Line, reading: Reading) -> tuple[float | None, ...]:
    """Price, labour, lead time and stock; None where the cell is empty or cannot be read."""
    add = reading.problems.append
    price, *others = line.header.picks[_COUNTED](line.texts)
    if reading.decoration.comments:  # a comment may say more
        return tuple(read(line, name, reading, add) if line.text(name) else None for name, read in _AMOUNTS)
    types = line.row.types
    key = ("price", price, types, line.text("note"))
    net = remember(line, key, add, read_price, "price", reading) if price else None
    times = remember(line, ("times", *others, types), add, _times, reading)
    return (net, *(times or ()))


def _times(line: Line, reading: Reading, add: Add) -> tuple[float | None, ...]:
    return tuple(read(line, name, reading, add) if line.text(name) else None for name, read in _AMOUNTS[1:])


def _bonds(line: Line, words: Vocabulary, add: Add) -> tuple[Statements, tuple[Interface, ...], tuple[str, ...]]:
    """What a part says of others, its ports, and what it fits."""
    return _requirements(line, words, add), _interfaces(line, add), _codes(line.word("fits"))


def _requirements(line: Line, words: Vocabulary, add: Add) -> Statements:
    said = read_requirements(line.text("requires"), words)
    for defect in said.defects:
        add(line.problem("requires", *defect))
    return said


def _interfaces(line: Line, add: Add) -> tuple[Interface, ...]:
    found, unclear = read_interfaces(line.text("interfaces"))
    for defect in unclear:
        add(line.problem("interfaces", *defect))
    return found


def _codes(text: str) -> tuple[str, ...]:
    return tuple(dict.fromkeys(code for code in re.split(r"[;,\s]+", text) if code))


def _ask(line: Line, reading: Reading, name: str, expected: str, remedy: str) -> None:
    """Ask for an empty cell; where the whole column is missing ask once, at the header."""
    if name in line.header.columns:
        reading.problems.append(line.problem(name, reading.blank(line, name), expected, remedy))
    elif (line.header.row, name) not in reading.lacking:
        reading.lacking.add((line.header.row, name))
        reading.problems.append(
            Problem(
                file=line.file,
                sheet=line.sheet,
                row=line.header.row,
                found=f"no column headed {name.capitalize()!r}",
                expected=expected,
                remedy="add or rename that column, or add its header to the shop's list of words; until then the parts "
                "under this header are held",
            )
        )
