"""Platform and car sheets: one defect each and its exact cell; names that lead nowhere; no row is lost."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from graph.model import Belief
from graph.operation import PLATFORM_CONSTANTS
from ingest.book import Book, read_book

Tabs = dict[str, list[list[Any]]]

PLATFORM: list[list[Any]] = [
    ["Property", "Value", "Unit", "Source"],
    ["platform", "p-1"],
    ["name", "Invented car"],
    ["codes", "E1; G6; G7"],
    ["bore", 82.5, "mm"],
    ["stroke", 92.9, "mm"],
    ["rod length", 144, "mm"],
    ["compression ratio", 9.6, "1"],
    ["cylinders", 4, "1"],
    ["lowest speed", 2000, "rpm"],
    ["highest speed", 6600, "rpm"],
    ["power speed", 6600, "rpm"],
    ["factory power", 225, "kW"],
    ["factory torque", 400, "N·m"],
    ["factory boost", 1.25, "bar gauge"],
    ["rail pressure", 200, "bar gauge"],
    ["injection window", 258, "°"],
    ["pump lobes", 4, "1"],
    ["low-side pressure", 5.5, "bar gauge"],
    ["pump voltage", 13.2, "V"],
    ["jet pump flow", 15, "L/h"],
    ["vehicle mass", 1450, "kg"],
    ["evaporated share", 0.8, "1"],
    ["knock factor", 0.8, "1"],
    ["knock speed exponent", 0.8, "1"],
    ["friction factor", 1.0, "1"],
]
CURVES: list[list[Any]] = [
    ["Property", "Speed", "Unit", "Value"],
    ["volumetric efficiency", 2000, "rpm", 0.92],
    ["volumetric efficiency", 6600, "rpm", 0.955],
    ["lambda", 2000, "rpm", 0.92],
    ["lambda", 6600, "rpm", 0.85],
]
SLOTS: list[list[Any]] = [
    ["Slot", "Count", "Only with", "Factory part"],
    ["rods", 1, None, "T-1"],
    ["clutch", 1, "G6", "T-2"],
    ["injectors", 4, None, None],
    ["fuel grade", 1, None, "T-3"],
]
PARTS: list[list[Any]] = [
    ["No.", "Part", "Slot", "Fits", "Rating of", "Rating", "Unit", "Evidence", "± %", "Requires"],
    ["T-1", "rods", "rods", "E1", "torque", 480, "N·m", "book", 5, None],
    ["T-2", "clutch", "clutch", "G6", "torque", 430, "N·m", "book", 5, "T-1"],
    ["T-3", "98 RON", "fuel grade", "E1", "research octane", 98, "RON", "book", 1, None],
    ["T-3", None, None, None, "motor octane", 88, "MON", "book", 1, None],
]
CAR: list[list[Any]] = [
    ["Property", "Value", "Unit"],
    ["car", "car-1"],
    ["platform", "p-1"],
    ["gearbox", "G6"],
    ["distance", 62000, "km"],
    ["fuel", "ron98"],
    ["note", "feels flat"],
    [],
    ["Slot", "Part", "Belief", "Claim", "Condition", "Note"],
    ["rods", None, "claimed", "forged", None, "invoice without number"],
    ["clutch", "T-2", "label read", None, "worn", None],
]


def _tabs(**changes: tuple[int, int, Any]) -> Tabs:
    tabs = {
        "Platform": [list(r) for r in PLATFORM],
        "Curves": [list(r) for r in CURVES],
        "Slots": [list(r) for r in SLOTS],
        "Parts": [list(r) for r in PARTS],
        "Car": [list(r) for r in CAR],
    }
    for name, (row, column, value) in changes.items():
        line = tabs[name][row - 1]
        line.extend([None] * (column + 1 - len(line)))
        line[column] = value
    return tabs


@pytest.fixture
def read(write: Callable[..., Path], conserve: Callable[[Book], None]) -> Callable[[Tabs], Book]:
    def reader(tabs: Tabs) -> Book:
        book = read_book([write("shop.xlsx", tabs)])
        conserve(book)
        return book

    return reader


def test_the_base_sheets_are_clean(read: Callable[[Tabs], Book]) -> None:
    """Speeds by hand: 6600 1/min = 110 1/s; 5.5 bar gauge = 5.5e5 Pa gauge; 15 L/h = 15e-3/3600 m3/s."""
    book = read(_tabs())
    assert [p.sentence for p in book.problems] == []
    (platform,) = book.platforms
    assert set(platform.constants) == set(PLATFORM_CONSTANTS)
    assert platform.constants["power speed"] == pytest.approx(110.0)
    assert platform.constants["low-side pressure"] == pytest.approx(5.5e5)
    assert platform.constants["jet pump flow"] == pytest.approx(15e-3 / 3600)
    assert platform.codes == ("E1", "G6", "G7")
    assert platform.curves["lambda"].y == (0.92, 0.85)
    assert [(s.name, s.count, s.only_with, s.factory_part) for s in platform.slots][2] == ("injectors", 4, None, None)
    (car,) = book.cars
    assert (car.id, car.platform, car.codes, car.fuel) == ("car-1", "p-1", ("G6",), "ron98")
    assert car.distance == pytest.approx(62e6)
    assert car.notes == ("feels flat", "rods: invoice without number")
    assert [(i.slot, i.part, i.belief) for i in car.installed] == [
        ("rods", None, Belief.CLAIMED),
        ("clutch", "T-2", Belief.LABEL_READ),
    ]
    assert {p.id for p in book.parts if p.factory} == {"T-1", "T-2", "T-3"}


#: Name: (tab, row, column from 0, value, column letter of the problem, a word of it, platforms, cars).
DEFECTS: dict[str, tuple[str, int, int, Any, str, str, int, int]] = {
    "constant without unit": ("Platform", 5, 2, None, "C", "unit", 0, 1),
    "constant of another quantity": ("Platform", 5, 2, "kg", "C", "length", 0, 1),
    "constant implausible": ("Platform", 5, 1, 8250, "B", "between", 0, 1),
    "constant empty": ("Platform", 5, 1, None, "B", "bore", 0, 1),
    "constant a range": ("Platform", 22, 1, "1400-1500", "B", "plain", 0, 1),
    "pressure without reference": ("Platform", 15, 2, "bar", "B", "neither abs nor gauge", 0, 1),
    "word empty": ("Platform", 3, 1, None, "B", "name", 0, 1),
    "power beyond the torque": ("Platform", 13, 1, 325, "B", "400 N.m", 1, 1),
    "curve speed without unit": ("Curves", 3, 2, None, "C", "unit", 0, 1),
    "curve value implausible": ("Curves", 3, 3, 9.55, "D", "0.3 to 1.6", 0, 1),
    "curve speed twice": ("Curves", 3, 1, 2000, "B", "again", 0, 1),
    "slot unknown": ("Slots", 4, 0, "glove box", "A", "glove box", 0, 1),
    "slot twice": ("Slots", 4, 0, "rods", "A", "again", 0, 1),
    "count not whole": ("Slots", 4, 1, 2.5, "B", "whole", 0, 1),
    "only with an unknown code": ("Slots", 3, 2, "G9", "C", "G7", 1, 1),
    "factory part nowhere": ("Slots", 2, 3, "T-9", "D", "T-9", 1, 1),
    "factory part of another slot": ("Slots", 2, 3, "T-2", "D", "clutch", 1, 1),
    "requirement nowhere": ("Parts", 3, 9, "T-9", "J", "T-9", 1, 1),
    "requirement of itself": ("Parts", 3, 9, "T-2", "J", "itself", 1, 1),
    "fits a code nobody has": ("Parts", 3, 3, "G8", "D", "G8", 1, 1),
    "car property unknown": ("Car", 5, 0, "colour", "A", "distance", 1, 1),
    "car distance without unit": ("Car", 5, 2, None, "C", "unit", 1, 1),
    "car of no platform": ("Car", 3, 1, "p-2", "B", "p-1", 1, 1),
    "car code of another platform": ("Car", 4, 1, "G8", "B", "G7", 1, 1),
    "car fuel unknown": ("Car", 6, 1, "diesel", "B", "ron98", 1, 1),
    "belief unknown": ("Car", 11, 2, "surely", "C", "label read", 1, 1),
    "belief missing": ("Car", 11, 2, None, "C", "label read", 1, 1),
    "car slot unknown": ("Car", 11, 0, "glove box", "A", "glove box", 1, 1),
    "car slot not on the platform": ("Car", 11, 0, "brakes", "A", "p-1", 1, 1),
    "car slot twice": ("Car", 11, 0, "rods", "A", "again", 1, 1),
    "part seen but not named": ("Car", 11, 1, None, "B", "label read", 1, 1),
    "part nowhere": ("Car", 11, 1, "T-9", "B", "T-9", 1, 1),
}


@pytest.mark.parametrize("name", DEFECTS)
def test_one_defect_is_named_with_its_cell(name: str, read: Callable[[Tabs], Book]) -> None:
    tab, row, column, value, letter, word, platforms, cars = DEFECTS[name]
    tabs = _tabs(**{tab: (row, column, value)})
    if name == "car slot not on the platform":
        tabs["Car"][10][1:3] = [None, "unknown"]
    book = read(tabs)
    # a platform that cannot be made takes its car with it: its name leads nowhere then
    problems = [p for p in book.problems if not (platforms == 0 and p.sheet == "Car")]
    (problem,) = problems
    assert (problem.sheet, problem.row, problem.column) == (tab, row, letter)
    assert word in f"{problem.found} {problem.expected} {problem.remedy}"
    assert (len(book.platforms), len(book.cars), len(book.parts)) == (platforms, cars, 3)
    if platforms == 0:
        assert all(t.loaded == 0 for t in book.tallies if t.sheet in ("Platform", "Curves", "Slots"))


@pytest.mark.parametrize("name", ["bore", "low-side pressure", "platform", "knock factor"])
def test_a_missing_constant_is_named(name: str, read: Callable[[Tabs], Book]) -> None:
    tabs = _tabs()
    tabs["Platform"] = [row for row in tabs["Platform"] if row[0] != name]
    book = read(tabs)
    (problem,) = [p for p in book.problems if p.sheet == "Platform"]
    assert f"'{name}'" in problem.expected
    assert book.platforms == []


def test_a_missing_curve_and_missing_slots_are_named(read: Callable[[Tabs], Book]) -> None:
    tabs = _tabs()
    tabs["Curves"] = tabs["Curves"][:3]
    del tabs["Slots"]
    said = [p.expected for p in read(tabs).problems if p.sheet == "Platform"]
    assert said == ["the curve 'lambda' with two points or more", "a table of slots"]


def test_a_constant_twice_is_held(read: Callable[[Tabs], Book]) -> None:
    tabs = _tabs()
    tabs["Platform"].append(["bore", 83, "mm"])
    book = read(tabs)
    (problem,) = book.problems
    assert (problem.row, problem.column) == (27, "A")
    assert book.platforms[0].constants["bore"] == pytest.approx(0.0825)


@pytest.mark.parametrize("needed", ["car", "platform"])
def test_a_car_without_name_or_platform_is_held(needed: str, read: Callable[[Tabs], Book]) -> None:
    tabs = _tabs()
    tabs["Car"] = [row for row in tabs["Car"] if not row or row[0] != needed]
    book = read(tabs)
    (problem,) = book.problems
    assert needed in problem.expected
    assert book.cars == []
    assert next(t for t in book.tallies if t.sheet == "Car").loaded == 0


def test_a_held_row_of_a_car_leaves_its_slot_unknown_not_factory(read: Callable[[Tabs], Book]) -> None:
    (car,) = read(_tabs(Car=(11, 2, "surely"))).cars
    clutch = next(i for i in car.installed if i.slot == "clutch")
    assert (clutch.part, clutch.belief) == (None, Belief.UNKNOWN)
    assert "row 11" in clutch.claim


def test_a_car_twice_is_held(read: Callable[[Tabs], Book]) -> None:
    tabs = _tabs()
    tabs["Copy"] = tabs["Car"]
    book = read(tabs)
    (problem,) = book.problems
    assert (problem.sheet, problem.column, problem.row) == ("Copy", "B", 2)
    assert len(book.cars) == 1


def test_a_platform_as_text_tables_of_one_folder(write: Callable[..., Path], conserve: Callable[[Book], None]) -> None:
    paths = [write(f"{name.lower()}.csv", {name: rows}) for name, rows in _tabs().items()]
    book = read_book([paths[0].parent])
    conserve(book)
    assert [p.sentence for p in book.problems] == []
    assert (len(book.platforms), len(book.cars), len(book.parts)) == (1, 1, 3)
    assert book.platforms[0].source == "platform.csv"
