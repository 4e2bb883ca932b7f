"""Two editors at one rating: the second hears who changed what and when, and nothing is overwritten."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from threading import Barrier

import pytest

from graph.actor import Actor, Role
from graph.errors import Conflict, NotAllowed, PinchpointError, UnknownName
from graph.model import Evidence, EvidenceKind, Part, Rating
from graph.store import (
    Database,
    broken,
    correct_rating,
    grant,
    last_load,
    open_database,
    refuse_undoing,
    revisions,
    trail,
)

SHEET = Evidence(kind=EvidenceKind.MAKER_SHEET, source="parts.xlsx, sheet 'Fuel', row 4")
BENCH = Evidence(kind=EvidenceKind.OWN_BENCH, source="corrected by anna in the program")
FLOW = Rating(name="flow", value=7.0e-5, evidence=SHEET, text="252 l/h")
PUMP = Part(id="PY-1", kind="tank_pump", name="pump", fits=("KX2",), ratings=(FLOW,))


def load(database: Database, *parts: Part) -> None:
    with database.write() as unit:
        number = unit.record_load(name="parts.xlsx", sha256="0" * 64, who="shop", tool_version="0")
        unit.add_parts(number, parts)


def correct(database: Database, value: float, *, seen: int, who: str) -> int:
    rating = replace(FLOW, value=value, evidence=BENCH, text=f"{value * 3.6e6:.0f} l/h")
    with database.write() as unit:
        return correct_rating(unit, "PY-1", rating, seen=seen, who=who, tool_version="0").number


def test_a_correction_is_a_new_revision_and_the_old_one_stays(database: Database) -> None:
    load(database, PUMP)
    assert correct(database, 6.0e-5, seen=1, who="anna") == 2
    with database.read() as view:
        assert [r.part.ratings[0].value for r in revisions(view, "PY-1")] == [7.0e-5, 6.0e-5]
        part = view.part("PY-1")
    assert part is not None
    assert part.fits == ("KX2",)


def test_a_second_editor_hears_who_changed_what_and_when(database: Database) -> None:
    load(database, PUMP)
    correct(database, 6.0e-5, seen=1, who="anna")
    with pytest.raises(Conflict) as caught:
        correct(database, 9.0e-5, seen=1, who="ben")
    said = str(caught.value)
    with database.read() as view:
        current = revisions(view, "PY-1")[-1]
    for word in ("PY-1", "anna", "252 l/h", "216 l/h", f"{current.at:%Y-%m-%d at %H:%M}", "revision 1 that you saw"):
        assert word in said
    assert "\n" not in said
    assert current.part.ratings[0].value == 6.0e-5
    assert current.who == "anna"


def test_a_revision_that_does_not_exist_is_no_licence(database: Database) -> None:
    load(database, PUMP)
    with pytest.raises(Conflict, match="revisions 1 to 1, not 2"):
        correct(database, 9.0e-5, seen=2, who="ben")
    with pytest.raises(UnknownName), database.write() as unit:
        correct_rating(unit, "PY-9", FLOW, seen=1, who="ben", tool_version="0")


def test_of_editors_at_the_same_time_exactly_one_gets_through(url: str) -> None:
    databases = [open_database(url) for _ in range(4)]
    load(databases[0], PUMP)
    gate = Barrier(4)

    def edit(number: int) -> bool:
        gate.wait(timeout=30)
        try:
            correct(databases[number], (1 + number) * 1.0e-5, seen=1, who=f"editor {number}")
        except Conflict:
            return False
        return True

    with ThreadPoolExecutor(4) as pool:
        assert sum(pool.map(edit, range(4))) == 1
    with databases[0].read() as view:
        assert len(revisions(view, "PY-1")) == 2
    for database in databases:
        database.engine.dispose()


def test_a_sheet_does_not_undo_a_correction_unseen(database: Database) -> None:
    load(database, PUMP)
    correct(database, 6.0e-5, seen=1, who="anna")
    with pytest.raises(Conflict, match="PY-1: anna wrote 'flow of PY-1 corrected'"), database.write() as unit:
        refuse_undoing(unit, [PUMP])
    load(database, PUMP)  # what --replace-corrections does
    with database.write() as unit:
        refuse_undoing(unit, [replace(PUMP, price=10.0)])  # the sheet's own revision may be replaced by a sheet


def test_a_sheet_does_not_overwrite_what_was_written_while_it_was_read(database: Database) -> None:
    load(database, PUMP)
    with database.read() as view:
        seen = last_load(view)
    load(database, replace(PUMP, price=12.0))
    with database.write() as unit:
        refuse_undoing(unit, [replace(PUMP, price=12.0)], seen=seen)  # says the same
        with pytest.raises(Conflict, match=r"PY-1: shop wrote 'parts\.xlsx'"):
            refuse_undoing(unit, [replace(PUMP, price=11.0)], seen=seen)


def test_the_trail_says_what_a_correction_changed(database: Database) -> None:
    load(database, PUMP)
    correct(database, 6.0e-5, seen=1, who="anna")
    with database.read() as view:
        entry = trail(view, about="PY-1")[-1]
    assert (entry.who, entry.what, entry.about) == ("anna", "correct rating", "PY-1")
    change = entry.detail["changes"][0]
    assert change["field"] == "flow"
    assert "252 l/h" in change["before"]
    assert "216 l/h" in change["after"]


def test_a_conflict_is_a_foreseen_error() -> None:
    assert issubclass(Conflict, PinchpointError)


def test_every_correction_is_numbered_after_the_last(database: Database) -> None:
    load(database, PUMP)
    assert [correct(database, value * 1e-5, seen=seen, who="anna") for seen, value in ((1, 6), (2, 5), (3, 4))] == [
        2,
        3,
        4,
    ]
    with database.read() as view:
        assert [round(r.part.ratings[0].value * 1e5) for r in revisions(view, "PY-1")] == [7, 6, 5, 4]


def test_who_does_not_keep_the_book_is_told_what_was_refused(database: Database) -> None:
    load(database, PUMP)
    with database.write() as unit:
        grant(unit, "ben@shop.example", [Role.ADVISE], who="owner")
    ben = database.acting(Actor(name="ben@shop.example", place="a test"))
    with pytest.raises(NotAllowed, match="may not correct a rating"):
        correct(ben, 6.0e-5, seen=1, who="x")
    with pytest.raises(NotAllowed, match="may not read the audit trail"), ben.read() as view:
        broken(view)
