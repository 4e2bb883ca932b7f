"""The commands for an arrived car and its logs: documents of the contract, exit codes, questions that can be answered."""

from __future__ import annotations

import json
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from graph.store import open_database
from ingest.book import store_book
from ui import arrival_commands
from ui.cli import main

LOGS = Path(__file__).resolve().parents[2] / "seed_parts" / "logs"


@pytest.fixture(scope="module")
def program() -> click.Group:
    if "arrive" not in main.commands:
        arrival_commands.register(main)
    return main


@pytest.fixture(scope="module")
def url(demo_book, tmp_path_factory) -> str:
    """A demo shop of its own: a pull that is judged is kept."""
    address = f"sqlite:///{tmp_path_factory.mktemp('arrival')}/shop.sqlite"
    database = open_database(address)
    store_book(database, demo_book, who="tests", version="0")
    database.engine.dispose()
    return address


@pytest.fixture
def run(program: click.Group, url: str):
    def call(*words: str):
        return CliRunner().invoke(program, ["--db", url, *words])

    return call


def test_arrive_document(run) -> None:
    answer = run("arrive", "car-b", "--json", "--symptom", "1,5,fuel smell,long hot crank,misfire")
    assert answer.exit_code == 0, answer.output
    found = json.loads(answer.stdout)
    assert found["schema"] == "pinchpoint.arrive/1"
    low, high = found["range_kW"]
    assert 100.0 < low < high < 400.0
    assert found["suspects"][0]["fault"] == "hp-pump-misfitted"
    assert set(found["suspects"][0]) >= {"fault", "probability", "for", "against"}
    assert set(found["inspections"][0]) >= {"what", "minutes", "value", "why"}
    assert sum(i["minutes"] for i in found["inspections"]) <= 60
    assert found["roller_gate"]["go"] is False
    assert "fuel in the oil" in found["roller_gate"]["blocked_by"][0]
    assert len(found["roller_gate"]["stop_criteria"]) >= 5
    beliefs = {s["slot"]: s["belief"] for s in found["slots"]}
    assert beliefs["rods"] == beliefs["high-pressure pump"] == "claimed"
    assert beliefs["compressor"] == "seen"


def test_arrive_with_the_signs_of_a_log(run) -> None:
    answer = run("arrive", "car-b", "--json", "--symptom", "fuel smell", "--log", str(LOGS / "d1.csv"))
    assert answer.exit_code == 0, answer.output
    assert json.loads(answer.stdout)["suspects"][0]["fault"] == "hp-pump-misfitted"


def test_arrive_as_text_and_its_mistakes(run) -> None:
    text = run("arrive", "car-b", "--symptom", "fuel smell", "--minutes", "20").stdout
    assert text.startswith("car-b: NOT on the rollers yet")
    assert "Stop the run at" in text
    for words in (
        ("arrive", "nobody"),
        ("arrive", "car-b", "--symptom", "green paint"),
        ("arrive", "car-b", "--checked", "x"),
    ):
        answer = run(*words)
        assert answer.exit_code == 2
        assert answer.stderr.startswith("pinchpoint: ")


def test_pull_document(run) -> None:
    answer = run("pull", "car-b", str(LOGS / "d1.csv"), "--json")
    assert answer.exit_code == 0, answer.output
    found = json.loads(answer.stdout)
    assert found["schema"] == "pinchpoint.pull/1"
    assert found["fuel_side"]["cause"] == "high-pressure side"
    assert any("tank-pump side" in text for text in found["fuel_side"]["ruled_out"])
    assert set(found["events"][0]) >= {"kind", "at_rpm", "confidence", "evidence"}
    assert set(found["not_observable"][0]) == {"what", "why"}
    assert found["measured"]["basis"] == "crank"
    power = found["measured"]["power_kW"]
    assert power["low"] < power["value"] < power["high"]
    assert found["limits_updated"]
    assert found["calibration"]["air_ratio"] == pytest.approx(1.0, abs=0.15)


def test_pull_of_a_session(run) -> None:
    answer = run("pull", "car-c", str(LOGS / "d2.csv"), "--json")
    assert answer.exit_code == 0, answer.output
    found = json.loads(answer.stdout)
    assert [(s["cause"], s["power_kW"]) for s in found["shares"]] == [
        ("pump controller, heat", 26.0),
        ("charge and oil heat", 14.0),
    ]


def test_pull_with_a_question_gives_exit_code_4_until_it_is_answered(run, tmp_path: Path) -> None:
    text = (LOGS / "d1.csv").read_bytes().decode("cp1252").replace("bar rel", "bar")
    log = tmp_path / "log.csv"
    log.write_text(text, encoding="utf-8")
    asked = run("pull", "car-b", str(log))
    assert asked.exit_code == 4
    assert "boost=gauge" in asked.stderr
    assert run("pull", "car-b", str(log), "--answer", "boost=gauge").exit_code == 0
    assert run("pull", "car-b", str(log), "--answer", "boost=perhaps").exit_code == 2
    assert run("pull", "car-b", str(tmp_path / "nothing.csv")).exit_code in (1, 2)
