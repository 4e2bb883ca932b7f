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

Amount = Callable[[Line, str, Reading, Callable[[Problem], None]], float | None]


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
    add = reading.problems.append
    beside = bool(reading.decoration.comments)

    def amount(name: str, read: Amount, also: str = "") -> float | None:
        if not line.text(name):
            return None
        if beside:  # a comment may say more
            return read(line, name, reading, add)
        key = (name, type(line.value(name)), line.text(name), also)
        return remember(line, key, lambda a: read(line, name, reading, a), add)

    said = remember(line, ("requires", line.text("requires")), lambda a: _requirements(line, reading.words, a), add)
    interfaces = remember(line, ("interfaces", line.text("interfaces")), lambda a: _interfaces(line, a), add)
    fits = remember(line, ("fits", line.text("fits")), lambda _: _codes(line.word("fits")), add)
    assert said is not None
    if not fits:
        reading.problems.append(
            line.problem(
                "fits", reading.blank(line, "fits"), "platform, engine or gearbox codes", "say what the part fits"
            )
        )
    if not line.text("part"):
        reading.problems.append(
            line.problem("part", reading.blank(line, "part"), "what the shop calls the part", "write its name")
        )
    price = amount("price", read_price, line.text("note"))
    labour = amount("labour", read_duration)
    lead = amount("lead", read_duration)
    stock = amount("stock", read_stock)
    return {
        "id": number,
        "kind": kind,
        "name": line.word("part"),
        "maker": line.word("maker"),
        "fits": fits or (),
        "interfaces": interfaces or (),
        "relations": said.relations,
        "tasks": said.tasks,
        "price": price,
        "labour": labour,
        "lead_time": lead,
        "stock": None if stock is None else int(stock),
        "factory": line.word("part").casefold().startswith("factory "),
        "note": line.word("note"),
        "source": line.source("number"),
    }


def _requirements(line: Line, words: Vocabulary, add: Callable[[Problem], None]) -> Statements:
    said = read_requirements(line.text("requires"), words)
    for defect in said.defects:
        add(line.problem("requires", *defect))
    return said


def _interfaces(line: Line, add: Callable[[Problem], None]) -> tuple[Interface, ...]:
    found, unclear = read_interfaces(line.text("interfaces"))
    for defect in unclear:
        add(line.problem("interfaces", *defect))
    return found


def _codes(text: str) -> tuple[str, ...]:
    return tuple(dict.fromkeys(code for code in re.split(r"[;,\s]+", text) if code))
