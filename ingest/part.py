"""Rows of the parts book to parts: one row per rating, the part's own columns in its first row."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from graph.errors import UnknownName
from graph.kinds import discover
from graph.limit import Kind
from graph.model import Interface, Part, Rating, Relation, RelationKind
from graph.quantity import Quantity
from graph.service import find_kind
from ingest.problem import UnreadableValue
from ingest.rating import read_rating
from ingest.sheet import HELD, LOADED, Line, Reading
from ingest.units import parse_quantity

_NUMBER = re.compile(r"[A-Za-z0-9][A-Za-z0-9._/-]*")
_REQUIREMENT = re.compile(r"(?P<slot>.+?)\s+(?P<rating>[a-z -]+?)\s*(?:>=|≥|at least)\s*(?P<value>.+)$")
_RELATIONS: tuple[tuple[str, RelationKind], ...] = (
    ("supersedes", RelationKind.SUPERSEDES),
    ("not with", RelationKind.EXCLUDES),
    ("excludes", RelationKind.EXCLUDES),
    ("adapts", RelationKind.ADAPTS),
)


@dataclass(slots=True, kw_only=True)
class _Draft:
    """A part while its rows are read."""

    first: Line
    kind: Kind
    part: Part
    ratings: dict[str, Rating] = field(default_factory=dict)


def read_parts(lines: Iterable[Line], reading: Reading, seen: Mapping[str, str]) -> tuple[Part, ...]:
    """Parts from the data rows of one sheet.

    Parameters
    ----------
    lines : iterable of Line
        Rows under a header of the parts book.
    reading : Reading
        Takes defects and what became of each row.
    seen : mapping of str to str
        Part numbers read from other sheets, with their place.

    Returns
    -------
    tuple of Part
        In the order of the sheet; a rating with a defect is held and its part lacks it.
    """
    drafts: dict[str, _Draft] = {}
    broken: set[str] = set()
    for line in lines:
        number = line.text("number")
        if not _is_number(number, line, reading):
            continue
        if number in broken:
            reading.keep(line, HELD, "the first row of this part is held")
        elif number in drafts:
            _next_row(drafts[number], line, reading)
        else:
            draft = _first_row(number, line, reading, seen)
            if draft is None:
                broken.add(number)
            else:
                drafts[number] = draft
    return tuple(replace(d.part, ratings=tuple(d.ratings.values())) for d in drafts.values())


def _is_number(number: str, line: Line, reading: Reading) -> bool:
    if not number:
        if re.search(r"total|sum|summe", " ".join(str(c.text) for c in line.cells.values()), re.I):
            reading.keep(line, "not data", "a subtotal")
            return False
        reading.problems.append(line.problem("number", "nothing", "a part number", "write the part number in every row"))
        reading.keep(line, HELD, "no part number")
        return False
    if _NUMBER.fullmatch(number) is None:
        reading.problems.append(
            line.problem("number", repr(number), "one part number without spaces or brackets", "write the current number; put others under Requires as 'supersedes ...'")
        )
        reading.keep(line, HELD, "not a part number")
        return False
    return True


def _first_row(number: str, line: Line, reading: Reading, seen: Mapping[str, str]) -> _Draft | None:
    before = len(reading.problems)
    if number in seen:
        reading.problems.append(
            line.problem("number", f"{number} again", f"each part once; it stands at {seen[number]}", "remove one of the two")
        )
        reading.keep(line, HELD, "duplicate part")
        return None
    kind = _kind(line, reading)
    price = _amount(line, "price", reading)
    labour = _amount(line, "labour", reading)
    lead = _amount(line, "lead", reading)
    stock = _amount(line, "stock", reading)
    relations, tasks = _relations(line, reading)
    interfaces = _interfaces(line, reading)
    fits = tuple(filter(None, (f.strip() for f in re.split(r"[;,]", line.text("fits")))))
    if not fits:
        reading.problems.append(line.problem("fits", "nothing", "platform, engine or gearbox codes", "say what the part fits"))
    if kind is None or len(reading.problems) > before:
        reading.keep(line, HELD, "the part's own columns have a defect")
        return None
    part = Part(
        id=number,
        kind=kind.name,
        name=line.text("part"),
        maker=line.text("maker"),
        fits=fits,
        interfaces=interfaces,
        relations=relations,
        tasks=tasks,
        price=price,
        labour=None if labour is None else labour * 3600.0,
        lead_time=None if lead is None else lead * 86400.0,
        stock=None if stock is None else int(stock),
        factory=line.text("part").lower().startswith("factory"),
        note=line.text("note"),
        source=line.source("number"),
    )
    draft = _Draft(first=line, kind=kind, part=part)
    _rating_row(draft, line, reading)
    return draft


def _next_row(draft: _Draft, line: Line, reading: Reading) -> None:
    before = len(reading.problems)
    for name in ("part", "slot", "fits", "price", "labour", "lead", "stock", "requires", "interfaces", "note"):
        said, first = line.text(name), draft.first.text(name)
        if said and said != first:
            reading.problems.append(
                line.problem(
                    name,
                    repr(said),
                    f"nothing, or what row {draft.first.number} says ({first!r})",
                    "write what belongs to the part in its first row only",
                )
            )
    if len(reading.problems) > before:
        reading.keep(line, HELD, "contradicts the part's first row")
        return
    _rating_row(draft, line, reading)


def _rating_row(draft: _Draft, line: Line, reading: Reading) -> None:
    if not line.text("rating"):
        if line.text("rating_of"):
            reading.problems.append(
                line.problem("rating", "nothing", f"the {line.text('rating_of')} with its unit", "fill in the number, or clear the row")
            )
            reading.keep(line, HELD, "no number")
            return
        reading.keep(line, LOADED)
        return
    rating = read_rating(line, draft.kind, reading.problems.append)
    if rating is None:
        reading.keep(line, HELD, "the rating has a defect; the part is loaded without it")
        return
    if rating.name in draft.ratings:
        reading.problems.append(
            line.problem(
                "rating_of",
                f"{rating.name} of {draft.part.id} again",
                f"each rating once; it stands at {draft.ratings[rating.name].evidence.source}",
                "remove one of the two",
            )
        )
        reading.keep(line, HELD, "duplicate rating")
        return
    draft.ratings[rating.name] = rating
    reading.keep(line, LOADED)


def _kind(line: Line, reading: Reading) -> Kind | None:
    text = line.text("slot")
    try:
        return find_kind(text)
    except UnknownName:
        labels = ", ".join(k.label for k in discover().values())
        reading.problems.append(
            line.problem("slot", repr(text) if text else "nothing", f"one of: {labels}", "use one of these places")
        )
        return None


def _amount(line: Line, name: str, reading: Reading) -> float | None:
    text = line.text(name)
    if not text:
        return None
    value = line.cells[name].value
    if isinstance(value, int | float) and not isinstance(value, bool):
        number = float(value)
    else:
        try:
            number = parse_quantity(text, Quantity.COUNT).value
        except UnreadableValue as defect:
            reading.problems.append(line.problem(name, repr(text), "a plain number", defect.remedy))
            return None
    if number < 0.0 or (name == "stock" and number != int(number)):
        reading.problems.append(line.problem(name, repr(text), "a number that is not negative", "correct the number"))
        return None
    return number


def _relations(line: Line, reading: Reading) -> tuple[tuple[Relation, ...], tuple[str, ...]]:
    relations: list[Relation] = []
    tasks: list[str] = []
    for item in filter(None, (p.strip() for p in line.text("requires").split(";"))):
        if item.lower().startswith("task:"):
            tasks.append(item[5:].strip())
            continue
        relation = _relation(item)
        if relation is None:
            reading.problems.append(
                line.problem(
                    "requires",
                    repr(item),
                    "a part number, 'A | B', 'task: ...', 'supersedes ...', 'not with ...', or '<slot> <rating> >= <value>'",
                    "write it in one of these forms, or move it to the note",
                )
            )
        else:
            relations.append(relation)
    return tuple(relations), tuple(tasks)


def _relation(item: str) -> Relation | None:
    for word, kind in _RELATIONS:
        if item.lower().startswith(word + " "):
            number = item[len(word) :].strip()
            return Relation(kind=kind, part=number, text=item) if _NUMBER.fullmatch(number) else None
    options = [o.strip() for o in item.split("|")]
    if all(_NUMBER.fullmatch(o) for o in options):
        return Relation(kind=RelationKind.REQUIRES, part=" | ".join(options), text=item)
    match = _REQUIREMENT.match(item)
    if match is None:
        return None
    return _requirement(match, item)


def _requirement(match: re.Match[str], item: str) -> Relation | None:
    """'<slot> <rating> >= <value>': the split between slot and rating is found by trying the known names."""
    words = f"{match.group('slot')} {match.group('rating')}".split()
    for cut in range(len(words) - 1, 0, -1):
        try:
            kind = find_kind(" ".join(words[:cut]))
        except UnknownName:
            continue
        name = " ".join(words[cut:])
        spec = next((r for r in kind.ratings if r.name == name), None)
        if spec is None:
            continue
        try:
            value = parse_quantity(match.group("value"), spec.quantity).value
        except UnreadableValue:
            return None
        return Relation(kind=RelationKind.REQUIRES, slot=kind.name, rating=spec.name, at_least=value, text=item)
    return None


def _interfaces(line: Line, reading: Reading) -> tuple[Interface, ...]:
    found: list[Interface] = []
    for item in filter(None, (p.strip() for p in line.text("interfaces").split(";"))):
        port, colon, kind = item.partition(":")
        if not colon or not port.strip() or not kind.strip():
            reading.problems.append(
                line.problem("interfaces", repr(item), "'port: type; port: type'", "write each port with its type")
            )
        else:
            found.append(Interface(port=port.strip().lower(), type=kind.strip()))
    return tuple(found)
