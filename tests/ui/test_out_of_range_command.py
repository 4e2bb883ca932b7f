"""What no engine can be, through the command: one sentence that names it, and no number of an answer.

Bounds: a gauge pressure below nought is no boost; no spark-ignition engine compresses 40 to 1; speed lines of one
compressor do not cross, since more speed at one flow gives more pressure.
"""

import csv
import json
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner
from openpyxl import load_workbook

from ui.amount import Amount
from ui.cli import main

SEED = Path(__file__).resolve().parents[2] / "seed_parts"
CROSSING = (
    ("No.", "Wheel speed (1/min)", "Flow (g/s)", "Pressure ratio", "Efficiency (%)", "Reference temperature",
     "Reference pressure", "Surge line", "Evidence"),
    ("PY-2013", 90000, 40, 1.5, 66, "298 K", "100 kPa", "hard", "maker map"),
    ("PY-2013", 90000, 80, 1.45, 72), ("PY-2013", 90000, 110, 1.2, 60),
    ("PY-2013", 120000, 70, 2.0, 68), ("PY-2013", 120000, 130, 1.9, 75), ("PY-2013", 120000, 170, 2.9, 62),
    ("PY-2013", 150000, 100, 2.8, 67), ("PY-2013", 150000, 180, 2.6, 73), ("PY-2013", 150000, 230, 1.9, 60),
)  # fmt: skip


def run(url, *words):
    return CliRunner().invoke(main, ["--db", url, *words])


@pytest.fixture
def folder(tmp_path):
    """The demo shop's sheets, to be spoilt."""
    return Path(shutil.copytree(SEED, tmp_path / "sheets", ignore=shutil.ignore_patterns("logs", "knowledge")))


@pytest.mark.parametrize(
    ("boost", "said"),
    [("-0.3 bar", "boost: found -0.3 bar gauge"), ("9 bar", "boost: found 9 bar gauge")],
)
def test_a_boost_that_nobody_means(demo_database, boost, said):
    for words in (("check",), ("plan", "--fuel", "ron98")):
        found = run(str(demo_database.engine.url), words[0], "car-a", "--power", "300 kW", "--boost", boost, *words[1:])
        assert found.exit_code == 2
        assert said in found.stderr
        assert "0 to 4 bar gauge" in found.stderr
        assert len(found.stderr.strip().splitlines()) == 1
        assert found.stdout == ""


@pytest.mark.parametrize(("ambient", "code"), [("-40", 3), ("60", 3), ("-40.1", 2), ("60.1", 2)])
def test_air_is_asked_and_refused_in_degrees_celsius(demo_database, ambient, code):
    words = ("check", "car-a", "--power", "340 kW", f"--ambient={ambient}")
    found = run(str(demo_database.engine.url), *words)
    assert found.exit_code == code
    if code == 2:
        assert f"found {ambient} °C, allowed is -40 to 60 °C" in found.stderr
        assert found.stdout == ""


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--install", "PY-3111,PY-3011"), "PY-3111 and PY-3011 both go to the turbine"),
        (("--install", "PY-1124,PY-1126"), "PY-1124 and PY-1126 both go to the fuel grade"),
        (("--install", "PY-1124", "--fuel", "ron98"), "name one fuel"),
        (("--install", "PY-1124", "--fuel", "e30"), "name one fuel"),
    ],
)
def test_two_parts_for_one_place_are_refused(demo_database, words, said):
    found = run(str(demo_database.engine.url), "check", "car-a", "--power", "300 kW", *words)
    assert found.exit_code == 2
    assert said in found.stderr
    assert found.stdout == ""


def test_a_fuel_among_the_parts_to_be_fitted_is_the_fuel_that_is_burned(demo_database):
    words = ("check", "car-a", "--power", "300 kW", "--boost", "2.2 bar", "--json")
    url = str(demo_database.engine.url)
    asked, filled, both = (
        run(url, *words, *more).stdout
        for more in (("--fuel", "ron102"), ("--install", "PY-1124"), ("--fuel", "ron102", "--install", "PY-1124"))
    )
    assert json.loads(asked)["target"]["fuel"] == "ron102"
    assert filled == asked
    assert both == asked


@pytest.mark.parametrize(
    "words",
    [
        (option, bad)
        for option in ("--budget", "--within-days", "--rate", "--tax", "--harm", "--loss", "--holds", "--patience")
        for bad in ("nan", "inf", "-1", "1,234", "1e400", "")
    ],
)
def test_a_bare_number_that_is_none_is_refused(demo_database, words):
    found = run(str(demo_database.engine.url), "plan", "car-a", "--power", "300 kW", f"{words[0]}={words[1]}")
    assert found.exit_code == 2
    assert f"'{words[0]}': found {words[1]!r}; expected is a number from 0 to" in found.stderr
    assert found.stdout == ""


@pytest.mark.parametrize(("text", "number"), [("7500", 7500.0), ("7500,5", 7500.5), ("7500.50", 7500.5), ("0", 0.0)])
def test_a_bare_number_with_either_decimal_sign(text, number):
    assert Amount().convert(text, None, None) == number


def test_stages_beside_options_are_refused(demo_database):
    found = run(str(demo_database.engine.url), "plan", "car-a", "--stages", "260 kW, 305 kW", "--options")
    assert found.exit_code == 2
    assert "--stages goes without --options" in found.stderr


@pytest.mark.parametrize("address", ["", " ", "folder", "mysql://host/shop", "shop.txt"])
def test_an_address_that_is_none_is_a_matter_of_usage(address):
    found = run(address, "cars")
    assert found.exit_code == 2
    assert "names no database" in found.stderr or "no database address" in found.stderr
    assert found.stdout == ""


def test_a_compression_ratio_of_40_is_a_defect_with_its_row(folder, tmp_path):
    book = load_workbook(folder / "platform.xlsx")
    row = next(r for r in book["Platform"].iter_rows() if r[0].value == "compression ratio")
    row[1].value = 40
    book.save(folder / "platform.xlsx")
    found = run(f"sqlite:///{tmp_path}/shop.sqlite", "load", str(folder), "--json")
    assert found.exit_code == 4
    told = [d for d in json.loads(found.stdout)["problems"] if d["file"] == "platform.xlsx"]
    assert [(d["sheet"], d["row"]) for d in told] == [("Platform", row[0].row)]
    assert "40" in told[0]["found"]
    assert "16" in told[0]["expected"]
    asked = run(f"sqlite:///{tmp_path}/shop.sqlite", "check", "car-a", "--power", "300 kW")
    assert asked.exit_code in (1, 2)
    assert "Traceback" not in asked.output
    assert len(asked.stderr.strip().splitlines()) == 1


def test_crossing_speed_lines_are_a_defect_and_the_part_keeps_its_envelope(folder, tmp_path):
    with (folder / "map.csv").open("w", encoding="utf-8", newline="") as file:
        csv.writer(file, delimiter=";").writerows(CROSSING)
    url = f"sqlite:///{tmp_path}/shop.sqlite"
    found = run(url, "load", str(folder), "--json")
    assert found.exit_code == 4
    told = [d for d in json.loads(found.stdout)["problems"] if d["file"] == "map.csv"]
    assert any("cross" in json.dumps(d) and "120000" in json.dumps(d) for d in told)
    checked = run(url, "check", "car-a", "--power", "240 kW", "--boost", "1.5 bar", "--json")
    limits = json.loads(checked.stdout)["limits"]
    assert any(row["slot"] == "compressor" and row["ceiling_kW"] for row in limits)
