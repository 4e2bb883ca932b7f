"""The command line as scripts use it: exit codes, one document on stdout, messages on stderr.

The demo shop is invented; that the factory turbine is car A's first limit, in a near tie, is how its story was
written. Unit conversions are those of the standards named at each.
"""

from __future__ import annotations

import json
import re
import sqlite3
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from graph.store import Database
from graph.store.schema import head_version
from ui.cli import main

DONE, UNFORESEEN, USAGE, NOT_REACHED, DEFECTS = 0, 1, 2, 3, 4
COMMANDS = ("demo", "load", "cars", "parts", "check", "migrate", "backup")
SEED = Path(__file__).resolve().parents[2] / "seed_parts"
SCRIPT = Path(sys.executable).parent / "pinchpoint"


@pytest.fixture(autouse=True)
def _own_data_folder(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """No test touches the data folder of the person who runs it."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))


@pytest.fixture
def url(demo_database: Database) -> str:
    return demo_database.url


def run(*arguments: str) -> Result:
    result = CliRunner().invoke(main, [str(a) for a in arguments])
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


def document(result: Result) -> dict[str, Any]:
    """The one JSON document that stdout must be."""
    return json.loads(result.stdout)


def assert_one_line_of_complaint(result: Result) -> None:
    assert result.stdout == ""
    assert len(result.stderr.strip().splitlines()) == 1
    assert "Traceback" not in result.stderr


# --- help and version


def test_help_names_every_command_and_every_exit_code() -> None:
    result = run("--help")
    assert result.exit_code == DONE
    for command in COMMANDS:
        assert command in result.stdout
    for said in ("0 done", "1 unforeseen", "2 usage", "3 the target is not reachable", "4 the sheet"):
        assert said in " ".join(result.stdout.split())


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_has_help_and_the_shared_options(command: str) -> None:
    result = run(command, "--help")
    assert result.exit_code == DONE
    assert "--json" in result.stdout
    assert "--db" in result.stdout


def test_version_is_name_number_and_schema() -> None:
    result = run("--version")
    assert result.exit_code == DONE
    name, number, word, schema = result.stdout.split()
    assert name == "pinchpoint"
    assert number[0].isdigit()
    assert (word, schema) == ("schema", head_version())


def test_help_loads_nothing_heavy() -> None:
    heavy = "numpy sqlalchemy networkx rdflib pandas streamlit openpyxl pint"
    code = (
        "import sys\nfrom click.testing import CliRunner\nfrom ui.cli import main\n"
        "assert CliRunner().invoke(main, ['check', '--help']).exit_code == 0\n"
        f"print(sorted(set({heavy.split()!r}) & set(sys.modules)))"
    )
    answer = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True, timeout=60)
    assert answer.stdout.strip() == "[]"


# --- check


@pytest.fixture(scope="module")
def checked(demo_database: Database) -> Result:
    return run("--db", demo_database.url, "--json", "check", "car-a", "--power", "340 kW", "--boost", "2.2 bar")


def test_check_of_an_unreachable_target_answers_and_exits_with_3(checked: Result) -> None:
    assert checked.exit_code == NOT_REACHED
    answer = document(checked)
    assert answer["schema"] == "pinchpoint.check/1"
    assert answer["car"] == "car-a"
    assert answer["reachable"] is not True
    assert answer["target"]["power_kW"] == 340.0
    assert answer["target"]["boost_bar"] == pytest.approx(2.2)


def test_check_tells_the_story_of_car_a(checked: Result) -> None:
    answer = document(checked)
    assert answer["weakest"]["slot"] == "turbine"
    assert answer["weakest"]["part"] == "PY-3011"
    assert "turbine" in answer["tie"]
    assert len(answer["tie"]) > 1


def test_limits_are_in_order_with_those_without_a_ceiling_last(checked: Result) -> None:
    answer = document(checked)
    ceilings = [limit["ceiling_kW"] for limit in answer["limits"]]
    known = [c for c in ceilings if c is not None]
    assert known == sorted(known)
    assert ceilings[: len(known)] == known
    assert answer["weakest"]["ceiling_kW"] == known[0]


def test_carries_is_no_more_than_any_ceiling_here_and_than_makes(checked: Result) -> None:
    answer = document(checked)
    here = [limit["ceiling_here_kW"] for limit in answer["limits"] if limit["ceiling_here_kW"] is not None]
    assert answer["carries_kW"] <= min([*here, answer["makes"]["power_kW"]]) + 0.01


def test_chances_of_being_first_sum_to_one(checked: Result) -> None:
    total = sum(limit["weakest_probability"] for limit in document(checked)["limits"])
    assert total == pytest.approx(1.0, abs=1e-6)


def test_power_on_the_curve_is_torque_times_angular_speed(checked: Result) -> None:
    curve = document(checked)["curve"]
    pairs = [
        (power, torque * speed * 3.14159265 / 30.0 / 1000.0)
        for power, torque, speed in zip(curve["power_kW"], curve["torque_Nm"], curve["speed_rpm"], strict=True)
        if power is not None
    ]
    assert pairs
    for power, expected in pairs:
        assert power == pytest.approx(expected, rel=1e-3)


def test_every_rating_leads_to_a_row_of_a_sheet(checked: Result) -> None:
    sources = [limit["evidence"]["source"] for limit in document(checked)["limits"] if limit["evidence"]["source"]]
    assert sources
    assert [s for s in sources if "row" not in s] == []


def test_json_stands_before_or_after_the_command(url: str) -> None:
    before, after = run("--db", url, "--json", "cars"), run("cars", "--json", "--db", url)
    assert before.exit_code == after.exit_code == DONE
    assert document(before) == document(after)


def test_check_as_text_is_the_ladder(url: str) -> None:
    result = run("--db", url, "check", "car-a", "--power", "340 kW", "--boost", "2.2 bar")
    assert result.exit_code == NOT_REACHED
    assert "turbine" in result.stdout.splitlines()[0]
    assert "\x1b" not in result.stdout
    assert [line for line in result.stdout.splitlines() if len(line) > 120] == []
    assert re.search(r"\b(nan|inf|None)\b", result.stdout) is None


def test_reached_target_exits_with_0(url: str) -> None:
    # Car A left the factory with 225 kW; 150 kW is far below every limit of its story.
    result = run("--db", url, "--json", "check", "car-a", "--power", "150 kW", "--boost", "2.2 bar")
    assert document(result)["reachable"] is True
    assert result.exit_code == DONE


def test_quantities_are_read_in_the_units_of_the_trade(url: str) -> None:
    # 1 PS = 735.49875 W (DIN 66036); 1 psi = 6894.757 Pa (NIST SP 811, appendix B.8)
    result = run("--db", url, "--json", "check", "car-a", "--power", "462 PS", "--boost", "31.9 psi")
    target = document(result)["target"]
    assert target["power_kW"] == pytest.approx(462 * 0.73549875, abs=0.01)
    assert target["boost_bar"] == pytest.approx(31.9 * 0.06894757, abs=1e-3)


def test_altitude_gives_the_pressure_of_the_standard_atmosphere(url: str) -> None:
    # ISO 2533:1975: 84 556 Pa at 1500 m (geopotential)
    result = run(
        "--db", url, "--json", "check", "car-a", "--power", "200 kW", "--altitude", "1500", "--ambient", "30",
        "--fuel", "ron98", "--minutes", "2", "--torque", "400 Nm", "--power-speed", "6000 rpm",
    )  # fmt: skip
    target = document(result)["target"]
    assert target["altitude_m"] == 1500.0
    assert target["pressure_bar_abs"] == pytest.approx(0.84556, abs=2e-4)
    assert (target["ambient_C"], target["minutes"]) == (pytest.approx(30.0), pytest.approx(2.0))
    assert (target["torque_Nm"], target["power_speed_rpm"]) == (pytest.approx(400.0), pytest.approx(6000.0))


def test_installed_part_takes_the_place_of_the_factory_part(url: str) -> None:
    result = run("--db", url, "--json", "check", "car-a", "--power", "300 kW", "--install", "PY-2110, PY-2111")
    parts = {limit["slot"]: limit["part"] for limit in document(result)["limits"]}
    assert (parts["air box"], parts["inlet pipe"]) == ("PY-2110", "PY-2111")


@pytest.mark.parametrize(
    "arguments",
    [
        ("check", "car-z", "--power", "340 kW"),
        ("check", "car-a", "--power", "340"),
        ("check", "car-a", "--power", "much"),
        ("check", "car-a", "--power", "-5 kW"),
        ("check", "car-a", "--power", "9000 kW"),
        ("check", "car-a", "--power", "340 kW", "--boost", "2.2"),
        ("check", "car-a", "--power", "340 kW", "--boost", "9 bar"),
        ("check", "car-a", "--power", "340 kW", "--boost", "2.2 bar abs"),
        ("check", "car-a", "--power", "340 kW", "--pressure", "0.9 bar gauge"),
        ("check", "car-a", "--power", "340 kW", "--fuel", "lamp-oil"),
        ("check", "car-a", "--power", "340 kW", "--install", "PY-0000"),
        ("parts", "--slot", "ashtray"),
        ("load", "no-such-folder"),
    ],
)
def test_what_cannot_be_asked_is_one_line_on_stderr_and_exit_2(url: str, arguments: tuple[str, ...]) -> None:
    result = run("--db", url, *arguments)
    assert result.exit_code == USAGE
    assert_one_line_of_complaint(result)


def test_unknown_car_is_answered_with_the_cars_that_exist(url: str) -> None:
    result = run("--db", url, "check", "car-z", "--power", "340 kW")
    for said in ("car-z", "car-a", "car-b", "car-c"):
        assert said in result.stderr


@pytest.mark.parametrize("arguments", [(), ("no-such-command",), ("check",), ("check", "car-a"), ("load",)])
def test_incomplete_command_is_usage(url: str, arguments: tuple[str, ...]) -> None:
    result = run("--db", url, *arguments)
    assert result.exit_code == USAGE
    assert result.stdout == "" or not arguments


def test_foreseen_fault_that_is_no_usage_is_one_line_and_exit_1(tmp_path: Path) -> None:
    broken = tmp_path / "broken.sqlite"
    broken.write_bytes(b"this is no database at all" * 50)
    result = run("--db", f"sqlite:///{broken}", "cars")
    assert result.exit_code == UNFORESEEN
    assert_one_line_of_complaint(result)


# --- cars and parts


def test_cars_lists_the_three_cars_of_the_demo(url: str) -> None:
    answer = document(run("--db", url, "--json", "cars"))
    assert answer["schema"] == "pinchpoint.cars/1"
    assert [car["id"] for car in answer["cars"]] == ["car-a", "car-b", "car-c"]
    assert all(car["platform"] for car in answer["cars"])
    text = run("--db", url, "cars").stdout
    assert [line.split()[0] for line in text.splitlines()] == ["car-a", "car-b", "car-c"]


def test_cars_of_an_empty_shop_says_what_to_do(tmp_path: Path) -> None:
    result = run("--db", f"sqlite:///{tmp_path / 'new.sqlite'}", "cars")
    assert result.exit_code == DONE
    assert "No car yet" in result.stdout
    assert document(run("--db", f"sqlite:///{tmp_path / 'new.sqlite'}", "--json", "cars"))["cars"] == []


def test_parts_of_one_slot(url: str) -> None:
    answer = document(run("--db", url, "--json", "parts", "--slot", "tank pump"))
    assert answer["schema"] == "pinchpoint.parts/1"
    assert {part["id"] for part in answer["parts"]} == {"PY-1010", "PY-1110", "PY-1111"}


def test_parts_for_one_gearbox_leave_out_the_other(url: str) -> None:
    answer = document(run("--db", url, "--json", "parts", "--fits", "HM6"))
    numbers = {part["id"] for part in answer["parts"]}
    assert "PY-5010" in numbers  # clutch of the manual gearbox
    assert "PY-5011" not in numbers  # packs of the dual-clutch gearbox


# --- load, demo, upkeep


def test_load_counts_every_row(tmp_path: Path) -> None:
    result = run("--db", f"sqlite:///{tmp_path / 's.sqlite'}", "--json", "load", str(SEED))
    answer = document(result)
    assert answer["schema"] == "pinchpoint.load/1"
    for sheet in answer["sheets"]:
        assert sheet["rows"] == sheet["loaded"] + sheet["held"] + sheet["not_data"]
    assert result.exit_code == (DEFECTS if answer["problems"] else DONE)
    assert sorted(answer["cars"]) == ["car-a", "car-b", "car-c"]


def test_load_of_a_sheet_with_a_defect_keeps_the_good_rows_and_exits_with_4(tmp_path: Path) -> None:
    sheet = tmp_path / "air.csv"
    sheet.write_text(
        "No.,Part,Slot,Fits,Rating of,Rating,Unit\n"
        "PY-9001,test air box,air box,HM20-D4,air flow,300,g/s\n"
        "PY-9002,second air box,air box,HM20-D4,air flow,plenty,g/s\n",
        "utf-8",
    )
    url = f"sqlite:///{tmp_path / 's.sqlite'}"
    result = run("--db", url, "load", str(sheet))
    assert result.exit_code == DEFECTS
    assert "row 3" in result.stderr
    assert "plenty" in result.stderr
    kept = document(run("--db", url, "--json", "parts"))["parts"]
    assert "PY-9001" in {part["id"] for part in kept}


@pytest.mark.of_a_file
def test_demo_runs_twice_into_a_fresh_database(tmp_path: Path) -> None:
    first, second = run("demo", "--json"), run("--json", "demo")
    assert first.exit_code == second.exit_code == DONE
    assert document(first) == document(second)
    assert document(first)["car"] == "car-a"
    assert document(first)["target"]["power_kW"] == 340.0
    databases = list((tmp_path / "data").rglob("demo.sqlite"))
    assert len(databases) == 1


def test_installed_script_prints_plain_text_into_a_pipe(tmp_path: Path) -> None:
    answer = subprocess.run([SCRIPT, "demo"], check=False, capture_output=True, timeout=120, cwd=tmp_path)
    assert answer.returncode == DONE, answer.stderr.decode()
    text = answer.stdout.decode("utf-8")
    assert "turbine" in text.splitlines()[0]
    assert "\x1b" not in text
    assert b"Traceback" not in answer.stderr


def test_migrate_makes_the_schema_and_then_has_nothing_to_do(tmp_path: Path) -> None:
    url = f"sqlite:///{tmp_path / 's.sqlite'}"
    first, second = document(run("--db", url, "--json", "migrate")), document(run("--db", url, "--json", "migrate"))
    assert first["before"] is None
    assert first["after"] == second["before"] == second["after"]


def test_backup_is_a_whole_database(url: str, tmp_path: Path) -> None:
    copy = tmp_path / "copy.sqlite"
    assert run("--db", url, "backup", str(copy)).exit_code == DONE
    with sqlite3.connect(copy) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    assert document(run("--db", f"sqlite:///{copy}", "--json", "cars")) == document(run("--db", url, "--json", "cars"))
