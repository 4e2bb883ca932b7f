"""Numbers that no part can have: each is named with its reason, and its part is held or loaded without it, not dropped.

The bounds are hand calculations: an injector of 550 g/s would feed 550 g/s x 3600 / 0.28 kg/kWh, about 7000 kW; a boost
of 32 bar is above every charge pipe's pressure test; a pump that delivers more than it sweeps has an efficiency above 1.
"""

from pathlib import Path

import pytest

from ingest.book import read_book

HEAD = "No.;Part;Slot;Fits;Rating of;Rating;Unit;Condition;Evidence\n"
SOUND = "T-9;hose;charge pipe;C1;boost;3.0 bar gauge;;;pressure test\n"


@pytest.mark.parametrize(
    ("rows", "cell", "found", "reason"),
    [
        ("T-1;set;injectors;C1;static flow;550 g/s;;pressure 100 bar;own bench\n", (2, "F"), "550 g/s", "between 0.002 and"),
        ("T-1;pipe;charge pipe;C1;boost;32 bar gauge;;;own bench\n", (2, "F"), "32 bar gauge", "highest boost: between"),
        (
            "T-1;pump;high-pressure pump;C1;displacement;0.235 cm3;;;own rig\nT-1;;;;efficiency;1.3;1;;own rig\n",
            (3, "F"), "1.3", "volumetric efficiency",
        ),
        ("T-1;set;injectors;C1;static flow;800 hp at 180 bar;;;maker sheet\n", (2, "F"), "800 hp", "ask for the flow"),
        ("T-1;set;injectors;C1;static flow;800;hp;180 bar;maker sheet\n", (2, "G"), "hp", "mass flow"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_asked_about(
    rows: str, cell: tuple[int, str], found: str, reason: str, tmp_path: Path
) -> None:
    path = tmp_path / "sheet.csv"
    path.write_text(HEAD + rows + SOUND, encoding="utf-8")
    book = read_book([path])
    asked = [p for p in book.problems if (p.row, p.column) == cell and found in p.found]
    assert asked, [p.sentence for p in book.problems]
    assert any(reason in p.sentence for p in asked)
    held = {row.number for row in book.rows if row.outcome == "held"}
    assert cell[0] in held
    assert "T-9" in {part.id for part in book.parts}
    tally = book.tallies[0]
    assert tally.rows == tally.loaded + tally.held + tally.not_data
