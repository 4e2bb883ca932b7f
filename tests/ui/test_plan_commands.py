"""Plans through the command line: the document's fixed names, the exit codes, the sentences."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner

from graph.store import open_database
from ingest.book import store_book
from ui.cli import main
from ui.plan_commands import register

if "plan" not in main.commands:
    register(main)


@pytest.fixture(scope="module")
def url(demo_book, tmp_path_factory):
    url = f"sqlite:///{tmp_path_factory.mktemp('plan')}/shop.sqlite"
    store_book(open_database(url), demo_book, who="tests", version="0")
    return url


def run(url, *words):
    return CliRunner().invoke(main, ["--db", url, *words])


@pytest.fixture(scope="module")
def planned(url):
    return run(url, "plan", "car-a", "--power", "250 kW", "--boost", "2.2 bar", "--fuel", "ron98", "--json")


def test_document_has_the_fixed_names(planned):
    assert planned.exit_code == 0, planned.output
    plan = json.loads(planned.stdout)
    assert plan["schema"] == "pinchpoint.plan/1"
    assert set(plan["cost"]) == {"parts", "labour_h", "labour", "net", "tax", "total", "currency"}
    assert plan["proven"] is True
    assert plan["gap"] == 0.0
    assert plan["lower_bound"] == pytest.approx(plan["cost"]["total"], abs=0.01)
    for step in plan["steps"]:
        assert {"slot", "install", "remove", "price", "labour_h", "why", "skip_ceiling_kW"} <= set(step)
        assert {reason["kind"] for reason in step["why"]} <= {"limit", "requires", "interface", "excludes"}
    assert plan["before"]["schema"] == plan["after"]["schema"] == "pinchpoint.check/1"
    assert plan["after"]["carries_kW"] >= 250.0


def test_money_adds_up_at_the_shop_s_terms(planned):
    """95 an hour and 20 % are the demo shop's terms."""
    cost = json.loads(planned.stdout)["cost"]
    assert cost["labour"] == pytest.approx(95.0 * cost["labour_h"], abs=0.01)
    assert cost["tax"] == pytest.approx(0.20 * cost["net"], abs=0.01)
    assert cost["total"] == pytest.approx(1.20 * (cost["parts"] + cost["labour"]), abs=0.01)


def test_target_out_of_reach_ends_with_3_and_a_conflict(url):
    found = run(url, "plan", "car-a", "--power", "340 kW", "--boost", "2.2 bar", "--fuel", "ron98", "--json")
    assert found.exit_code == 3
    plan = json.loads(found.stdout)
    assert plan["reachable"] is False
    assert plan["conflict"]
    assert plan["steps"] == []


def test_text_names_the_answer_first(url):
    found = run(
        url,
        "plan",
        "car-a",
        "--power",
        "225 kW",
        "--boost",
        "1.25 bar",
        "--holds",
        "0",
        "--harm",
        "100",
        "--loss",
        "100",
    )
    assert found.exit_code == 0, found.output
    assert found.output.splitlines()[0].startswith("225 kW within 1.2")


def test_budget_too_small_says_what_it_buys(url):
    words = ("--boost", "2.2 bar", "--fuel", "ron98", "--harm", "100", "--loss", "100", "--holds", "0")
    found = run(url, "plan", "car-a", "--power", "240 kW", "--budget", "1000", *words, "--json")
    assert found.exit_code == 3, found.output
    plan = json.loads(found.stdout)
    assert plan["instead"]["reachable"] is True
    assert plan["instead"]["cost"]["total"] <= 1000.0
    assert plan["instead"]["target"]["power_kW"] < 240.0


def test_two_stages_are_never_below_the_direct_way(url):
    words = ("--boost", "2.2 bar", "--fuel", "ron98", "--harm", "100", "--loss", "100", "--holds", "0", "--json")
    found = run(url, "plan", "car-a", "--stages", "235 kW, 255 kW", *words)
    assert found.exit_code == 0, found.output
    path = json.loads(found.stdout)
    assert path["path_total"] >= path["direct_total"] - 0.01
    assert path["regret"] >= 0.0
    assert [s["target"]["power_kW"] for s in path["stages"]] == [235.0, 255.0]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--power", "300 kW", "--keep", "sunroof"), "sunroof"),
        (("--power", "300 kW", "--forbid", "Z-1"), "Z-1"),
        (("--stages", "300 kW"), "two or more powers"),
        (("--stages", "300 kW, 280 kW"), "more power"),
        (("--boost", "2.2 bar"), "--power"),
        (("--power", "5 kW"), "power"),
    ],
)
def test_question_that_cannot_be_asked_ends_with_2_and_one_line(words, said, url):
    found = run(url, "plan", "car-a", *words)
    assert found.exit_code == 2
    assert said in found.output


def test_frontier_rises_in_power_and_in_money(url):
    words = ("--boost", "2.2 bar", "--fuel", "ron98", "--harm", "100", "--loss", "100", "--holds", "0")
    found = run(url, "frontier", "car-a", "--step", "50 kW", *words, "--json")
    assert found.exit_code == 0, found.output
    points = json.loads(found.stdout)["points"]
    assert len(points) >= 2
    powers, totals = [p["power_kW"] for p in points], [p["total"] for p in points]
    assert powers == sorted(powers)
    assert totals == sorted(totals)
    assert all(p["carries_kW"] >= p["power_kW"] - 1e-3 for p in points)
    assert json.loads(found.stdout)["schema"] == "pinchpoint.frontier/1"


NOMINAL = ("--fuel", "ron98", "--harm", "100", "--loss", "100", "--holds", "0")


def test_time_that_runs_out_proves_nothing(url):
    found = run(url, "plan", "car-a", "--power", "250 kW", "--boost", "2.2 bar", *NOMINAL, "--patience", "0", "--json")
    plan = json.loads(found.stdout)
    assert plan["proven"] is False
    assert found.exit_code == (0 if plan["reachable"] else 3)
    if plan["reachable"]:
        assert plan["gap"] > 0.0
    else:
        assert "time" in plan["conflict"][0]["text"]


def test_fewest_parts_are_never_more_and_never_cheaper(url):
    words = ("plan", "car-a", "--power", "255 kW", "--boost", "2.2 bar", *NOMINAL, "--json")
    cheap, few = (json.loads(run(url, *words, *more).stdout) for more in ((), ("--fewest",)))
    assert len(few["steps"]) <= len(cheap["steps"])
    assert few["cost"]["total"] >= cheap["cost"]["total"] - 0.01
    prices = sum(step["price"] for step in few["steps"])
    assert few["cost"]["parts"] == pytest.approx(prices, abs=0.01)


def test_bad_day_is_the_day_in_the_answer(url):
    """35 °C, 600 m and one octane number less, as the help says."""
    words = ("plan", "car-a", "--power", "215 kW", "--boost", "2.2 bar", *NOMINAL, "--bad-day", "--json")
    target = json.loads(run(url, *words).stdout)["target"]
    assert target["ambient_C"] == pytest.approx(35.0)
    assert target["altitude_m"] == pytest.approx(600.0)
    assert target["fuel"] == "ron98 less 1"


def test_wait_is_that_of_the_slowest_part_not_on_the_shelf(url):
    found = run(url, "plan", "car-a", "--power", "255 kW", "--boost", "2.2 bar", *NOMINAL, "--json")
    plan = json.loads(found.stdout)
    ordered = [s["lead_days"] for s in plan["steps"] if not s["stock"] and s["lead_days"]]
    assert plan["wait_days"] == pytest.approx(max(ordered, default=0.0), abs=0.05)


def test_only_parts_there_in_time_are_bought(url):
    words = ("plan", "car-a", "--power", "240 kW", "--boost", "2.2 bar", *NOMINAL, "--within-days", "6", "--json")
    plan = json.loads(run(url, *words).stdout)
    assert all(s["stock"] or s["lead_days"] <= 6.0 or s["price"] == 0.0 for s in plan["steps"])


@pytest.mark.parametrize(("fuel", "said"), [((), "on any fuel of the book"), (("--fuel", "ron98"), "on ron98")])
def test_a_target_that_nothing_reaches_names_the_fuels_that_were_tried(url, fuel, said):
    result = run(url, "plan", "car-a", "--power", "450 kW", "--boost", "2.2 bar", *fuel)
    assert result.exit_code == 3
    assert result.stdout.splitlines()[0] == f"No plan for 450 kW within 2.2 bar boost {said}."
