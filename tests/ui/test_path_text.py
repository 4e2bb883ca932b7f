"""The heading above two stages; every path is built by hand."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import pytest

from graph.plan.path import Path
from graph.plan.record import Plan
from graph.report import Report
from ui.format import counted
from ui.path_text import path_title


def plan(report: Report, power: float, *, reachable: bool = True) -> Plan:
    return Plan(target=replace(report.target, power=power), reachable=reachable, proven=True)


def test_powers_alone_stand_above_a_path_that_is_still_searched() -> None:
    assert path_title(None, 290e3, 340e3, "EUR") == "First 290 kW, later 340 kW"


def test_money_and_what_is_thrown_away_stand_above_a_path(make_report: Callable[..., Report]) -> None:
    plans = (plan(make_report(), 290e3), plan(make_report(), 340e3))
    path = Path(plans=plans, total=12_000.0)
    said = path_title(path, 290e3, 340e3, "EUR").replace("\u202f", "")
    assert said == "First 290 kW, later 340 kW: together 12000 EUR, nothing is thrown away"
    said = path_title(replace(path, thrown_away=("A", "B")), 290e3, 340e3, "EUR")
    assert said.endswith(", A, B is thrown away")


def test_stage_without_a_set_is_the_one_named(make_report: Callable[..., Report]) -> None:
    """A car that carries the first stage as it is buys nothing for it: it is the last stage that has no set."""
    plans = (plan(make_report(), 230e3), plan(make_report(), 340e3, reachable=False))
    said = path_title(Path(plans=plans, total=math.inf), 230e3, 340e3, "EUR")
    assert said == "No set of parts for 340 kW"
    said = path_title(Path(plans=(plan(make_report(), 300e3, reachable=False),), total=math.inf), 300e3, 340e3, "EUR")
    assert said == "No set of parts for 300 kW"


@pytest.mark.parametrize(("count", "said"), [(0, "0 parts"), (1, "1 part"), (2, "2 parts")])
def test_one_of_a_thing_is_one(count: int, said: str) -> None:
    assert counted(count, "part") == said
