"""The study command: from a sheet to a table, through a kill, with the same bytes."""

import csv
import json
import os
import signal
import subprocess
import sys
import time

import pytest
from click.testing import CliRunner

from graph.store import open_database
from ingest.book import store_book
from ui.cli import main

LISTS = """
cars = ["car-a"]
power = { from = "250 kW", to = "265 kW", step = "5 kW" }
boost = ["1.9 bar", "2.1 bar"]
fuel = ["ron98"]
chunk = 2

[choose]
turbine = ["own", "PY-3110"]

[[day]]
name = "hot"
ambient = "35 °C"
"""


@pytest.fixture(scope="module")
def url(demo_book, tmp_path_factory):
    url = f"sqlite:///{tmp_path_factory.mktemp('study')}/shop.sqlite"
    store_book(open_database(url), demo_book, who="tests", version="0")
    return url


def run(url, *words):
    return CliRunner().invoke(main, ["--db", url, "study", *map(str, words)])


@pytest.fixture(scope="module")
def whole(url, tmp_path_factory):
    """A study run to its end in one go, and its table's bytes."""
    folder = tmp_path_factory.mktemp("whole")
    (folder / "study.toml").write_text(LISTS, encoding="utf-8")
    found = run(url, folder / "study.toml", "--json")
    assert found.exit_code == 0, found.output
    return json.loads(found.stdout), (folder / "study-results.csv").read_bytes(), folder


def table(content):
    return list(csv.DictReader(content.decode().splitlines()))


def test_every_combination_is_one_row(whole):
    """4 powers x 2 boosts x 2 turbines on one car, fuel and day are 16, in the order of the file."""
    document, content, _ = whole
    rows = table(content)
    assert document["schema"] == "pinchpoint.study/1"
    assert document["assessments"] == len(rows) == 16
    assert [r["case"] for r in rows] == [str(n) for n in range(1, 17)]
    assert {r["power_kW"] for r in rows} == {"250.0", "255.0", "260.0", "265.0"}
    assert {r["boost_bar"] for r in rows} == {"1.9", "2.1"}
    assert {(r["build"], r["install"]) for r in rows} == {("own", ""), ("PY-3110", "PY-3110")}
    assert {(r["day"], r["ambient_C"]) for r in rows} == {("hot", "35.0")}
    assert all(float(r["carries_kW"]) > 100.0 and r["weakest_slot"] for r in rows)


def test_a_row_says_what_check_says(whole, url):
    _, content, _ = whole
    row = table(content)[9]
    asked = ["--power", f"{row['power_kW']} kW", "--boost", f"{row['boost_bar']} bar", "--fuel", "ron98"]
    found = CliRunner().invoke(
        main, ["--db", url, "check", "car-a", *asked, "--ambient", "35", "--install", row["install"], "--json"]
    )
    check = json.loads(found.stdout)
    assert float(row["carries_kW"]) == pytest.approx(check["carries_kW"], abs=0.06)
    assert row["weakest_slot"] == check["weakest"]["slot"]
    assert (row["reachable"] == "yes") is (check["reachable"] is True)


def test_killed_half_way_and_resumed_gives_the_same_bytes(whole, url, tmp_path):
    (tmp_path / "study.toml").write_text(LISTS, encoding="utf-8")
    journal = tmp_path / "study-results.csv.part"
    program = "from ui.cli import main; main()"
    database = open_database(url)  # where it is, also for another process
    where = database.engine.url.render_as_string(hide_password=False)
    database.engine.dispose()
    command = [sys.executable, "-c", program, "--db", where, "study", str(tmp_path / "study.toml"), "--workers", "2"]
    running = subprocess.Popen(command, start_new_session=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    end = time.monotonic() + 120.0
    while time.monotonic() < end and not (journal.is_file() and journal.read_bytes().count(b"\n") >= 3):
        time.sleep(0.02)
    os.killpg(running.pid, signal.SIGKILL)
    running.wait()
    assert journal.is_file()
    assert not (tmp_path / "study-results.csv").exists()
    again = run(url, tmp_path / "study.toml", "--json")
    assert json.loads(again.stdout)["resumed"] >= 4
    assert (tmp_path / "study-results.csv").read_bytes() == whole[1]
    assert not journal.exists()


@pytest.mark.parametrize("cut", [1, 40, 4000])
def test_a_line_cut_short_is_assessed_again(whole, url, tmp_path, cut):
    (tmp_path / "study.toml").write_text(LISTS, encoding="utf-8")
    journal = _stopped(url, tmp_path, chunks=3)
    journal.write_bytes(journal.read_bytes()[:-cut])
    again = run(url, tmp_path / "study.toml", "--json")
    assert json.loads(again.stdout)["resumed"] == (4 if cut < 1000 else json.loads(again.stdout)["resumed"])
    assert (tmp_path / "study-results.csv").read_bytes() == whole[1]


def test_a_line_with_another_number_in_it_is_assessed_again(whole, url, tmp_path):
    (tmp_path / "study.toml").write_text(LISTS, encoding="utf-8")
    journal = _stopped(url, tmp_path, chunks=3)
    lines = journal.read_bytes().splitlines(keepends=True)
    lines[2] = lines[2].replace(b'carries\\": 2', b'carries\\": 3', 1)
    journal.write_bytes(b"".join(lines))
    again = run(url, tmp_path / "study.toml", "--json")
    assert json.loads(again.stdout)["resumed"] == 2
    assert (tmp_path / "study-results.csv").read_bytes() == whole[1]


def test_a_journal_of_another_question_is_not_used(whole, url, tmp_path):
    (tmp_path / "study.toml").write_text(LISTS.replace("265 kW", "270 kW"), encoding="utf-8")
    _stopped(url, tmp_path, chunks=2)
    (tmp_path / "study.toml").write_text(LISTS, encoding="utf-8")
    again = run(url, tmp_path / "study.toml", "--json")
    assert json.loads(again.stdout)["resumed"] == 0
    assert (tmp_path / "study-results.csv").read_bytes() == whole[1]


def _stopped(url, folder, chunks):
    """The journal of a run that was stopped after some chunks."""
    from graph.batch import run as batch
    from graph.study import design, fingerprint
    from ingest.study_sheet import read_study
    from ui.cli import version
    from ui.study_result import Journal

    sheet = read_study(folder / "study.toml")
    with open_database(url).read() as view:
        study = design(view, sheet.cases, samples=sheet.samples, chunk=sheet.chunk)
    journal = Journal(folder / "study-results.csv.part", fingerprint(study, version()))
    assert journal.open() == []
    for number, chunk in zip(range(chunks), batch(study), strict=False):
        journal.append(number, chunk)
    return journal.path


def test_a_table_asks_the_same(whole, url, tmp_path):
    rows = [("Car", "Power", "Boost", "Fuel", "Install", "Ambient", "Day", "Build")]
    for build, install in (("own", ""), ("PY-3110", "PY-3110")):
        for boost in ("1.9 bar", "2.1 bar"):
            rows += [("car-a", f"{p} kW", boost, "ron98", install, "35", "hot", build) for p in (250, 255, 260, 265)]
    path = tmp_path / "study.csv"
    path.write_text("\n".join(";".join(row) for row in rows), encoding="utf-8")
    found = run(url, path, "--out", tmp_path / "out.csv")
    assert found.exit_code == 0, found.output
    assert table((tmp_path / "out.csv").read_bytes()) == table(whole[1])


def test_parquet_holds_the_same(whole, url, tmp_path):
    import pyarrow.parquet

    found = run(url, whole[2] / "study.toml", "--out", tmp_path / "out.parquet")
    assert found.exit_code == 0, found.output
    read = pyarrow.parquet.read_table(tmp_path / "out.parquet").to_pylist()
    assert [r["carries_kW"] for r in read] == [float(r["carries_kW"]) for r in table(whole[1])]
    assert [r["weakest_slot"] for r in read] == [r["weakest_slot"] for r in table(whole[1])]


def test_bad_rows_are_named_and_the_good_ones_run(url, tmp_path):
    path = tmp_path / "study.csv"
    path.write_text("car;power;colour\ncar-a;250 kW;red\ncar-a;strong;\n;260 kW;\n", encoding="utf-8")
    found = run(url, path, "--json")
    assert found.exit_code == 4
    for place in ("column 'C'", "row 3, column 'B'", "row 4"):
        assert place in found.stderr
    assert len(table((tmp_path / "study-results.csv").read_bytes())) == 1


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('cars = ["car-a"]', "power: name at least one"),
        ('power = ["300 kW"]', "cars: name at least one"),
        ('cars = ["car-a"]\npower = [300]', "a text with a unit"),
        ('cars = ["car-a"]\npower = ["300"]', "power:"),
        ('cars = ["car-a"]\npower = ["300 kW"]\ncolour = "red"', "no key is called 'colour'"),
        ('cars = ["car-a"]\npower = { from = "300 kW", to = "200 kW", step = "1 kW" }', "no list of values"),
        ('cars = ["car-a"]\npower = { from = "1 kW", to = "900 kW", step = "0.0001 kW" }', "no list of values"),
        ('cars = ["car-a"]\npower = ["300 kW"]\nsamples = "many"', "whole number"),
        ('cars = ["car-a"]\npower = ["300 kW"]\nday = "hot"', "write each as [[day]]"),
        ("cars = [", "no TOML"),
        ("a = " + "[" * 3000, "no TOML"),
    ],
)
def test_a_sheet_that_cannot_be_meant_is_refused_in_a_sentence(url, tmp_path, text, said):
    (tmp_path / "study.toml").write_text(text, encoding="utf-8")
    found = run(url, tmp_path / "study.toml")
    assert found.exit_code == 2
    assert said in found.stderr
    assert not (tmp_path / "study-results.csv").exists()


def test_names_that_begin_like_a_formula_are_texts_in_the_table(url, tmp_path):
    path = tmp_path / "study.csv"
    path.write_text('car;power;build;day\ncar-a;250 kW;"=HYPERLINK(""x"")";@today\n', encoding="utf-8")
    assert run(url, path).exit_code == 0
    row = table((tmp_path / "study-results.csv").read_bytes())[0]
    assert row["build"] == '\'=HYPERLINK("x")'
    assert row["day"] == "'@today"


def test_another_ending_is_refused(url, tmp_path):
    found = run(url, tmp_path / "study.toml", "--out", tmp_path / "out.docx")
    assert found.exit_code == 2
    assert ".csv or .parquet" in found.stderr
