"""The account of lost power as text and as a document: it closes as printed, and keeps to the width of a page."""

import json

import pytest
from click.testing import CliRunner

from graph.breakdown import Loss, breakdown
from graph.kinds import discover
from graph.service import Request, assess
from ui.cli import main
from ui.document import breakdown_document
from ui.ladder import breakdown_text


@pytest.fixture(scope="module")
def found(demo_database):
    with demo_database.read() as view:
        report = assess(view, "car-a", Request(power=340e3, boost=2.2e5), suggest=False)
    return breakdown(report.build, report.target, discover())


def test_text_names_every_cause_once_within_the_page(found):
    lines = breakdown_text(found).splitlines()
    assert max(map(len, lines)) <= 120
    for loss in Loss:
        assert sum(line.startswith(f"  {loss.label} ") for line in lines) == 1
    assert any(line.startswith("  interaction") for line in lines)


def test_document_adds_up(found):
    document = breakdown_document(found)
    total = sum(s["alone_kW"] for s in document["shares"]) + document["interaction_kW"] + document["remainder_kW"]
    assert total == pytest.approx(document["shortfall_kW"], abs=0.1)


def test_check_prints_it_only_when_asked(demo_database):
    url = demo_database.url
    asked = ["--db", url, "check", "car-a", "--power", "340 kW", "--boost", "2.2 bar"]
    plain = CliRunner().invoke(main, asked)
    full = CliRunner().invoke(main, [*asked, "--breakdown"])
    document = CliRunner().invoke(main, [*asked, "--breakdown", "--json"])
    assert "Where the power went" not in plain.stdout
    assert "Where the power went" in full.stdout
    assert full.exit_code == plain.exit_code == 3
    assert len(json.loads(document.stdout)["breakdown"]["shares"]) == len(Loss)
