"""Records to rows and back, field by field."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from types import MappingProxyType
from typing import Any, NamedTuple

from graph.model import (
    Belief,
    Car,
    Condition,
    Curve,
    Evidence,
    EvidenceKind,
    Installed,
    Interface,
    Meaning,
    Part,
    Platform,
    Rating,
    Relation,
    RelationKind,
    Slot,
)

Row = Mapping[str, Any]
#: Columns of a part itself and of a rating, in the order in which they are written.
PART = ("part_id", "kind", "name", "maker", "factory", "price", "labour", "lead_time", "stock", "tasks", "note", "source")  # fmt: skip
RATING = ("name", "value", "curve", "spread", "meaning", "conditions", "evidence_kind", "evidence_source",
          "evidence_detail", "evidence_date", "evidence_by", "text")  # fmt: skip
_CANONICAL = json.JSONEncoder(sort_keys=True, ensure_ascii=True, allow_nan=False)


class SheetRow(NamedTuple):
    """One row of a sheet as read.

    Parameters
    ----------
    file, sheet : str
        Where it stands.
    number : int
        Row number as the spreadsheet shows it.
    cells : mapping of str to str
        Header (or column letter) to text.
    outcome : str
        ``loaded``, ``held`` or ``not data``.
    note : str
        Why, where it is not loaded.
    """

    file: str
    sheet: str
    number: int
    cells: Mapping[str, str]
    outcome: str
    note: str = ""

    @property
    def place(self) -> str:
        """Place in words, as evidence names it: ``parts.xlsx, sheet 'Fuel', row 12``."""
        return row_place(self.file, self.sheet, self.number)


@lru_cache(maxsize=256)  # asked for with every row of a sheet
def rows_place(file: str, sheet: str) -> str:
    """What the places of all rows of a sheet begin with; a text table has no sheet."""
    return f"{file}, sheet '{sheet}', row " if sheet else f"{file}, row "


def row_place(file: str, sheet: str, number: int) -> str:
    """Place of a row in words: ``parts.xlsx, sheet 'Fuel', row 12``."""
    return f"{rows_place(file, sheet)}{number}"


def canonical(value: object) -> str:
    """JSON in canonical form: keys sorted, ASCII, no number that is none."""
    return _CANONICAL.encode(value)


def decoded(texts: Iterable[str]) -> list[Any]:
    """Values of many JSON texts, read at one go."""
    found: list[Any] = json.loads(f"[{', '.join(texts)}]")
    return found


def content_hash(value: object) -> str:
    """SHA-256 of a JSON value in canonical form."""
    return hashlib.sha256(canonical(value).encode()).hexdigest()


def curve_body(curve: Curve) -> dict[str, Any]:
    """JSON of a curve."""
    return {"x": list(curve.x), "y": list(curve.y)}


def curve_record(body: Row) -> Curve:
    """Curve of its JSON."""
    return Curve(x=tuple(body["x"]), y=tuple(body["y"]))


def rating_values(rating: Rating, curve: str, conditions: str) -> tuple[Any, ...]:
    """What the columns :data:`RATING` hold, with the curve and the conditions as JSON."""
    value, evidence = rating.value, rating.evidence
    return (
        rating.name,
        None if isinstance(value, Curve) else value,
        curve,
        rating.spread,
        rating.meaning._value_,
        conditions,
        evidence.kind._value_,
        evidence.source,
        evidence.detail,
        evidence.date,
        evidence.by,
        rating.text,
    )


def rating_record(row: Row) -> Rating:
    """Rating of its columns."""
    return Rating(
        name=row["name"],
        value=curve_record(row["curve"]) if row["curve"] is not None else row["value"],
        spread=row["spread"],
        meaning=Meaning(row["meaning"]),
        conditions=tuple(Condition(name=c["name"], value=c["value"], assumed=c["assumed"]) for c in row["conditions"]),
        evidence=Evidence(
            kind=EvidenceKind(row["evidence_kind"]),
            source=row["evidence_source"],
            detail=row["evidence_detail"],
            date=row["evidence_date"],
            by=row["evidence_by"],
        ),
        text=row["text"],
    )


def interface_row(interface: Interface) -> dict[str, Any]:
    """Columns of an interface."""
    return {"port": interface.port, "type": interface.type}


def relation_row(relation: Relation) -> dict[str, Any]:
    """Columns of a relation."""
    return {
        "kind": relation.kind.value,
        "part": relation.part,
        "slot": relation.slot,
        "rating": relation.rating,
        "at_least": relation.at_least,
        "text": relation.text,
    }


def relation_record(row: Row) -> Relation:
    """Relation of its columns."""
    return Relation(
        kind=RelationKind(row["kind"]),
        part=row["part"],
        slot=row["slot"],
        rating=row["rating"],
        at_least=row["at_least"],
        text=row["text"],
    )


def part_values(part: Part, tasks: str) -> tuple[Any, ...]:
    """What the columns :data:`PART` hold, with the tasks as JSON."""
    return (
        part.id,
        part.kind,
        part.name,
        part.maker,
        part.factory,
        part.price,
        part.labour,
        part.lead_time,
        part.stock,
        tasks,
        part.note,
        part.source,
    )


def part_record(
    row: Row, fits: Sequence[str], ratings: Sequence[Row], interfaces: Sequence[Row], relations: Sequence[Row]
) -> Part:
    """Part of its rows."""
    return Part(
        id=row["part_id"],
        kind=row["kind"],
        name=row["name"],
        maker=row["maker"],
        fits=tuple(fits),
        ratings=tuple(rating_record(r) for r in ratings),
        interfaces=tuple(Interface(port=i["port"], type=i["type"]) for i in interfaces),
        relations=tuple(relation_record(r) for r in relations),
        tasks=tuple(row["tasks"]),
        price=row["price"],
        labour=row["labour"],
        lead_time=row["lead_time"],
        stock=row["stock"],
        factory=row["factory"],
        note=row["note"],
        source=row["source"],
    )


def platform_body(platform: Platform) -> dict[str, Any]:
    """JSON of a platform."""
    return {
        "id": platform.id,
        "name": platform.name,
        "codes": list(platform.codes),
        "constants": dict(platform.constants),
        "curves": {name: curve_body(c) for name, c in platform.curves.items()},
        "slots": [
            {"name": s.name, "kind": s.kind, "count": s.count, "only_with": s.only_with, "factory_part": s.factory_part}
            for s in platform.slots
        ],
        "source": platform.source,
    }


def platform_record(body: Row) -> Platform:
    """Platform of its JSON."""
    return Platform(
        id=body["id"],
        name=body["name"],
        codes=tuple(body["codes"]),
        constants=MappingProxyType(dict(body["constants"])),
        curves=MappingProxyType({name: curve_record(c) for name, c in body["curves"].items()}),
        slots=tuple(Slot(**s) for s in body["slots"]),
        source=body["source"],
    )


def car_body(car: Car) -> dict[str, Any]:
    """JSON of a car."""
    return {
        "id": car.id,
        "platform": car.platform,
        "name": car.name,
        "codes": list(car.codes),
        "distance": car.distance,
        "fuel": car.fuel,
        "installed": [
            {
                "slot": i.slot,
                "part": i.part,
                "belief": i.belief.value,
                "claim": i.claim,
                "condition": i.condition,
                "source": i.source,
            }
            for i in car.installed
        ],
        "notes": list(car.notes),
        "source": car.source,
    }


def car_record(body: Row) -> Car:
    """Car of its JSON."""
    return Car(
        id=body["id"],
        platform=body["platform"],
        name=body["name"],
        codes=tuple(body["codes"]),
        distance=body["distance"],
        fuel=body["fuel"],
        installed=tuple(
            Installed(
                slot=i["slot"],
                part=i["part"],
                belief=Belief(i["belief"]),
                claim=i["claim"],
                condition=i["condition"],
                source=i["source"],
            )
            for i in body["installed"]
        ),
        notes=tuple(body["notes"]),
        source=body["source"],
    )
