"""Which missing number matters most to a plan, through the command: the totals of three plans, added up by hand.

A car whose air box is only claimed. Air box PY-2110: 265 net and 1.0 h; calibration PY-8010: 480 net and 5.0 h; 95 an
hour, 20 % tax: 1146.00 for the calibration alone, 1578.00 with the air box.
"""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from click.testing import CliRunner

from graph.model import Belief, Installed
from graph.store import open_database
from ingest.book import store_book
from ui.cli import main

NOMINAL = ("--boost", "2.2 bar", "--fuel", "ron98", "--harm", "100", "--loss", "100", "--holds", "0")
CALIBRATED = 1.2 * (480.0 + 5.0 * 95.0)
WITH_BOX = 1.2 * (480.0 + 265.0 + 6.0 * 95.0)


@pytest.fixture(scope="module")
def url(demo_book, tmp_path_factory):
    wanted = {"PY-2110", "PY-8010"}
    parts = [p for p in demo_book.parts if p.factory or p.kind == "fuel_grade" or p.id in wanted]
    car = next(c for c in demo_book.cars if c.id == "car-a")
    claim = Installed(slot="air box", part=None, belief=Belief.CLAIMED, claim="open box")
    car = replace(car, installed=(*(i for i in car.installed if i.slot != "air box"), claim))
    url = f"sqlite:///{tmp_path_factory.mktemp('missing')}/shop.sqlite"
    store_book(open_database(url), replace(demo_book, parts=parts, cars=[car]), who="tests", version="0")
    return url


@pytest.mark.parametrize(
    ("power", "bad"),
    [
        # the factory's box carries 240 kW: whatever is found, looking saves the new one
        ("240 kW", CALIBRATED),
        # and it does not carry 247 kW: only the good answer saves it
        ("247 kW", WITH_BOX),
    ],
)
def test_unknown_place_costs_what_three_plans_say(url, power, bad):
    found = CliRunner().invoke(main, ["--db", url, "plan", "car-a", "--power", power, *NOMINAL, "--json"])
    assert found.exit_code == 0, found.output
    plan = json.loads(found.stdout)
    assert plan["cost"]["total"] == pytest.approx(WITH_BOX, abs=0.01)
    (row,) = plan["missing"]
    assert row["slot"] == "air box"
    assert "open box" in row["what"]
    assert row["good_means"] == "as good as PY-2110"
    totals = [row["total"], row["total_if_good"], row["total_if_bad"]]
    assert totals == [pytest.approx(t, abs=0.01) for t in (WITH_BOX, CALIBRATED, bad)]
    assert row["worth"] == pytest.approx(WITH_BOX - CALIBRATED, abs=0.01)


def test_text_names_it_with_its_totals(url):
    found = CliRunner().invoke(main, ["--db", url, "plan", "car-a", "--power", "247 kW", *NOMINAL])
    line = next(line for line in found.stdout.splitlines() if line.startswith("  air box (claimed, not seen: open box"))
    for said in ("1 146 if as good as PY-2110", "1 578 if not", "1 578 as long as nobody knows", "worth 432"):
        assert said.replace(" ", " ") in line.replace("\u202f", " ")
