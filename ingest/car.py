"""A car's sheet: a head of properties, then what is in its slots and how well that is known."""

from __future__ import annotations

import re
from collections.abc import Iterable

from graph.errors import UnknownName
from graph.model import Belief, Car, Installed
from graph.quantity import Quantity
from graph.service import find_kind
from ingest.line import Line
from ingest.property import property_name, read_property
from ingest.sheet import HELD, LOADED, Reading
from ingest.vocabulary import plain_word

HEAD = ("car", "platform", "name", "gearbox", "engine", "codes", "distance", "fuel", "note")
FARTHEST = 2.0e9


def read_car(head: list[Line], table: list[Line], reading: Reading) -> Car | None:
    """Read one car.

    Parameters
    ----------
    head : list of Line
        Rows of property and value.
    table : list of Line
        Rows of slot, part and belief.
    reading : Reading
        Takes defects and what became of each row.

    Returns
    -------
    Car or None
        None where the sheet names no car or no platform; then all its rows are held.
    """
    words: dict[str, str] = {}
    notes: list[str] = []
    distance: float | None = None
    for line in head:
        name = property_name(line, reading, HEAD)
        found = repr(line.word("property")) if line.text("property") else "nothing"
        if name not in HEAD:
            reading.problems.append(
                line.problem("property", found, "one of: " + ", ".join(HEAD), "use one of these names")
            )
            reading.keep(line, HELD, "unknown property")
        elif line.fault or not line.text("rating"):
            if not line.fault:
                reading.problems.append(
                    line.problem("rating", "nothing", f"the {name}", "fill it in, or delete the row")
                )
            reading.keep(line, HELD, "no value")
        elif name == "note":
            notes.append(line.word("rating"))
            reading.keep(line, LOADED)
        elif name in words or (name == "distance" and distance is not None):
            reading.problems.append(
                line.problem("property", f"{name} again", "each property once", "remove one of the two")
            )
            reading.keep(line, HELD, "stated twice")
        elif name == "distance":
            distance = read_property(line, Quantity.DISTANCE, reading, (0.0, FARTHEST))
            reading.keep(
                line, LOADED if distance is not None else HELD, "" if distance is not None else "not a distance"
            )
        else:
            words[name] = line.word("rating")
            reading.origins["head", name] = line
            reading.keep(line, LOADED)
    installed = _read_table(table, reading, notes)
    missing = [needed for needed in ("car", "platform") if needed not in words]
    if missing:
        for needed in missing:
            at = (head or table)[0]
            reading.problems.append(
                at.problem(
                    "property",
                    f"no row for {needed!r}",
                    f"a row with the property {needed!r}",
                    "add it to the head of the sheet",
                )
            )
        reading.hold_all([*head, *table], "the car cannot be made")
        return None
    said = "; ".join(words.get(name, "") for name in ("engine", "gearbox", "codes"))
    return Car(
        id=words["car"],
        platform=words["platform"],
        name=words.get("name", ""),
        codes=tuple(dict.fromkeys(c for c in re.split(r"[;,\s]+", said) if c)),
        distance=distance,
        fuel=words.get("fuel", "").lower() or None,
        installed=installed,
        notes=tuple(notes),
        source=", ".join(p for p in (reading.file, f"sheet '{reading.sheet}'" if reading.sheet else "") if p),
    )


def _read_table(table: Iterable[Line], reading: Reading, notes: list[str]) -> tuple[Installed, ...]:
    found: dict[str, Installed] = {}
    for line in table:
        before = len(reading.problems)
        slot = ""
        try:
            slot = find_kind(plain_word(line.word("slot"))).label
        except UnknownName as unknown:
            said = repr(line.word("slot")) if line.text("slot") else "nothing"
            reading.problems.append(line.problem("slot", said, str(unknown), "use one of the known places"))
        if slot in found:
            reading.problems.append(line.problem("slot", f"{slot} again", "each slot once", "remove one of the two"))
        belief = _belief(line, reading)
        part = line.word("part") or None
        if belief in (Belief.SEEN, Belief.LABEL_READ, Belief.MEASURED) and part is None and not line.text("claim"):
            reading.problems.append(
                line.problem(
                    "part",
                    "nothing",
                    f"the part that was {belief.value}",
                    "write its number, or what was seen as a claim",
                )
            )
        if len(reading.problems) > before or belief is None or line.fault:
            if slot:
                found.setdefault(
                    slot,
                    Installed(
                        slot=slot,
                        part=None,
                        claim=f"the row of the car's sheet is held ({line.place})",
                        source=line.source("slot"),
                    ),
                )
                reading.origins.setdefault(("installed", slot), line)
            reading.keep(line, HELD, "the row has a defect; what is in the slot counts as unknown")
            continue
        reading.origins["installed", slot] = line
        found[slot] = Installed(
            slot=slot,
            part=part,
            belief=belief,
            claim=line.word("claim"),
            condition=line.word("condition"),
            source=line.source("slot"),
        )
        if line.text("note"):
            notes.append(f"{slot}: {line.word('note')}")
        reading.keep(line, LOADED)
    return tuple(found.values())


def _belief(line: Line, reading: Reading) -> Belief | None:
    said = line.word("belief")
    meaning = reading.words.meaning("belief", said)
    if meaning is not None:
        return Belief(meaning)
    known = ", ".join(reading.words.known("belief"))
    reading.problems.append(
        line.problem("belief", repr(said) if said else "nothing", f"one of: {known}", "use one of these words")
    )
    return None
