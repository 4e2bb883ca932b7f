"""A shop's day through the command line: load, defect, check, exit codes, and what the README shows."""

import json
import shutil
from pathlib import Path

import openpyxl
import pytest
from click.testing import CliRunner

from ui.cli import main

ROOT = Path(__file__).resolve().parents[2]
SEED = ROOT / "seed_parts"


def run(*words):
    return CliRunner().invoke(main, [str(w) for w in words])


@pytest.fixture
def database(tmp_path):
    return f"sqlite:///{tmp_path}/shop.sqlite"


@pytest.fixture
def sheets(tmp_path):
    return shutil.copytree(SEED, tmp_path / "sheets")


def check(database, *more):
    result = run("--db", database, "check", "car-a", "--power", "340 kW", "--boost", "2.2 bar", "--json", *more)
    return result.exit_code, json.loads(result.stdout)


def test_load_then_check(database):
    loaded = run("--db", database, "load", SEED, "--json")
    assert loaded.exit_code == 0, loaded.output
    document = json.loads(loaded.stdout)
    assert document["problems"] == []
    assert all(s["rows"] == s["loaded"] + s["held"] + s["not_data"] for s in document["sheets"])
    code, answer = check(database)
    assert code == 3
    assert answer["weakest"]["part"] == "PY-3011"
    assert 4 <= len(answer["tie"]) <= 8
    assert answer["reachable"] is False


def test_unit_deleted_from_one_rating(database, sheets):
    book = openpyxl.load_workbook(sheets / "parts.xlsx")
    sheet = book["Air"]
    row = next(r for r in sheet.iter_rows(min_row=2) if r[0].value == "PY-2018")
    assert row[6].value == "bar abs"
    row[6].value = None
    book.save(sheets / "parts.xlsx")
    loaded = run("--db", database, "load", sheets)
    assert loaded.exit_code == 4
    place = f"parts.xlsx, sheet 'Air', row {row[0].row}, column 'G'"
    assert [line for line in loaded.stderr.splitlines() if line.startswith(place)]
    assert len([line for line in loaded.stderr.splitlines() if line.strip()]) == 1
    _, answer = check(database)
    assert "pressure sensor" in [u["slot"] for u in answer["unknown"]]
    sensor = [limit for limit in answer["limits"] if limit["slot"] == "pressure sensor"]
    assert all(limit["verdict"] == "unknown" for limit in sensor)
    assert answer["weakest"]["part"] == "PY-3011"


def test_annotated_copy_marks_the_cell(database, sheets, tmp_path):
    book = openpyxl.load_workbook(sheets / "parts.xlsx")
    book["Air"]["G2"] = None
    book.save(sheets / "parts.xlsx")
    out = tmp_path / "annotated.xlsx"
    assert run("--db", database, "load", sheets, "--report", out).exit_code == 4
    marked = openpyxl.load_workbook(out)
    assert any(cell.comment for sheet in marked for row in sheet.iter_rows() for cell in row)


def test_usage_errors_say_what_to_do(database):
    run("--db", database, "load", SEED)
    for words in (
        ("check", "car-a", "--power", "340"),
        ("check", "car-a", "--power", "340 kW", "--boost", "9 bar"),
        ("check", "car-z", "--power", "340 kW"),
        ("check", "car-a", "--power", "340 kW at the wheels"),
        ("check", "car-a", "--power", "340 kW", "--fuel", "rocket"),
        ("load", "no-such-file.xlsx"),
    ):
        result = run("--db", database, *words)
        assert result.exit_code == 2, (words, result.output)
        assert len(result.stderr.strip().splitlines()) == 1
        assert "Traceback" not in result.output


def test_readme_example_is_what_the_demo_prints(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    printed = run("demo").stdout
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    example = readme.split("<!-- example")[1].split("```\n")[1]
    assert printed.startswith(example.rstrip("\n"))


def test_every_command_is_in_the_readme():
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    for name, command in main.commands.items():
        assert command.help
        assert f"pinchpoint {name}" in readme, name
