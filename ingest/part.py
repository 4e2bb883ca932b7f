"""Rows of the parts book to parts: one row per rating, the part's own columns in its first row."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

from graph.errors import UnknownName
from graph.kinds import discover
from graph.limit import Kind, RatingSpec
from graph.model import Part, Rating
from graph.service import find_kind
from ingest.choice import Statement, stronger
from ingest.line import Line
from ingest.note import find_quantity, note_candidate
from ingest.own import read_own
from ingest.rating import read_rating
from ingest.relation import NUMBER, no_number
from ingest.sheet import HELD, LOADED, NOT_DATA, Reading
from ingest.vocabulary import plain_word

#: Columns that belong to the part and not to one of its ratings.
OWN = ("part", "maker", "slot", "fits", "price", "labour", "lead", "stock", "requires", "interfaces", "note")


@dataclass(slots=True, kw_only=True)
class _Draft:
    """A part while its rows are read; without its own columns where these are broken."""

    number: str
    first: Line
    kind: Kind | None
    own: dict[str, Any] | None
    ratings: dict[str, Rating] = field(default_factory=dict)
    stated: dict[str, Line] = field(default_factory=dict)
    missed: bool = False


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
        In the order of the sheet. A rating with a defect is held and its part lacks it; a part whose own columns have
        a defect is held with all its rows, whose other defects are found all the same.
    """
    drafts: dict[str, _Draft] = {}
    for line in lines:
        number = line.word("number")
        if line.header.numbered > 1 and number not in drafts:
            continue  # the first rating of the row was refused with the row
        if not _is_part(number, line, reading):
            continue
        if number in drafts:
            _next_row(drafts[number], line, reading)
        else:
            drafts[number] = _first_row(number, line, reading, seen)
    for number, draft in drafts.items():
        for name, line in draft.stated.items():
            reading.origins["rating", f"{number} {name}"] = line
    parts = [Part(**d.own, ratings=tuple(d.ratings.values())) for d in drafts.values() if d.own is not None]
    for draft in drafts.values():
        _ask_for_missing(draft, reading)
    return tuple(parts)


def _is_part(number: str, line: Line, reading: Reading) -> bool:
    """True for a row with a part number; the others are recorded here."""
    if not any(line.header.picks["slot", "rating"](line.texts)):
        first = next(filter(None, line.row.texts), "")
        if reading.words.meaning("word", re.sub(r"[:\d].*", "", first)) == "subtotal":
            reading.keep(line, NOT_DATA, "a subtotal")
            return False
    if not number:
        reading.problems.append(
            line.problem(
                "number",
                reading.blank(line, "number"),
                "a part number in every row",
                "write the part number, or delete the row",
            )
        )
        reading.keep(line, HELD, "no part number")
        return False
    if NUMBER.fullmatch(number) is None or ("." in number and isinstance(line.value("number"), float)):
        reading.problems.append(line.problem("number", *no_number(number)))
        reading.keep(line, HELD, "not a part number")
        reading.held_parts.append(line)
        return False
    return True


def _first_row(number: str, line: Line, reading: Reading, seen: Mapping[str, str]) -> _Draft:
    before = len(reading.problems)
    if number in seen:
        reading.problems.append(
            line.problem(
                "number", f"{number} again", f"each part once; it stands at {seen[number]}", "remove one of the two"
            )
        )
        reading.keep(line, HELD, "the part stands in another sheet")
        return _Draft(number=number, first=line, kind=None, own=None, missed=True)
    kind = _kind(line, reading)
    read = read_own(number, line, reading, kind.name if kind is not None else "")
    spoilt = line.fault or kind is None or len(reading.problems) > before
    own = read if not spoilt and read["fits"] and read["name"] else None
    draft = _Draft(number=number, first=line, kind=kind, own=own)
    if own is None:
        reading.held_parts.append(line)
    else:
        reading.origins["part", number] = line
    _rating_row(draft, line, reading)
    return draft


def _next_row(draft: _Draft, line: Line, reading: Reading) -> None:
    if draft.missed and draft.kind is None:
        reading.keep(line, HELD, "the part stands in another sheet")
        return
    before = len(reading.problems)
    for name in filter(line.text, OWN) if any(line.header.picks[OWN](line.texts)) else ():
        said, first = line.word(name), draft.first.word(name)
        if said != first:
            reading.problems.append(
                line.problem(
                    name,
                    repr(said),
                    f"nothing, or what row {draft.first.number} says: {first!r}",
                    "write what belongs to the part in its first row only; remove the row if it is a double",
                )
            )
    if len(reading.problems) > before:
        draft.missed = True
        reading.keep(line, HELD, "contradicts the first row of the part")
        return
    if not line.text("rating") and not line.text("rating_of") and not line.header.numbered:
        reading.problems.append(
            line.problem(
                "rating", "nothing", "a rating in each further row of a part", "fill in the rating, or delete the row"
            )
        )
        reading.keep(line, HELD, "the row states nothing")
        return
    _rating_row(draft, line, reading)


def _rating_row(draft: _Draft, line: Line, reading: Reading) -> None:
    """Read the rating of a row and record what became of the row."""
    held = "the first row of the part is held" if line is not draft.first else "the part's own columns have a defect"
    if line.fault:
        draft.missed = True
        reading.keep(line, HELD, "a cell shows an error")
        return
    if not line.text("rating"):
        stated = [f for f in ("rating_of", "unit", "condition", "meaning", "spread") if line.text(f)]
        if stated:
            draft.missed = True
            what = line.word("rating_of") or "rating"
            candidate = note_candidate(line, draft.kind, reading.words)
            found = (
                f"{reading.blank(line, 'rating')}; the note says {candidate!r}"
                if candidate
                else reading.blank(line, "rating")
            )
            reading.problems.append(
                line.problem(
                    "rating",
                    found,
                    f"the {what} with its unit",
                    f"write {candidate} here if that is the {what}"
                    if candidate
                    else "fill in the number, or clear the rating's other cells",
                )
            )
        outcome = (
            (LOADED, "") if draft.own is not None and not stated else (HELD, held if draft.own is None else "no number")
        )
        reading.keep(line, *outcome)
        return
    if draft.kind is None:
        reading.keep(line, HELD, held)
        return
    rating = read_rating(line, draft.kind, reading.words, reading.problems.append)
    if rating is None:
        draft.missed = True
        reading.keep(
            line, HELD, "the rating has a defect; the part is loaded without it" if draft.own is not None else held
        )
        return
    if rating.name in draft.ratings:
        other, at = draft.ratings[rating.name], draft.stated[rating.name]
        chosen, why = stronger(Statement(rating=other, line=at), Statement(rating=rating, line=line), reading)
        left = at if chosen is rating else line
        if left is not draft.first:
            reading.keep(left, HELD, f"the rating is stated twice; {why}")
        if chosen is other:
            return
    draft.ratings[rating.name] = rating
    draft.stated[rating.name] = line
    reading.keep(line, LOADED if draft.own is not None else HELD, "" if draft.own is not None else held)


@lru_cache(maxsize=512)
def _kind_called(text: str) -> Kind:
    return find_kind(plain_word(text))


def _kind(line: Line, reading: Reading) -> Kind | None:
    text = line.word("slot")
    try:
        return _kind_called(text)
    except UnknownName:
        reading.problems.append(
            line.problem(
                "slot",
                repr(text) if text else reading.blank(line, "slot"),
                _places(plain_word(text)),
                "use one of the places that the annotated copy lists"
                if text
                else "write the place in this row; in merged cells unmerge them first",
            )
        )
        return None


@lru_cache(maxsize=512)
def _places(plain: str) -> str:
    """The places that come nearest to a word, or all of them."""
    kinds = discover().values()
    known = {plain_word(name): kind.label for kind in kinds for name in (kind.label, *kind.synonyms)}
    near = dict.fromkeys(known[name] for name in difflib.get_close_matches(plain, known, n=6, cutoff=0.75))
    if near:
        return f"one of {len(kinds)} places, the nearest: {', '.join(near)}"
    return "one of: " + ", ".join(kind.label for kind in kinds)


def _noted(line: Line, spec: RatingSpec) -> str:
    candidate = find_quantity(line.word("note"), spec.quantity)
    return f"; the note says {candidate!r}" if candidate else ""


def _ask_for_missing(draft: _Draft, reading: Reading) -> None:
    """A required rating that no row of a loaded part states, not even a held one."""
    if draft.own is None or draft.kind is None or draft.missed:
        return
    for spec in draft.kind.ratings:
        if spec.required and spec.default is None and spec.name not in draft.ratings:
            reading.problems.append(
                draft.first.problem(
                    "rating" if not draft.first.text("rating") else "rating_of",
                    f"no {spec.name} of {draft.number} in any row" + _noted(draft.first, spec),
                    f"{spec.label}, without which a {draft.kind.label} cannot be judged",
                    "add a row that states it; until then the slot is unknown",
                )
            )
