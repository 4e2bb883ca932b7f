"""The ladder as text, on hand-built answers: the sentence, the rows, and room for what is not known."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace

import pytest

from graph.report import Finding, Remedy, Report, Verdict
from ui.caution import CAUTIONS
from ui.ladder import MARKS, WORDS, headline, ladder

REMEDY = Remedy(
    slot="turbine",
    rule="pressure before the turbine",
    part="PY-3111",
    name="turbine housing L",
    ceiling=365e3,
    price=None,
    total=None,
    labour=0.0,
    pulls=("PY-2114",),
    conflicts=("turbine outlet: A does not meet B",),
)


def flat(text: str) -> str:
    """The text without its line breaks, so that a sentence is found wherever the page breaks it."""
    return re.sub(r"[ \n]+", " ", text)


def row(text: str, slot: str) -> str:
    """The row of a slot: the first line that begins with a mark and its name."""
    found = re.search(rf"^[{''.join(MARKS.values())}] {re.escape(slot)}\b.*$", text, re.MULTILINE)
    assert found is not None, text
    return found.group()


def test_headline_names_slot_and_power_with_its_unit(make_report: Callable[..., Report]) -> None:
    said = headline(make_report(tie=("turbine",)))
    assert "turbine" in said
    assert "262 kW" in said
    assert "one of" not in said


def test_headline_says_one_of_where_more_than_one_may_be_first(make_report: Callable[..., Report]) -> None:
    said = headline(make_report())
    assert "one of" in said
    assert "turbine (55 %)" in said
    assert "intercooler (45 %)" in said


def test_headline_without_any_ceiling_is_a_sentence(make_report: Callable[..., Report], unknown_rods: Finding) -> None:
    said = ladder(make_report(findings=(unknown_rods,), weakest=None, tie=())).splitlines()[0]
    assert "None" not in said
    assert said.endswith(".")


def test_answer_stands_first_and_condition_second(make_report: Callable[..., Report]) -> None:
    text = flat(ladder(make_report()))
    assert text.startswith(headline(make_report()))
    condition = text.removeprefix(headline(make_report()))[:160]
    for said in ("340 kW crank", "2.2 bar", "ron98", "25 °C"):
        assert said in condition


def test_answer_says_what_the_rollers_would_show_and_what_ends_it(make_report: Callable[..., Report]) -> None:
    # 110 revolutions a second are 6600 1/min
    text = flat(ladder(make_report())).replace("\u202f", "")
    assert (
        "the rollers would show 301 kW and 488 N·m at the crank, 2.2 bar boost at 6600 1/min; what ends it: knock."
        in text
    )


def test_no_line_is_wider_than_a_page(make_report: Callable[..., Report]) -> None:
    long = "PY-1110 (tank pump) requires PY-1113, which is not on the car, and more is said about it; " * 4
    text = ladder(make_report(remedies=(REMEDY, replace(REMEDY, conflicts=(long,))), warnings=(long,)))
    assert [line for line in text.splitlines() if len(line) > 120] == []


def test_row_holds_part_ceiling_interval_here_and_speed(make_report: Callable[..., Report]) -> None:
    line = row(ladder(make_report()), "turbine")
    assert line.startswith(MARKS[Verdict.EXCEEDED])
    for said in ("PY-3011", " 262 ", "249 to 275", "−78", " 253 ", "6\u202f600", "55 %"):
        assert said in line


def test_differences_always_have_a_sign(make_report: Callable[..., Report]) -> None:
    # 387 - 340 and 335 - 340; a true minus, not a hyphen
    text = ladder(make_report())
    assert "+47" in row(text, "gears")
    assert "−5" in row(text, "intercooler")
    assert "-5 " not in row(text, "intercooler")


@pytest.mark.parametrize(
    ("slot", "verdict"),
    [
        ("turbine", Verdict.EXCEEDED),
        ("intercooler", Verdict.MARGINAL),
        ("gears", Verdict.CLEAR),
        ("rods", Verdict.UNKNOWN),
    ],
)
def test_state_has_a_mark_of_its_own(make_report: Callable[..., Report], slot: str, verdict: Verdict) -> None:
    assert row(ladder(make_report()), slot).startswith(MARKS[verdict])


def test_marks_and_words_tell_every_state_apart() -> None:
    assert set(MARKS) == set(WORDS) == set(Verdict)
    assert len(set(MARKS.values())) == len(set(WORDS.values())) == len(Verdict)


def test_bar_ends_at_the_ceiling_and_the_target_is_one_line(make_report: Callable[..., Report]) -> None:
    rows = [row(ladder(make_report()), slot) for slot in ("turbine", "intercooler", "gears")]
    places = {line.index("|") for line in rows}
    assert len(places) == 1
    target = places.pop()
    turbine, _, gears = rows
    assert turbine.rindex("━") < target < gears.rindex("━")


def test_evidence_line_leads_to_the_cell(make_report: Callable[..., Report]) -> None:
    text = ladder(make_report())
    lines = text.splitlines()
    after = lines[lines.index(row(text, "turbine")) + 1]
    assert "parts.xlsx, sheet 'Exhaust', row 12" in after
    assert "own pressure port" in after


def test_evidence_can_be_left_out(make_report: Callable[..., Report]) -> None:
    assert "parts.xlsx" not in ladder(make_report(), evidence=False)


def test_assumed_condition_is_said(make_report: Callable[..., Report], turbine: Finding) -> None:
    assumed = replace(turbine, assumed=True)
    assert "assumed" in ladder(make_report(findings=(assumed,), weakest=assumed))
    assert "assumed" not in ladder(make_report(findings=(turbine,)))


def test_unknown_slot_takes_room_and_gives_its_reason(make_report: Callable[..., Report]) -> None:
    text = ladder(make_report())
    line = next(li for li in text.splitlines() if "claimed, not seen" in li)
    assert line.startswith("? rods")
    assert "·" * 10 in line
    assert "0" not in line


def test_limit_without_ceiling_is_not_known_and_never_blank(make_report: Callable[..., Report]) -> None:
    line = row(ladder(make_report()), "rods")
    assert line.endswith("not known")
    assert not re.search(r"\d", line)


@pytest.mark.parametrize("word", ["nan", "inf", "None", "\x1b"])
def test_text_is_plain_and_holds_no_stand_in_for_a_number(make_report: Callable[..., Report], word: str) -> None:
    text = ladder(make_report(remedies=(REMEDY,)))
    assert re.search(rf"(?<![a-z]){re.escape(word)}(?![a-z])", text) is None


def test_open_end_of_an_interval_is_shown_as_open(make_report: Callable[..., Report]) -> None:
    assert "330 to …" in row(ladder(make_report()), "intercooler")


def test_what_the_car_carries_and_makes(make_report: Callable[..., Report]) -> None:
    text = flat(ladder(make_report()))
    for said in ("carries at most 253 kW", "236 to 263 kW", "holds 340 kW: 2 %", "301 kW and 488 N·m", "324 kW"):
        assert said in text
    assert "at most" not in ladder(make_report(carries_is_upper_bound=False))


def test_each_answer_to_reachable_has_its_own_sentence(make_report: Callable[..., Report]) -> None:
    said = {value: flat(ladder(make_report(reachable=value))) for value in (True, False, None)}
    assert "340 kW is reached" in said[True]
    assert "340 kW is not reached" in said[False]
    assert "not known" in said[None]
    assert "is reached" not in said[None]


def test_remedy_without_a_price_says_not_known(make_report: Callable[..., Report]) -> None:
    text = flat(ladder(make_report(remedies=(REMEDY,))))
    assert "PY-3111 turbine housing L, not known" in text
    assert "pulls along PY-2114" in text
    assert "turbine outlet: A does not meet B" in text


def test_slot_without_a_remedy_is_named(make_report: Callable[..., Report]) -> None:
    text = ladder(make_report(remedies=(REMEDY,), without_remedy=("intercooler",)))
    assert re.search(r"^\s*intercooler\s+no part in the book", text, re.MULTILINE)


def test_warnings_are_printed(make_report: Callable[..., Report]) -> None:
    warning = "PY-1110 (tank pump) requires PY-1113, which is not on the car"
    assert warning in flat(ladder(make_report(warnings=(warning,))))


def test_cautions_follow_the_work(make_report: Callable[..., Report]) -> None:
    # A catalyst is a hot part under emissions law and has no fuel under pressure.
    text = flat(ladder(make_report(remedies=(replace(REMEDY, slot="catalyst", kinds=("catalyst",)),))))
    assert CAUTIONS["H"] in text
    assert CAUTIONS["L"] in text
    assert CAUTIONS["J"] not in text
    assert CAUTIONS["H"] not in flat(ladder(make_report()))


def test_law_and_insurance_are_left_to_the_place() -> None:
    for code in ("L", "I"):
        assert "not checked for your country" in CAUTIONS[code]
    said = " ".join(CAUTIONS.values()).lower()
    assert re.search(r"\b(safe|guaranteed|legal)\b", said) is None
