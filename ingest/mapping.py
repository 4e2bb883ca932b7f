"""Which column of which sheet is taken for what: shown before it is used, and remembered with each load of a file."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from ingest.header import Header
from ingest.numbered import numbered_fields


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """One column of a file.

    Parameters
    ----------
    sheet : str
        The sheet's name; empty for a text table.
    cell : str
        Where its header stands, such as ``F2``.
    head : str
        The header as written.
    table : str
        Kind of table.
    field : str
        What the column is taken for; empty where it is not read.
    unit : str
        Unit that the header declares; empty for none.
    """

    sheet: str
    cell: str
    head: str
    table: str
    field: str
    unit: str

    @property
    def place(self) -> str:
        """Sheet and cell, such as ``Fuel!F2``."""
        return f"{self.sheet}!{self.cell}" if self.sheet else self.cell

    @property
    def meaning(self) -> str:
        """What it is taken for, in words."""
        if not self.field:
            return "not read"
        said = f"{self.table}: {self.field.replace('_', ' ')}"
        return f"{said} [{self.unit}]" if self.unit else said


def mapping_of(headers: Iterable[tuple[str, Header]]) -> tuple[Taken, ...]:
    """Columns of one file as they are read.

    Parameters
    ----------
    headers : iterable of (str, Header)
        The file's headers, each with the name of its sheet.

    Returns
    -------
    tuple of Taken
        In the order of the file.
    """
    found: list[Taken] = []
    rows: dict[tuple[str, int], list[Header]] = {}
    for sheet, header in headers:
        rows.setdefault((sheet, header.row), []).append(header)
    for (sheet, _), beside in rows.items():
        header, fields = beside[0], numbered_fields(beside)
        for column, head in header.names.items():
            name = fields.get(column, "")
            found.append(
                Taken(
                    sheet=sheet,
                    cell=f"{column}{header.row}",
                    head=head,
                    table=header.table,
                    field=f"{name} ({header.rated})" if name == "rating" and header.rated else name,
                    unit=header.units.get(column, ""),
                )
            )
    return tuple(found)


def remembered(taken: Iterable[Taken]) -> dict[str, str]:
    """A mapping as it is kept with a load: place and header to meaning."""
    return {f"{t.place} {t.head}": t.meaning for t in taken}


def last_mapping(loads: Iterable[Mapping[str, Any]], file: str) -> Mapping[str, str] | None:
    """The mapping with which a file of this name was loaded last.

    Parameters
    ----------
    loads : iterable of mapping
        Every load, oldest first, as a view of the store gives them.
    file : str
        The file's name.

    Returns
    -------
    mapping of str to str or None
        As of :func:`remembered`; None where the name is new.
    """
    return next((load["mapping"] for load in reversed(list(loads)) if load["name"] == file and load["mapping"]), None)


def changes(before: Mapping[str, str], now: Mapping[str, str]) -> tuple[str, ...]:
    """What differs between two mappings of a file, one sentence for each column."""
    said = [f"{place}: new, {meaning}" for place, meaning in now.items() if place not in before]
    said += [f"{place}: gone, was {meaning}" for place, meaning in before.items() if place not in now]
    said += [f"{p}: {m}, was {before[p]}" for p, m in now.items() if p in before and before[p] != m]
    return tuple(said)
