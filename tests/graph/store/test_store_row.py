"""Rows of sheets: numbered through every load, and each rating leads to the row that it was read from."""

from __future__ import annotations

from sqlalchemy import select

from graph.model import Evidence, EvidenceKind, Part, Rating
from graph.store import Database, SheetRow
from graph.store import table as t


def row(number: int, *, file: str = "parts.xlsx") -> SheetRow:
    return SheetRow(file=file, sheet="Fuel", number=number, cells={"A": f"PY-{number}"}, outcome="loaded", note="")


def part(number: int, *columns: str) -> Part:
    source = f"parts.xlsx, sheet 'Fuel', row {number}"
    ratings = tuple(
        Rating(
            name=f"flow {column}",
            value=1.0,
            evidence=Evidence(kind=EvidenceKind.MAKER_SHEET, source=f"{source}, column '{column}'"),
        )
        for column in columns
    )
    return Part(id=f"PY-{number}", kind="tank_pump", name="pump", ratings=ratings)


def load(database: Database, numbers: range, *columns: str) -> dict[str, int]:
    with database.write() as unit:
        given = unit.record_load(name="parts.xlsx", sha256="0" * 64, who="shop", tool_version="0")
        places = unit.record_rows(given, map(row, numbers))
        unit.add_parts(given, [part(n, *columns) for n in numbers], places)
    return places


def linked(database: Database) -> list[tuple[str, str, int, int]]:
    """Part, rating, row of the sheet and its load, for every rating, joined by hand."""
    with database.engine.connect() as connection:
        query = (
            select(t.part_revision.c.part_id, t.rating.c.name, t.sheet_row.c.number, t.sheet_row.c.load_id)
            .join(t.rating, t.rating.c.revision_id == t.part_revision.c.id)
            .outerjoin(t.sheet_row, t.sheet_row.c.id == t.rating.c.row_id)
            .order_by(t.part_revision.c.id, t.rating.c.position)
        )
        return [tuple(found) for found in connection.execute(query)]


def test_rows_of_a_second_load_stand_beside_those_of_the_first(database: Database) -> None:
    first = load(database, range(1, 4))
    second = load(database, range(4, 9))
    assert set(first) == {f"parts.xlsx, sheet 'Fuel', row {n}" for n in range(1, 4)}
    assert not set(first.values()) & set(second.values())
    with database.read() as view:
        assert [r.number for r in view.rows(1)] == [1, 2, 3]
        assert [r.number for r in view.rows(2)] == [4, 5, 6, 7, 8]
        assert len(view.rows()) == 8


def test_every_rating_leads_to_the_row_it_was_read_from(database: Database) -> None:
    load(database, range(1, 3), "B", "C")
    load(database, range(7, 8), "B")
    assert linked(database) == [
        ("PY-1", "flow B", 1, 1),
        ("PY-1", "flow C", 1, 1),
        ("PY-2", "flow B", 2, 1),
        ("PY-2", "flow C", 2, 1),
        ("PY-7", "flow B", 7, 2),
    ]


def test_a_rating_from_no_sheet_leads_to_no_row(database: Database) -> None:
    with database.write() as unit:
        given = unit.record_load(name="by hand", sha256="0" * 64, who="shop", tool_version="0")
        unit.add_parts(given, [part(3, "B")])
    assert linked(database) == [("PY-3", "flow B", None, None)]
