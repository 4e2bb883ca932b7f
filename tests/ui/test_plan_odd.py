"""Odd books and odd wishes through the command: a sentence and the exit code of the contract, never a traceback.

Exit codes by the contract: 0 done, 2 usage, 3 not reachable. The books are small ones of a factory car and a few parts.
"""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from click.testing import CliRunner

from graph.model import Part, Relation, RelationKind
from graph.store import open_database
from ingest.book import store_book
from ui.cli import main

NOMINAL = ("--boost", "2.2 bar", "--fuel", "ron98", "--harm", "100", "--loss", "100", "--holds", "0")

#: A row of the demo sheets, from which the parts of these tests are said to come.
SOURCE = "parts.xlsx, sheet 'Drive', row 6, column 'No.' (A)"


@pytest.fixture
def opened(demo_book, tmp_path):
    """A shop that sells some parts beside what the car left the factory with."""

    def shop(*more, bare=False):
        parts = [] if bare else [p for p in demo_book.parts if p.factory or p.kind == "fuel_grade"]
        url = f"sqlite:///{tmp_path}/shop.sqlite"
        book = replace(demo_book, parts=[*parts, *more], cars=[] if bare else demo_book.cars)
        store_book(open_database(url), book, who="tests", version="0")
        return url

    return shop


def run(url, *words):
    return CliRunner().invoke(main, ["--db", url, "plan", "car-a", *words])


def document(result):
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return json.loads(result.stdout)


def part(number, kind, *requires):
    relations = tuple(Relation(kind=RelationKind.REQUIRES, part=r, text=f"requires {r}") for r in requires)
    return Part(
        id=number, kind=kind, name=number, fits=("HM20-D4",), price=10.0, labour=0.0, relations=relations, source=SOURCE
    )


def test_empty_book_names_what_is_missing(opened):
    result = run(opened(bare=True), "--power", "300 kW", *NOMINAL)
    assert result.exit_code == 2
    assert "car-a" in result.output
    assert "Traceback" not in result.output


def test_book_that_sells_nothing_has_no_plan_above_what_the_car_carries(opened):
    result = run(opened(), "--power", "300 kW", *NOMINAL, "--json")
    plan = document(result)
    assert result.exit_code == 3
    assert plan["proven"] is True
    assert plan["cost"] is None
    assert plan["conflict"]


def test_book_that_sells_nothing_leaves_a_car_that_does_it_alone(opened):
    result = run(opened(), "--power", "240 kW", *NOMINAL)
    assert result.exit_code == 0, result.output
    assert result.stdout.splitlines()[0].endswith("the car does it as it stands.")


def test_time_that_runs_out_is_no_proof_and_says_so(opened):
    url = opened(part("T-1", "inlet_pipe"))
    plan = document(run(url, "--power", "300 kW", *NOMINAL, "--patience", "0", "--json"))
    assert (plan["reachable"], plan["proven"]) == (False, False)
    result = run(url, "--power", "300 kW", *NOMINAL, "--patience", "0")
    assert result.exit_code == 3
    assert result.stdout.startswith("No answer yet for 300 kW")
    assert "Why there is no answer:" in result.stdout
    assert "stands against it" not in result.stdout


def test_slot_to_keep_whose_part_is_forbidden_contradicts_itself(opened, demo_book):
    """Two wishes, each possible alone: the conflict is the two of them, and without either there is a plan."""
    url = opened(next(p for p in demo_book.parts if p.id == "PY-2111"))
    power, keep, forbid = ("--power", "240 kW", *NOMINAL), ("--keep", "inlet pipe"), ("--forbid", "PY-2011")
    both = run(url, *power, *keep, *forbid, "--json")
    plan = document(both)
    assert both.exit_code == 3
    assert plan["proven"] is True
    assert sorted(r["text"] for r in plan["conflict"]) == [
        "PY-2011 must not be fitted",
        "inlet pipe: PY-2011 is to stay",
    ]
    assert any("inlet pipe is to stay as it is" in note for note in plan["notes"])
    assert run(url, *power, *keep).exit_code == 0
    assert run(url, *power, *forbid).exit_code == 0


def test_circle_of_requirements_is_said_and_fitted_whole(opened):
    url = opened(part("T-1", "mounts", "T-2"), part("T-2", "brakes", "T-3"), part("T-3", "oil_cooler", "T-1"))
    plan = document(run(url, "--power", "240 kW", *NOMINAL, "--json"))
    assert plan["proven"] is True
    assert any(note.startswith("T-1, T-2, T-3 require each other") for note in plan["notes"])
    assert {step["install"] for step in plan["steps"]} in (set(), {"T-1", "T-2", "T-3"})


def test_part_that_needs_itself_is_said_and_may_be_fitted(opened):
    url = opened(part("T-1", "mounts", "T-1"))
    result = run(url, "--power", "240 kW", *NOMINAL, "--json")
    plan = document(result)
    assert result.exit_code == 0
    assert "T-1 requires itself; it is taken as its own fulfilment" in plan["notes"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--fuel", "ron110"), "ron98"),
        (("--budget", "0", "--stages", "240 kW, 250 kW"), "--budget"),
        (("--stages", "240 kW, 240 kW"), "more power"),
    ],
)
def test_wish_that_cannot_be_asked_is_answered_in_one_sentence(opened, words, said):
    result = run(opened(), "--power", "240 kW", "--boost", "2.2 bar", *words)
    assert result.exit_code == 2
    assert said in result.output
    assert len(result.output.strip().splitlines()) <= 3
