"""The documents: every promised field, units in the names, null where nothing is known.

The field names are the promise that the command line makes to scripts. Expected values are hand conversions of
the hand-built answer in conftest.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

import pytest

from graph.model import Car, Evidence, EvidenceKind, Part, Rating
from graph.report import Finding, Remedy, Report
from ingest.book import Book, Tally
from ingest.problem import Problem
from ui.document import cars_document, check_document, load_document, parts_document

PROMISED = {
    "": "schema car target reachable carries_kW holds_probability tie makes weakest limits unknown curve",
    "target": "power_kW boost_bar fuel ambient_C altitude_m",
    "makes": "power_kW torque_Nm at_rpm boost_bar knock_limited",
    "weakest": "slot part ceiling_kW",
    "curve": "speed_rpm torque_Nm power_kW boost_bar fuel_g_s air_g_s charge_C exhaust_C back_pressure_bar "
    "peak_pressure_bar retard_deg",
}
PROMISED_LIMIT = (
    "slot part rating axis demand capacity unit utilisation at_rpm ceiling_kW ceiling_low_kW ceiling_high_kW "
    "ceiling_here_kW limit_kind verdict weakest_probability consequence evidence"
)
PROMISED_EVIDENCE = "kind source date condition assumed"


@pytest.fixture(scope="module")
def document(make_report: Callable[..., Report]) -> dict[str, Any]:
    return check_document(make_report())


def leaves(value: Any) -> Iterator[Any]:
    if isinstance(value, dict):
        for inner in value.values():
            yield from leaves(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from leaves(inner)
    else:
        yield value


@pytest.mark.parametrize("block", PROMISED)
def test_check_has_every_promised_field(document: dict[str, Any], block: str) -> None:
    part = document[block] if block else document
    assert set(PROMISED[block].split()) - set(part) == set()


def test_every_limit_has_every_promised_field(document: dict[str, Any]) -> None:
    assert len(document["limits"]) == 4
    for limit in document["limits"]:
        assert set(PROMISED_LIMIT.split()) - set(limit) == set()
        assert set(PROMISED_EVIDENCE.split()) - set(limit["evidence"]) == set()


def test_unknown_slots_have_slot_and_reason(document: dict[str, Any]) -> None:
    assert document["unknown"] == [{"slot": "rods", "why": "claimed, not seen"}]


def test_powers_are_in_kilowatts_and_pressures_in_bar(document: dict[str, Any]) -> None:
    assert document["schema"] == "pinchpoint.check/1"
    assert document["car"] == "car-a"
    assert document["target"]["power_kW"] == 340.0
    assert document["target"]["boost_bar"] == pytest.approx(2.2)
    assert document["target"]["ambient_C"] == pytest.approx(25.0)
    assert document["carries_kW"] == 253.0
    assert document["makes"]["power_kW"] == pytest.approx(301.2)
    assert document["makes"]["at_rpm"] == 6600
    assert document["weakest"] == {"slot": "turbine", "part": "PY-3011", "ceiling_kW": 262.0}
    assert document["tie"] == ["turbine", "intercooler"]


def test_a_limit_is_in_the_unit_that_it_names(document: dict[str, Any]) -> None:
    turbine, intercooler, gears, _ = document["limits"]
    assert (turbine["demand"], turbine["capacity"]) == (pytest.approx(4.2), pytest.approx(3.6))
    assert turbine["unit"].startswith("bar")
    assert (intercooler["demand"], intercooler["capacity"]) == (pytest.approx(90.0), pytest.approx(65.0))
    assert intercooler["unit"] == "°C"
    assert (gears["demand"], gears["capacity"], gears["unit"]) == (492.0, 560.0, "N·m")
    assert turbine["utilisation"] == pytest.approx(4.2 / 3.6)
    assert (turbine["ceiling_low_kW"], turbine["ceiling_high_kW"]) == (249.0, 275.0)
    assert (turbine["verdict"], turbine["limit_kind"]) == ("exceeded", "protective")


def test_evidence_leads_to_the_cell(document: dict[str, Any]) -> None:
    evidence = document["limits"][0]["evidence"]
    assert evidence["kind"] == "own bench"
    assert evidence["source"] == "parts.xlsx, sheet 'Exhaust', row 12, column 'Rating'"
    assert evidence["date"] == "2026-03-02"
    assert evidence["assumed"] is False


def test_curve_is_in_the_units_of_its_names(document: dict[str, Any]) -> None:
    curve = document["curve"]
    assert curve["speed_rpm"] == [3000.0, 4800.0, 6600.0]
    # 400 N·m x 2 pi x 50 1/s = 125.66 kW and 450 N·m x 2 pi x 80 1/s = 226.19 kW
    assert curve["power_kW"][:2] == [pytest.approx(125.66, abs=0.01), pytest.approx(226.19, abs=0.01)]
    # 2.5 and 3.0 bar less the standard 1.01325 bar, told to 0.1 mbar
    assert curve["boost_bar"][:2] == [pytest.approx(1.48675, abs=1e-4), pytest.approx(1.98675, abs=1e-4)]
    assert curve["fuel_g_s"][:2] == [10.0, 15.0]
    assert curve["air_g_s"][:2] == [125.0, 200.0]
    assert curve["charge_C"][:2] == [40.0, 50.0]
    assert curve["exhaust_C"][:2] == [800.0, 850.0]
    assert curve["back_pressure_bar"][:2] == [2.0, 3.2]
    assert curve["peak_pressure_bar"][:2] == [90.0, 110.0]
    assert curve["retard_deg"][:2] == [pytest.approx(5.0), pytest.approx(15.0)]


def test_where_no_operating_point_exists_the_curve_holds_null(document: dict[str, Any]) -> None:
    curve = document["curve"]
    assert {name: curve[name][2] for name in PROMISED["curve"].split() if name != "speed_rpm"} == dict.fromkeys(
        (n for n in PROMISED["curve"].split() if n != "speed_rpm"), None
    )


def test_what_is_not_known_is_null_and_never_zero(document: dict[str, Any]) -> None:
    rods = document["limits"][3]
    for name in ("part", "demand", "capacity", "utilisation", "at_rpm", "ceiling_kW", "ceiling_low_kW"):
        assert rods[name] is None
    assert rods["ceiling_high_kW"] is None
    assert rods["ceiling_here_kW"] is None
    assert rods["verdict"] == "unknown"
    assert rods["evidence"]["source"] is None


def test_interval_without_an_upper_end_is_null(document: dict[str, Any]) -> None:
    intercooler = document["limits"][1]
    assert intercooler["ceiling_low_kW"] == 330.0
    assert intercooler["ceiling_high_kW"] is None


def test_document_is_plain_json_without_nan(document: dict[str, Any]) -> None:
    text = json.dumps(document, allow_nan=False)
    assert json.loads(text) == document
    assert all(math.isfinite(v) for v in leaves(document) if isinstance(v, float))


def test_reachable_keeps_its_three_values(make_report: Callable[..., Report]) -> None:
    for value in (True, False, None):
        assert check_document(make_report(reachable=value))["reachable"] is value


def test_without_any_ceiling_weakest_is_null(make_report: Callable[..., Report], unknown_rods: Finding) -> None:
    document = check_document(make_report(findings=(unknown_rods,), weakest=None, tie=()))
    assert document["weakest"] is None
    assert document["tie"] == []


def test_no_boost_cap_is_null(make_report: Callable[..., Report]) -> None:
    report = make_report()
    document = check_document(replace(report, target=replace(report.target, boost_cap=None)))
    assert document["target"]["boost_bar"] is None


def test_remedy_is_in_hours_and_days(make_report: Callable[..., Report]) -> None:
    remedy = Remedy(
        slot="turbine",
        rule="pressure before the turbine",
        part="PY-3111",
        name="turbine housing L",
        ceiling=None,
        price=None,
        total=2370.0,
        labour=8.0 * 3600.0,
        pulls=("PY-2114",),
        lead_time=18.0 * 86400.0,
    )
    shown = check_document(make_report(remedies=(remedy,)))["remedies"][0]
    assert (shown["part"], shown["labour_h"], shown["lead_days"]) == ("PY-3111", 8.0, 18.0)
    assert (shown["price"], shown["ceiling_kW"]) == (None, None)
    assert shown["pulls"] == ["PY-2114"]


def test_cars_have_id_and_platform() -> None:
    document = cars_document([Car(id="car-a", platform="marrit-20t"), Car(id="car-b", platform="m", distance=9.7e7)])
    assert document["schema"] == "pinchpoint.cars/1"
    assert [(c["id"], c["platform"]) for c in document["cars"]] == [("car-a", "marrit-20t"), ("car-b", "m")]
    assert [c["distance_km"] for c in document["cars"]] == [None, 97000.0]


def test_parts_say_how_each_rating_is_known() -> None:
    rating = Rating(
        name="air flow",
        value=0.265,
        evidence=Evidence(kind=EvidenceKind.OWN_BENCH, source="parts.xlsx, sheet 'Air', row 2, column 'Rating'"),
        text="265 g/s",
    )
    document = parts_document([Part(id="PY-2010", kind="air_box", name="air box", ratings=(rating,), labour=3600.0)])
    assert document["schema"] == "pinchpoint.parts/1"
    part = document["parts"][0]
    assert (part["id"], part["price"], part["labour_h"], part["stock"]) == ("PY-2010", None, 1.0, None)
    assert part["ratings"][0]["text"] == "265 g/s"
    assert part["ratings"][0]["source"] == "parts.xlsx, sheet 'Air', row 2, column 'Rating'"


def test_load_counts_every_row_and_names_every_defect() -> None:
    book = Book(
        problems=[
            Problem(file="parts.xlsx", sheet="Air", row=7, column="F", found="'x'", expected="a flow", remedy="w")
        ],
        tallies=[Tally(file="parts.xlsx", sheet="Air", rows=10, loaded=7, held=1, not_data=2)],
    )
    document = load_document(book)
    assert document["schema"] == "pinchpoint.load/1"
    sheet = document["sheets"][0]
    assert sheet["rows"] == sheet["loaded"] + sheet["held"] + sheet["not_data"]
    problem = document["problems"][0]
    assert (problem["sheet"], problem["row"], problem["column"]) == ("Air", 7, "F")
