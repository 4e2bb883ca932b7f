"""Candidates for a part in hand: Bayes by hand on small books, and the invented shop's turbochargers."""

from __future__ import annotations

import pytest

from graph.errors import UsageError
from graph.identify import AGREES, DISAGREES, SILENT, UNLISTED, identify
from graph.model import Interface, Part


def part(number: str, name: str, *ports: tuple[str, str], fits: tuple[str, ...] = ("E",)) -> Part:
    return Part(
        id=number,
        kind="compressor",
        name=name,
        fits=fits,
        interfaces=tuple(Interface(port=p, type=t) for p, t in ports),
    )


SMALL = part("P-1", "turbo T-322", ("inlet", "60 mm"))
LARGE = part("P-2", "turbo T-385", ("inlet", "76 mm"))
PLAIN = part("P-3", "turbo T-3", fits=("F",))


def test_one_clue_by_hand() -> None:
    # Inlet 76 mm: agrees with P-2, contradicts P-1; and one part that the book does not hold.
    rest = UNLISTED * SILENT * 2
    total = AGREES + DISAGREES + rest
    found = identify([SMALL, LARGE], ports={"Inlet": "76 mm"})
    assert [c.part.id for c in found.candidates] == ["P-2", "P-1"]
    assert found.candidates[0].probability == pytest.approx(AGREES / total)
    assert found.unlisted == pytest.approx(rest / total)
    assert found.candidates[0].tell == "inlet 76 mm, on P-1 60 mm"
    assert found.candidates[1].disagrees == ("Inlet 76 mm",)


@pytest.mark.parametrize("label", ["T-3?5", "t3*5", "385", "TURBO 38?"])
def test_a_half_covered_label(label: str) -> None:
    assert identify([SMALL, LARGE, PLAIN], label=label).candidates[0].part.id == "P-2"


def test_what_the_book_is_silent_about_is_neither_for_nor_against() -> None:
    found = identify([SMALL, PLAIN], ports={"outlet": "45 mm"}, codes=("E", "F"))
    assert all(c.agrees == c.disagrees == () for c in found.candidates)
    assert found.candidates[0].probability == found.candidates[1].probability


def test_a_part_of_another_car_is_less_probable() -> None:
    found = identify([SMALL, PLAIN], label="T", codes=("E",))
    assert [c.part.id for c in found.candidates] == ["P-1", "P-3"]


def test_a_label_that_fits_nothing_leaves_the_unlisted_part() -> None:
    assert identify([SMALL, LARGE], label="ZX-9 Q77").unlisted > 0.5


def test_nothing_known_is_refused() -> None:
    with pytest.raises(UsageError, match="nothing is known"):
        identify([SMALL], label=" - ")
    with pytest.raises(UsageError, match="size 'wide'"):
        identify([SMALL], sizes=["wide"])


def test_the_tag_of_car_b(demo_book) -> None:
    # The photo shows a turbo tag half covered, 'T-3' and the flange: the T-322 and the T-385 remain; the inlet decides.
    turbos = [p for p in demo_book.parts if p.kind == "compressor"]
    half = identify(turbos, label="T-3*", ports={"turbine outlet": "B"})
    assert {c.part.id for c in half.candidates[:2]} == {"PY-2113", "PY-2114"}
    assert half.candidates[0].probability == pytest.approx(half.candidates[1].probability)
    assert "compressor inlet" in half.candidates[0].tell
    measured = identify(turbos, label="T-3*", ports={"turbine outlet": "B", "compressor inlet": "60 mm"})
    assert measured.candidates[0].part.id == "PY-2113"
    assert measured.candidates[0].probability > 0.9
