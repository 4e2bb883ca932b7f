"""A car's sheet: a head of properties, then what is in its slots and how well that is known."""

from __future__ import annotations

from graph.errors import UnknownName
from graph.model import Belief, Car, Installed
from graph.quantity import Quantity
from graph.service import find_kind
from ingest.platform import read_value
from ingest.sheet import HELD, LOADED, Line, Reading

HEAD = ("car", "platform", "name", "gearbox", "engine", "distance", "fuel", "note")


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
        None where the sheet names no car or no platform.
    """
    words: dict[str, str] = {}
    notes: list[str] = []
    distance: float | None = None
    for line in head:
        name = line.text("property").lower()
        if name not in HEAD:
            reading.problems.append(line.problem("property", repr(name), "one of: " + ", ".join(HEAD), "use one of these names"))
            reading.keep(line, HELD, "unknown property")
            continue
        if name == "distance":
            distance = read_value(line, Quantity.DISTANCE, reading, (0.0, 2.0e9))
            reading.keep(line, LOADED if distance is not None else HELD)
            continue
        if name == "note":
            notes.append(line.text("rating"))
        else:
            words[name] = line.text("rating")
        reading.keep(line, LOADED)
    installed = tuple(filter(None, (_installed(line, reading) for line in table)))
    for needed in ("car", "platform"):
        if not words.get(needed):
            if head:
                reading.problems.append(
                    head[0].problem("property", "nothing", f"a row with the property {needed!r}", "add it to the head of the sheet")
                )
            return None
    codes = tuple(filter(None, (words.get("engine", ""), words.get("gearbox", ""))))
    return Car(
        id=words["car"],
        platform=words["platform"],
        name=words.get("name", ""),
        codes=codes,
        distance=distance,
        fuel=words.get("fuel", "").lower() or None,
        installed=installed,
        notes=tuple(notes),
        source=f"{reading.file}, sheet '{reading.sheet}'",
    )


def _installed(line: Line, reading: Reading) -> Installed | None:
    try:
        kind = find_kind(line.text("slot"))
    except UnknownName as unknown:
        reading.problems.append(line.problem("slot", repr(line.text("slot")), str(unknown), "use one of the known places"))
        reading.keep(line, HELD)
        return None
    word = line.text("belief").lower()
    belief = next((b for b in Belief if b.value == word), None)
    if belief is None:
        words = ", ".join(b.value for b in Belief)
        reading.problems.append(line.problem("belief", repr(word) if word else "nothing", f"one of: {words}", "use one of these words"))
        reading.keep(line, HELD)
        return None
    reading.keep(line, LOADED)
    return Installed(
        slot=kind.label,
        part=line.text("part") or None,
        belief=belief,
        claim=line.text("claim"),
        condition=line.text("condition"),
        source=line.source("slot"),
    )
