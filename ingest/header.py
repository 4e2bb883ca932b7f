"""Which row is the header of a table, and which column holds what.

The spellings are data (:mod:`ingest.vocabulary`), English and German, and a shop adds its own. A unit in brackets or
at the end of a header is the unit of the column: ``Flow (L/h)``, ``Labour h``.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Hashable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from itertools import filterfalse
from operator import itemgetter
from types import MappingProxyType
from typing import Any

from graph.kinds import discover
from graph.quantity import Quantity
from ingest.extent import column_index, column_letters
from ingest.problem import UnreadableValue
from ingest.reference import read_unit
from ingest.table import Row
from ingest.unit_list import measured_by
from ingest.vocabulary import Vocabulary, plain_word

Pick = Callable[[tuple[str, ...]], tuple[str, ...]]
#: Kind of table -> fields without which a row is not its header. Order settles a draw.
TABLES: Mapping[str, frozenset[str]] = MappingProxyType(
    {
        "parts": frozenset({"number", "slot"}),
        "installed": frozenset({"slot", "part", "belief"}),
        "curves": frozenset({"property", "speed", "rating"}),
        "slots": frozenset({"slot", "factory_part"}),
        "properties": frozenset({"property", "rating"}),
        "speed_lines": frozenset({"number", "wheel_speed", "flow", "ratio", "efficiency"}),
    }
)
_BRACKETS = re.compile(r"(?P<base>.*?)\s*[(\[]\s*(?P<unit>[^()\[\]]+?)\s*[)\]]\s*")
_BRACKET = re.compile(r"[(\[]")
_NUMBERED = re.compile(r"[^(\[\d]*\d")
#: Texts of which it is remembered whether they may head a column.
MOST_REMEMBERED = 20_000
_MONEY = frozenset({"eur", "€", "euro"})
#: What a second header row says under columns whose numbers have no unit of measure.
_COUNTED = frozenset({"eur net", "net eur", "€ net", "eur netto", "netto eur", "€ netto", "pcs", "pc", "pieces", "stk", "stueck"})  # fmt: skip
#: Headers that head the number where the column before them says what is rated.
_NUMBER_HEADS = frozenset({"value", "wert"})


class _Positions(dict[str, int]):
    """Fields to the positions of their columns."""

    def __missing__(self, name: str) -> int:
        return -1


class _Picks(dict[tuple[str, ...], Pick]):
    """Fields to what takes their texts out of a line; as few as the program asks for."""

    def __init__(self, at: Mapping[str, int]) -> None:
        super().__init__()
        self._at = at

    def __missing__(self, fields: tuple[str, ...]) -> Pick:
        pick = self[fields] = itemgetter(*(self._at[name] for name in fields))
        return pick


@dataclass(frozen=True, slots=True, kw_only=True)
class Header:
    """A recognised header row.

    Parameters
    ----------
    table : str
        Kind of table, a key of :data:`TABLES`.
    row : int
        Row number as the spreadsheet shows it [1].
    columns : mapping of str to str
        Field to column letters.
    names : mapping of str to str
        Column letters to the header as written.
    units : mapping of str to str
        Column letters to the unit that the header declares.
    unknown : tuple of str
        Column letters whose header means nothing, or means what another column holds already.
    rated : str
        The rating that the rating column's own header names, as ``Flow (L/h)`` does; else empty.
    numbered : int
        Where several ratings stand side by side in a row, the place of the one that is read here, counted from 1;
        else 0.

    Attributes
    ----------
    at : dict of str to int
        Field to the position of its column, counted from 0; -1 where the table has no such column.
    keys : tuple of str
        Names under which the cells of a row are kept: the header, with its letters where it stands twice.
    blank : tuple of str
        As many empty texts as there are columns.
    ends : dict of str to str
        Field to what the place of its cell ends with.
    picks : dict of tuple of str to callable
        Fields, two or more, to what takes their texts out of a line's texts, all at once.
    clean : dict
        What cells under this header read as, by their text: only what was read without a defect.
    """

    table: str
    row: int
    columns: Mapping[str, str]
    names: Mapping[str, str]
    units: Mapping[str, str]
    unknown: tuple[str, ...]
    rated: str = ""
    numbered: int = 0
    at: dict[str, int] = field(init=False, repr=False, compare=False)
    keys: tuple[str, ...] = field(init=False, repr=False, compare=False)
    blank: tuple[str, ...] = field(init=False, repr=False, compare=False)
    ends: dict[str, str] = field(init=False, repr=False, compare=False)
    picks: _Picks = field(init=False, repr=False, compare=False)
    clean: dict[Hashable, Any] = field(init=False, repr=False, compare=False, default_factory=dict)

    def __post_init__(self) -> None:
        at = _Positions({name: column_index(column) for name, column in self.columns.items()})
        keys = [column_letters(i) for i in range(max(map(column_index, self.names), default=-1) + 1)]
        for column, name in self.names.items():
            keys[column_index(column)] = f"{name} ({column})" if name in keys else name
        ends = {name: f", column '{self.names[column]}' ({column})" for name, column in self.columns.items()}
        object.__setattr__(self, "at", at)
        object.__setattr__(self, "picks", _Picks(at))
        object.__setattr__(self, "ends", ends)
        object.__setattr__(self, "keys", tuple(keys))
        object.__setattr__(self, "blank", ("",) * len(keys))


class KeyWords:
    """Tells quickly that a row is no header: no text in it is a header that every known table has.

    Parameters
    ----------
    words : Vocabulary
        The spellings.
    """

    def __init__(self, words: Vocabulary) -> None:
        self._keys = {w for t in TABLES for w, f in words.header[t].items() if f in ("slot", "property", "wheel_speed")}
        self._plain = not any(re.search(r"\d", key) for key in self._keys)
        self._others: set[str] = set()

    def _is_key(self, text: str) -> bool:
        return plain_word(_BRACKET.split(text, maxsplit=1)[0]) in self._keys

    def among(self, texts: Iterable[str]) -> bool:
        """Return whether any of the texts may head the slots or properties of a table."""
        others = self._others
        for text in filterfalse(others.__contains__, texts):
            if not (self._plain and _NUMBERED.match(text)) and self._is_key(text):
                return True
            if len(others) > MOST_REMEMBERED:
                others.clear()
            others.add(text)
        return False


def split_unit(text: str, words: Vocabulary) -> tuple[str, str | None]:
    """Part a header from the unit that it declares.

    Parameters
    ----------
    text : str
        A header as written.
    words : Vocabulary
        For units at the end of a header.

    Returns
    -------
    base : str
        The header in the form in which spellings are looked up.
    unit : str or None
        The unit as written, or the program's word for it.
    """
    match = _BRACKETS.fullmatch(text)
    if match is not None and match["base"]:
        return plain_word(match["base"]), match["unit"]
    base, _, last = plain_word(text).rpartition(" ")
    unit = words.meaning("unit", last) if base else None
    return (base, unit) if unit is not None else (plain_word(text), None)


def recognise(row: Row, words: Vocabulary, keys: KeyWords | None = None) -> Header | None:
    """Read a row as a header.

    Parameters
    ----------
    row : Row
        Any row of a sheet.
    words : Vocabulary
        The spellings.
    keys : KeyWords or None
        Of these words, for who reads many rows.

    Returns
    -------
    Header or None
        For the table of which most columns are there; None where the row is the header of no known table.
    """
    texts = row.filled
    if len(texts) < 2 or not (keys or KeyWords(words)).among(texts.values()):  # most data rows end here
        return None
    split = {column: split_unit(text, words) for column, text in texts.items()}
    best: tuple[str, dict[str, str], dict[str, str]] | None = None
    for table, needed in TABLES.items():
        columns, units = _match(texts, split, words.header[table])
        if needed <= columns.keys() and (best is None or len(columns) > len(best[1])):
            best = table, columns, units
    if best is None:
        return None
    table, columns, units = best
    rated = ""
    if table == "parts" and "rating" not in columns:
        rated, column = _rated(split, set(columns.values()), words)
        if rated:
            columns["rating"] = column
            if unit := split[column][1]:
                units[column] = unit
    known = set(columns.values())
    return Header(
        table=table,
        row=row.number,
        columns=MappingProxyType(columns),
        names=MappingProxyType(texts),
        units=MappingProxyType(units),
        unknown=tuple(c for c in texts if c not in known),
        rated=rated,
    )


def parts_fields(row: Row, words: Vocabulary) -> frozenset[str]:
    """Fields of a parts sheet whose headers stand in a row, whether or not it is a header."""
    texts = row.filled
    columns, _ = _match(texts, {c: split_unit(t, words) for c, t in texts.items()}, words.header["parts"])
    return frozenset(columns)


def declared_units(row: Row, header: Header, words: Vocabulary) -> dict[str, str] | None:
    """Read a row directly under a header as a second header row that holds nothing but units.

    Parameters
    ----------
    row : Row
        The row under the header.
    header : Header
        The header.
    words : Vocabulary
        For words of time.

    Returns
    -------
    dict of str to str or None
        Column letters to unit; None where anything in the row is no unit.
    """
    texts = row.filled
    if header.columns.get("number", header.columns.get("property", "")) in texts:
        return None
    for text in texts.values():
        plain = plain_word(text)
        if not (plain in _MONEY or plain in _COUNTED or words.meaning("unit", text) is not None or _is_unit(text)):
            return None
    return texts or None


def _is_unit(text: str) -> bool:
    """Whether a text is a unit, that of a pressure with what it is counted from."""
    if measured_by(text):
        return True
    try:
        read_unit(text, Quantity.GAUGE_PRESSURE if "abs" not in plain_word(text) else Quantity.ABSOLUTE_PRESSURE)
    except UnreadableValue:
        return False
    return True


def with_units(header: Header, units: Mapping[str, str], words: Vocabulary) -> Header:
    """Complete a header by the row of units under it.

    Parameters
    ----------
    header : Header
        The header.
    units : mapping of str to str
        Column letters to unit, as :func:`declared_units` gives them.
    words : Vocabulary
        The spellings.

    Returns
    -------
    Header
        With those units; a column of unknown name whose unit says what it holds, such as ``EUR net``, is taken for it.
    """
    spellings, columns, declared = words.header[header.table], dict(header.columns), {**header.units, **units}
    for column in header.unknown:
        field = spellings.get(plain_word(units.get(column, "")))
        if field == "price" and field not in columns:
            columns[field] = column
            del declared[column]
    taken = set(columns.values())
    return replace(
        header,
        columns=MappingProxyType(columns),
        units=MappingProxyType(declared),
        unknown=tuple(c for c in header.unknown if c not in taken),
    )


def _match(
    texts: Mapping[str, str], split: Mapping[str, tuple[str, str | None]], spellings: Mapping[str, str]
) -> tuple[dict[str, str], dict[str, str]]:
    """Columns of one kind of table and the units that their headers declare."""
    columns: dict[str, str] = {}
    units: dict[str, str] = {}
    for column, text in texts.items():
        base, unit = split[column]
        field = spellings.get(plain_word(text))
        if field is not None:
            unit = None
        else:
            field = spellings.get(base)
        if field == "rating" and field in columns and base in _NUMBER_HEADS and "rating_of" not in columns:
            columns["rating_of"] = columns.pop("rating")  # 'Kennwert | Wert': the first says what is rated
            units.pop(columns["rating_of"], None)
        if field is None or field in columns:
            continue
        if field == "price" and unit is not None and plain_word(unit) not in _MONEY:
            continue
        columns[field] = column
        if unit is not None:
            units[column] = unit
    return columns, units


def _rated(split: Mapping[str, tuple[str, str | None]], taken: set[str], words: Vocabulary) -> tuple[str, str]:
    """The one column whose header is the name of a rating, such as ``Flow (L/h)``."""
    names = {spec.name for kind in discover().values() for spec in kind.ratings}
    found = []
    for column, (base, _) in split.items():
        name = words.words["rating"].get(base, base)
        if column not in taken and name in names:
            found.append((name, column))
    return found[0] if len(found) == 1 else ("", "")
