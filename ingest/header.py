"""Which column of a table holds what: header variants in English and German, as data that a shop can extend."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from ingest.table import Row

#: Field -> spellings of its header, lower case, without units and punctuation.
HEADERS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "number": ("no", "number", "part no", "part number", "pn", "art nr", "artikelnummer", "ref", "code", "teilenummer"),
        "part": ("part", "description", "name", "item", "bezeichnung", "teil"),
        "maker": ("maker", "brand", "source", "hersteller"),
        "slot": ("slot", "category", "place", "kategorie", "platz", "einbauort"),
        "fits": ("fits", "application", "passt zu", "verwendung"),
        "rating_of": ("rating of", "quantity", "messgroesse", "groesse", "kennwert"),
        "rating": ("rating", "value", "limit", "wert", "grenzwert"),
        "unit": ("unit", "einheit"),
        "condition": ("condition", "conditions", "cond", "bedingung"),
        "meaning": ("meaning", "bedeutung"),
        "evidence": ("evidence", "src", "how known", "nachweis", "beleg"),
        "date": ("date", "datum"),
        "spread": ("± %", "+/- %", "spread", "spread %", "streuung", "streuung %"),
        "price": ("price net eur", "price net", "price", "preis netto eur", "preis netto", "preis"),
        "labour": ("labour h", "labour", "hours", "arbeitszeit h", "arbeitszeit"),
        "lead": ("lead days", "lead", "lieferzeit tage", "lieferzeit"),
        "stock": ("stock", "lager", "bestand"),
        "requires": ("requires", "needs", "braucht", "benoetigt"),
        "interfaces": ("interfaces", "ports", "anschluesse", "schnittstellen"),
        "note": ("note", "notes", "bemerkung", "notiz"),
        "property": ("property", "eigenschaft"),
        "speed": ("speed", "drehzahl"),
        "origin": ("source", "quelle"),
        "count": ("count", "anzahl"),
        "only_with": ("only with", "nur mit"),
        "factory_part": ("factory part", "serienteil"),
        "belief": ("belief", "kenntnis"),
        "claim": ("claim", "angabe"),
    }
)
#: Kind of table -> (fields that must be there, all fields that it may have).
TABLES: Mapping[str, tuple[frozenset[str], tuple[str, ...]]] = MappingProxyType(
    {
        "parts": (
            frozenset({"number", "slot", "rating"}),
            (
                "number", "part", "maker", "slot", "fits", "rating_of", "rating", "unit", "condition", "meaning", "evidence",
                "date", "spread", "price", "labour", "lead", "stock", "requires", "interfaces", "note",
            ),
        ),
        "installed": (frozenset({"slot", "part", "belief"}), ("slot", "part", "belief", "claim", "condition", "note")),
        "curves": (frozenset({"property", "speed", "rating"}), ("property", "speed", "unit", "rating", "origin")),
        "slots": (frozenset({"slot", "factory_part"}), ("slot", "count", "only_with", "factory_part")),
        "properties": (frozenset({"property", "rating"}), ("property", "rating", "unit", "origin", "note")),
    }
)  # fmt: skip
_UMLAUTS = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue", "ß": "ss"})
_UNIT_IN_HEADER = re.compile(r"\s*[\(\[]\s*([^()\[\]]+?)\s*[\)\]]\s*$")


@dataclass(frozen=True, slots=True, kw_only=True)
class Header:
    """A recognised header row.

    Parameters
    ----------
    table : str
        Kind of table, a key of :data:`TABLES`.
    row : int
        Row number as the spreadsheet shows it.
    columns : mapping of str to str
        Field to column letter.
    names : mapping of str to str
        Column letter to the header as written.
    units : mapping of str to str
        Column letter to a unit that the header declares.
    unknown : tuple of str
        Column letters whose header no field is known for.
    """

    table: str
    row: int
    columns: Mapping[str, str]
    names: Mapping[str, str]
    units: Mapping[str, str]
    unknown: tuple[str, ...]


def plain(text: str) -> str:
    """A header in the form in which spellings are listed: lower case, no unit in brackets, no full stops."""
    without = _UNIT_IN_HEADER.sub("", text.strip())
    lowered = without.lower().translate(_UMLAUTS).replace(".", " ").replace("_", " ").replace("\u00a0", " ")
    return re.sub(r"\s+", " ", lowered).strip()


def recognise(row: Row) -> Header | None:
    """Read a row as a header.

    Parameters
    ----------
    row : Row
        Any row of a sheet.

    Returns
    -------
    Header or None
        None where the row is no header of a known table.
    """
    texts = {cell.column: str(cell.text) for cell in row.cells if str(cell.text).strip()}
    if len(texts) < 2:
        return None
    for table, (needed, allowed) in TABLES.items():
        columns = _match(texts, allowed)
        if needed <= columns.keys():
            units = {c: m.group(1) for c, t in texts.items() if (m := _UNIT_IN_HEADER.search(t))}
            known = set(columns.values())
            return Header(
                table=table,
                row=row.number,
                columns=MappingProxyType(columns),
                names=MappingProxyType(texts),
                units=MappingProxyType(units),
                unknown=tuple(c for c in texts if c not in known),
            )
    return None


def _match(texts: Mapping[str, str], allowed: Sequence[str]) -> dict[str, str]:
    columns: dict[str, str] = {}
    for column, text in texts.items():
        wanted = plain(text)
        for field in allowed:
            if field not in columns and wanted in HEADERS[field]:
                columns[field] = column
                break
    return columns
