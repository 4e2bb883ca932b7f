"""The demo shop's sheets as they lie on disk: read cell by cell, without the program's own reader.

Expected values: the 77 numbers are the demo shop's own list of parts; slots, rating names and condition names come
from the part kinds, which are written apart from the sheets.
"""

import csv
import re
from collections import defaultdict
from pathlib import Path

import pytest
from python_calamine import CalamineWorkbook

from graph.kinds import discover

SEED = Path(__file__).parents[2] / "seed_parts"
CSV_FILE = "parts-exhaust.csv"

HEADER = [
    "No.",
    "Part",
    "Slot",
    "Fits",
    "Rating of",
    "Rating",
    "Unit",
    "Condition",
    "Meaning",
    "Evidence",
    "Date",
    "± %",
    "Price net EUR",
    "Labour h",
    "Lead days",
    "Stock",
    "Requires",
    "Interfaces",
    "Note",
]
TABS = {
    "parts.xlsx": ["Air", "Engine", "Drive", "Cooling", "Chassis", "Control"],
    "parts-fuel.ods": ["Fuel"],
    CSV_FILE: [CSV_FILE],
}
#: Columns that only the first row of a part fills.
PART_COLUMNS = [
    "Part",
    "Slot",
    "Fits",
    "Price net EUR",
    "Labour h",
    "Lead days",
    "Stock",
    "Requires",
    "Interfaces",
    "Note",
]
#: First and last number of each run of the shop's list.
RUNS = (
    (1010, 1018), (1110, 1124), (2010, 2019), (2110, 2120), (3010, 3013), (3110, 3115), (4010, 4014), (4110, 4114),
    (5010, 5012), (5110, 5112), (6010, 6011), (6110, 6110), (7010, 7010), (7110, 7110), (8010, 8010),
)  # fmt: skip
LISTED = [f"PY-{number}" for first, last in RUNS for number in range(first, last + 1)]

NUMBER = re.compile(r"PY-\d{4}[A-Z]?")
#: A power as a unit of its own. Heat per degree (kW/K) is a conductance, not a power.
POWER = re.compile(r"(?<![a-z])(?:kW(?!\s*/\s*K)|[bw]?hp|PS|horse\s*power|horses?)(?![a-z])", re.IGNORECASE)
#: Support points of a curve: "0 km: 150; 90000 km: 115" or "1.5: 0.215; 2.5: 0.250".
CURVE = re.compile(r"[\d.,]+( [a-z]+)?: [\d.,]+(; [\d.,]+( [a-z]+)?: [\d.,]+)+")


def text(cell):
    """Cell as text, whole numbers without a point."""
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    return str(cell).strip()


def sheets(name):
    """Every tab of a file as rows of text."""
    if name.endswith(".csv"):
        with (SEED / name).open(encoding="utf-8", newline="") as file:
            return {name: [[cell.strip() for cell in row] for row in csv.reader(file, delimiter=";")]}
    book = CalamineWorkbook.from_path(str(SEED / name))
    return {
        tab: [[text(cell) for cell in row] for row in book.get_sheet_by_name(tab).to_python()]
        for tab in book.sheet_names
    }


def table(rows):
    """Rows below the header as (row number as a spreadsheet shows it, column -> text)."""
    return [(at, dict(zip(rows[0], row, strict=False))) for at, row in enumerate(rows[1:], start=2) if any(row)]


def rating_rows():
    """Rows of all parts sheets as (where, column -> text)."""
    return [
        (f"{name}, {tab}, row {at}", row)
        for name in TABS
        for tab, rows in sheets(name).items()
        for at, row in table(rows)
    ]


def parts():
    """Part number -> its rows; the first bears the slot."""
    found = defaultdict(list)
    for _, row in rating_rows():
        found[row["No."]].append(row)
    return found


def car_tables():
    """Car -> rows of its table of slots, as column -> text."""
    found = {}
    for car, rows in sheets("cars.xlsx").items():
        start = next(at for at, row in enumerate(rows) if row[0] == "Slot")
        found[car] = [row for _, row in table(rows[start:])]
    return found


def kinds():
    """Label of a slot -> part kind."""
    return {kind.label: kind for kind in discover().values()}


@pytest.mark.parametrize("name", TABS)
def test_tabs_and_header_row(name):
    found = sheets(name)
    assert list(found) == TABS[name]
    assert all(rows[0] == HEADER for rows in found.values())


def test_list_of_the_shop_is_complete():
    assert len(LISTED) == 77
    assert [number for number in LISTED if number not in parts()] == []


def test_every_row_bears_a_part_number():
    assert [where for where, row in rating_rows() if not NUMBER.fullmatch(row["No."])] == []


def test_rows_of_a_part_stand_together_and_only_the_first_describes_it():
    wrong = []
    seen = set()
    before = None
    for where, row in rating_rows():
        if row["No."] != before:
            if row["No."] in seen or not (row["Part"] and row["Slot"] and row["Fits"]):
                wrong.append(where)
        elif any(row[column] for column in PART_COLUMNS):
            wrong.append(where)
        before = row["No."]
        seen.add(before)
    assert wrong == []


def test_a_rating_has_name_unit_evidence_and_date():
    wrong = [
        where
        for where, row in rating_rows()
        if row["Rating"]
        and not (row["Rating of"] and row["Unit"] and row["Evidence"] and re.fullmatch(r"\d{4}-\d\d-\d\d", row["Date"]))
    ]
    assert wrong == []
    assert [where for where, row in rating_rows() if (row["Rating of"] or row["Unit"]) and not row["Rating"]] == []


def test_a_rating_is_a_number_or_the_points_of_a_curve():
    def fine(cell):
        return re.fullmatch(r"\d+([.,]\d+)?(e-\d+)?", cell) or CURVE.fullmatch(cell)

    assert [where for where, row in rating_rows() if row["Rating"] and not fine(row["Rating"])] == []


def test_meaning_is_of_the_closed_list():
    allowed = {"", "nominal", "guaranteed minimum", "survived", "failed"}
    assert {row["Meaning"] for _, row in rating_rows()} <= allowed


def test_no_part_is_rated_in_power():
    columns = ("Rating", "Unit", "Condition", "Note")
    assert [w for w, row in rating_rows() if any(POWER.search(row[column]) for column in columns)] == []


def test_no_installed_part_is_described_by_power():
    columns = ("Condition", "Note")  # a claim is left out: it quotes the customer, whose "HP" is a high-pressure pump
    wrong = [
        (car, row["Slot"])
        for car, rows in car_tables().items()
        for row in rows
        if any(POWER.search(row[column]) for column in columns)
    ]
    assert wrong == []


def test_only_the_factory_power_of_the_platform_is_a_power():
    found = [
        row[0]
        for rows in sheets("platform.xlsx").values()
        for row in rows[1:]
        if any(POWER.search(cell) for cell in row)
    ]
    assert found == ["factory power"]


@pytest.mark.parametrize(
    ("cell", "power"),
    [
        ("340 kW", True), ("400hp", True), ("462 PS", True), ("291 whp", True), ("456 bhp", True),
        ("three horsepower", True), ("1.9 kW/K", False), ("27 psi", False), ("410 W/K", False), ("2.1 kPa", False),
    ],
)  # fmt: skip
def test_pattern_tells_a_power_from_its_neighbours(cell, power):
    assert bool(POWER.search(cell)) is power


def test_required_parts_exist():
    known = parts()
    wrong = [
        (number, wanted)
        for number, rows in known.items()
        for wanted in NUMBER.findall(rows[0]["Requires"])
        if wanted not in known
    ]
    assert wrong == []


def test_required_ratings_exist():
    """A clause such as 'pump controller current >= 16 A' opens with a slot and a rating of its kind."""
    known = {f"{label} {rating.name}" for label, kind in kinds().items() for rating in kind.ratings}
    clauses = [
        clause.strip()
        for rows in parts().values()
        for clause in rows[0]["Requires"].split(";")
        if clause.strip() and not NUMBER.match(clause.strip()) and not clause.strip().startswith("task:")
    ]
    assert clauses
    assert [clause for clause in clauses if clause.split(">=")[0].strip() not in known] == []


def test_turbochargers_and_their_housings_require_each_other():
    known = parts()
    for one, other in (("PY-2113", "PY-3110"), ("PY-2114", "PY-3111"), ("PY-4112", "PY-4112R")):
        assert other in NUMBER.findall(known[one][0]["Requires"])
        assert one in NUMBER.findall(known[other][0]["Requires"])


def test_slots_ratings_and_conditions_are_those_of_the_kinds():
    labels = kinds()
    wrong = []
    for number, rows in parts().items():
        kind = labels.get(rows[0]["Slot"])
        if kind is None:
            wrong.append((number, rows[0]["Slot"]))
            continue
        specs = {spec.name: spec for spec in kind.ratings}
        for row in rows:
            spec = specs.get(row["Rating of"])
            if spec is None:
                wrong += [(number, row["Rating of"])] if row["Rating of"] else []
                continue
            clauses = [clause.strip() for clause in row["Condition"].split(";") if clause.strip()]
            names = {condition.name for condition in spec.conditions}
            wrong += [(number, clause) for clause in clauses if not any(clause.startswith(f"{n} ") for n in names)]
            needed = {condition.name for condition in spec.conditions if condition.required}
            wrong += [(number, n) for n in needed if not any(clause.startswith(f"{n} ") for clause in clauses)]
    assert wrong == []


def test_every_part_states_the_ratings_that_its_kind_cannot_do_without():
    labels = kinds()
    wrong = [
        (number, spec.name)
        for number, rows in parts().items()
        for spec in labels[rows[0]["Slot"]].ratings
        if spec.required and spec.name not in {row["Rating of"] for row in rows}
    ]
    assert wrong == []


def test_every_kind_has_a_part():
    assert set(kinds()) == {rows[0]["Slot"] for rows in parts().values()}


def test_platform_names_slots_and_factory_parts_that_exist():
    known = parts()
    rows = [row for _, row in table(sheets("platform.xlsx")["Slots"])]
    assert sorted(row["Slot"] for row in rows) == sorted(kinds())
    wrong = [
        row["Slot"] for row in rows if row["Factory part"] and known[row["Factory part"]][0]["Slot"] != row["Slot"]
    ]
    assert wrong == []
    assert {row["Slot"]: row["Only with"] for row in rows if row["Only with"]} == {
        "clutch": "HM6",
        "packs": "HD7",
        "mist injection": "MIST",
    }


@pytest.mark.parametrize("car", ["car-a", "car-b", "car-c"])
def test_cars_name_slots_and_parts_that_exist(car):
    known = parts()
    rows = car_tables()[car]
    assert len({row["Slot"] for row in rows}) == len(rows)
    assert [row["Slot"] for row in rows if row["Slot"] not in kinds()] == []
    assert [row["Slot"] for row in rows if row["Part"] and known[row["Part"]][0]["Slot"] != row["Slot"]] == []
    assert {row["Belief"] for row in rows} <= {"unknown", "claimed", "seen", "label read", "measured"}


def test_a_claim_without_a_number_names_no_part():
    """What the customer of car B says about parts that nobody has looked at stays a claim."""
    claimed = {row["Slot"]: row for row in car_tables()["car-b"] if row["Belief"] == "claimed"}
    assert set(claimed) == {"high-pressure pump", "rods", "pistons", "tank pump"}
    assert all(row["Claim"] and not row["Part"] for row in claimed.values())


def test_csv_is_written_with_decimal_commas():
    numeric = ("Rating", "± %", "Price net EUR", "Labour h", "Lead days", "Stock")
    rows = [row for _, row in table(sheets(CSV_FILE)[CSV_FILE])]
    assert [row["No."] for row in rows if any("." in row[column] for column in numeric)] == []
    assert any("," in row["Rating"] for row in rows)
