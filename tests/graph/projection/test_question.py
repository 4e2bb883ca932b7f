"""Named questions; the expected rows stand in the demo shop's sheets."""

from dataclasses import replace

import pytest

from graph.errors import UnknownName
from graph.kinds import discover
from graph.model import Meaning
from graph.projection import question
from graph.projection.facts import Held

PUMP = discover()["tank_pump"]
LITRES_PER_HOUR = 1.0 / 3.6e6


def column(answer, name):
    return [row[answer.columns.index(name)] for row in answer.rows]


def test_pumps_that_carry_200_litres_per_hour(facts) -> None:
    # fuel sheet: 121, 240 and 330 L/h
    answer = question.fits_slot_and_carries(facts, PUMP, 200.0 * LITRES_PER_HOUR)
    assert column(answer, "part") == ["PY-1110", "PY-1111"]
    assert column(answer, "known by") == ["own bench", "maker sheet"]
    assert all("row" in source for source in column(answer, "evidence"))


def test_what_a_part_exactly_carries_counts(facts) -> None:
    answer = question.fits_slot_and_carries(facts, PUMP, facts.part("PY-1111").rating("flow").value)
    assert column(answer, "part") == ["PY-1111"]


@pytest.mark.parametrize(("code", "found"), [("HM6", ["PY-5110"]), ("HD7", []), ("marrit-20t", ["PY-5110"])])
def test_code_of_gearbox_or_platform_is_obeyed(facts, code, found) -> None:
    # drive sheet: the Fennimark clutch set (600 N.m) fits HM6, one of the platform's codes
    answer = question.fits_slot_and_carries(facts, discover()["clutch"], 500.0, code=code)
    assert column(answer, "part") == found


def test_a_number_at_which_one_failed_carries_nothing(facts) -> None:
    pump = facts.part("PY-1111")
    failed = replace(pump, ratings=(replace(pump.ratings[0], meaning=Meaning.FAILED),))
    answer = question.fits_slot_and_carries(replace(facts, parts=(failed,)), PUMP, 200.0 * LITRES_PER_HOUR)
    assert answer.rows == ()


@pytest.mark.parametrize("asked", [{"code": "nowhere"}, {"rating": "colour"}])
def test_unknown_code_or_rating_is_refused(facts, asked) -> None:
    with pytest.raises(UnknownName, match="known"):
        question.fits_slot_and_carries(facts, PUMP, 0.0, **asked)


def test_what_a_pump_pulls_along_has_prices_and_reasons(facts) -> None:
    answer = question.pulls_along(facts, "PY-1110")
    assert column(answer, "needs") == ["PY-1112", "PY-1113", "PY-1119"]
    assert column(answer, "price [EUR]") == [215.0, 62.0, 34.0]


def test_why_needed_is_empty_where_it_is_not(facts) -> None:
    assert len(question.why_needed(facts, "PY-1119", "PY-1110").rows) == 2
    assert question.why_needed(facts, "PY-1110", "PY-1119").rows == ()


def test_demo_book_is_usable_throughout(facts) -> None:
    assert question.no_usable_rating(facts).rows == ()


def test_unusable_parts_and_held_rows_are_named(facts) -> None:
    bare = replace(facts.part("PY-1110"), ratings=(), fits=())
    held = Held(begins="PY-7", why="the rating has a defect", source="x.csv, row 9")
    answer = question.no_usable_rating(replace(facts, parts=(bare,), held=(held,)))
    assert column(answer, "why")[:2] == ["it fits nothing", f"states no flow: {PUMP.rating('flow').label}"]
    assert answer.rows[-1] == ("row", "PY-7", "the rating has a defect", "x.csv, row 9")


def test_breaks_circles_and_orphans_are_rows_with_evidence(facts) -> None:
    assert "PY-1110" in column(question.breaks_if_withdrawn(facts, "PY-1112"), "name")
    assert "PY-2113, PY-3110" in column(question.goes_in_circles(facts), "parts")
    assert question.hangs_in_the_air(facts).rows == ()
    for answer in (question.breaks_if_withdrawn(facts, "PY-1112"), question.goes_in_circles(facts)):
        assert all(column(answer, "evidence"))


def test_every_named_question_has_its_arguments_and_sentence() -> None:
    for about in question.QUESTIONS.values():
        assert about.asks.endswith("?")
