"""Commands that keep what was seen of a car, and what a pull leaves behind: on a database of their own."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from graph.store import open_database
from ingest.book import store_book
from ui.cli import main

LOGS = Path(__file__).resolve().parents[2] / "seed_parts" / "logs"
JPEG = b"\xff\xd8\xff\xe0" + b"picture of a rod"


@pytest.fixture
def run(tmp_path: Path, demo_book):
    url = f"sqlite:///{tmp_path}/shop.sqlite"
    database = open_database(url)
    store_book(database, demo_book, who="tests", version="0")
    database.engine.dispose()

    def call(*words: str):
        return CliRunner().invoke(main, ["--db", url, *words])

    return call


def answer(found) -> dict:
    assert found.exit_code == 0, found.output
    return json.loads(found.stdout)


def test_look_keeps_belief_condition_and_photograph(run, tmp_path: Path) -> None:
    picture = tmp_path / "IMG 1.jpg"
    picture.write_bytes(JPEG)
    words = ("look", "car-b", "Rods", "--belief", "label read", "--part", "factory", "--condition", "no marks")
    found = answer(run(*words, "--photo", str(picture), "--by", "Tec", "--json"))["looks"][0]
    assert (found["slot"], found["part"], found["by"]) == ("rods", "PY-4013", "Tec")
    photo = found["photos"][0]
    assert photo["sha256"] == hashlib.sha256(JPEG).hexdigest()
    assert Path(photo["path"]).read_bytes() == JPEG
    assert Path(photo["path"]).parent == tmp_path / "photographs"
    picture.unlink()  # the copy is the shop's own
    places = {s["slot"]: s for s in answer(run("arrive", "car-b", "--json"))["slots"]}
    assert (places["rods"]["belief"], places["rods"]["condition"]) == ("label read", "no marks")
    assert places["rods"]["photos"] == [photo]


def test_told_seen_and_measured_stand_apart(run) -> None:
    measured = ("--belief", "measured", "--part", "PY-4010", "--instrument", "feeler gauge")
    assert run("look", "car-b", "plugs", *measured).exit_code == 0
    found = answer(run("arrive", "car-b", "--json"))
    assert "plugs" in found["measured"]
    assert {"rods", "pistons", "tank pump"} <= set(found["told"])
    assert "compressor" in found["seen"]
    assert "brakes" in found["not_looked_at"]
    together = [*found["told"], *found["seen"], *found["measured"], *found["not_looked_at"]]
    assert sorted(together) == sorted(s["slot"] for s in found["slots"])
    text = run("arrive", "car-b").stdout
    for title in ("Told, not seen", "Seen", "Measured", "Was it fitted right?", "Not noted yet"):
        assert title in text
    assert "A suspected injection is an emergency" in text  # the caution stands with the check


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("look", "car-b", "rods", "--belief", "measured", "--part", "PY-4013"), "name the instrument"),
        (("look", "car-b", "rods", "--belief", "seen", "--part", "PY-1115"), "no part for the place rods"),
        (("look", "car-b", "rods", "--belief", "seen", "--part", "PY-0000"), "no part is called"),
        (("look", "car-b", "spoiler", "--belief", "seen"), "no slot is called"),
        (("look", "nobody", "rods", "--belief", "seen"), "no car is called"),
        (("look", "car-b", "rods", "--belief", "seen", "--photo", "nothing.jpg"), "no such photograph"),
        (("change", "car-b", "rods", "--finding", "x", "--price", "much"), "--price"),
        (("change", "car-b", "rods", "--finding", "x", "--fault", "rust"), "no fault is called"),
        (("arrive", "car-b", "--fact", "codes=none"), "--record"),
        (("arrive", "car-b", "--fact", "codes", "--record"), "KEY=TEXT"),
        (("identify", "turbo"), "nothing is known"),
        (("identify", "turbo", "--port", "inlet"), "NAME=TYPE"),
        (("pull", "car-b", str(LOGS / "d1.csv"), "--repeat", str(LOGS / "d1.csv")), "--before"),
        (("pull", "car-b", str(LOGS / "d1.csv"), "--before", str(LOGS / "d2.csv")), "single pulls"),
    ],
)
def test_mistakes_are_named_and_keep_nothing(run, words: tuple[str, ...], said: str) -> None:
    found = run(*words)
    assert found.exit_code in (1, 2)
    assert found.stderr.startswith("pinchpoint: ")
    assert said in found.stderr
    assert answer(run("arrive", "car-b", "--json"))["plan_changes"] == []


def test_a_text_file_is_no_photograph(run, tmp_path: Path) -> None:
    (tmp_path / "note.jpg").write_text("no picture")
    found = run("look", "car-b", "rods", "--belief", "seen", "--photo", str(tmp_path / "note.jpg"))
    assert found.exit_code != 0
    assert "it is no photograph" in found.stderr


def test_facts_are_kept_on_request(run) -> None:
    said = ("--symptom", "fuel smell", "--done", "dipstick", "--minutes", "40", "--fact", "codes=P-code stored")
    answer(run("arrive", "car-b", *said, "--record", "--by", "Adv", "--json"))
    found = answer(run("arrive", "car-b", "--json"))
    assert found["noted"]["present"] == ["oil-level-up"]
    assert found["noted"]["agreed_minutes"] == 40
    assert found["facts"]["codes"]["text"] == "P-code stored"
    assert sum(i["minutes"] for i in found["inspections"]) <= 40
    assert "codes" in run("arrive", "car-b", "--facts").stdout


def test_changes_of_the_plan_are_summed(run) -> None:
    run(
        "change",
        "car-b",
        "hp pump",
        "--finding",
        "seal torn",
        "--price",
        "180",
        "--agreed",
        "--fault",
        "hp-pump-misfitted",
    )
    found = answer(run("change", "car-b", "plugs", "--finding", "gap 0.95 mm", "--price", "64,50", "--json"))
    assert [c["slot"] for c in found["changes"]] == ["high-pressure pump", "plugs"]
    assert (found["net_agreed"], found["net_open"]) == (180.0, 64.5)
    assert "NOT agreed yet" in run("change", "car-b", "coils", "--finding", "boot dry").stdout


def test_candidates_for_a_half_covered_tag(run) -> None:
    found = answer(run("identify", "turbo", "--label", "T-3?2", "--car", "car-b", "--json"))
    assert found["candidates"][0]["part"] == "PY-2113"
    assert 0.0 < found["unlisted_probability"] < 0.5
    assert "tell it by" in run("identify", "turbo", "--port", "compressor inlet=76 mm").stdout


def test_a_pull_is_kept_once_and_named_by_a_later_check(run) -> None:
    log = str(LOGS / "d1.csv")
    assert answer(run("pull", "car-b", log, "--no-keep", "--json"))["kept"] is False
    first = answer(run("pull", "car-b", log, "--json"))
    assert first["kept"] is True
    clutch = next(u for u in first["limits_updated"] if u["slot"] == "clutch")
    assert clutch["rating"]["stated"] == pytest.approx(430.0)
    assert clutch["rating"]["low"] < clutch["rating"]["now"] < clutch["rating"]["high"]
    again = answer(run("pull", "car-b", log, "--json"))
    assert again["kept"] is False
    assert again["limits_updated"] == first["limits_updated"]
    checked = json.loads(run("check", "car-b", "--power", "280 kW", "--json").stdout)
    row = next(r for r in checked["limits"] if r["slot"] == "clutch")
    assert row["evidence"]["kind"] == "own log"
    assert "d1.csv" in row["evidence"]["source"]
    sheet = json.loads(run("parts", "--slot", "clutch", "--json").stdout)
    assert "d1.csv" not in json.dumps(sheet)  # the sheet's own evidence stands


def test_before_and_after_of_the_same_log(run) -> None:
    found = answer(run("pull", "car-b", str(LOGS / "d1.csv"), "--before", str(LOGS / "d1.csv"), "--json"))["compared"]
    assert found["gain_kW"] == 0.0
    assert found["told_apart"] is False
    assert "is not a gain" in found["sentence"]
