"""The customer page: same facts, same bytes; sums that add up; the same numbers in both languages; literal names.

The car and the prices of the small tests are written by hand; sums are worked by hand at each.
"""

from __future__ import annotations

import datetime
import re
import string
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import click
import pytest
from click.testing import CliRunner, Result

from graph.errors import UnknownName, UsageError
from graph.kinds import discover
from graph.model import Belief, Car, Part, Place, Slot
from graph.plan.record import Because, Cost, Plan, Reason, SharedLabour, Step
from graph.report import Interval, Report
from graph.service import Request
from ui.caution import CAUTIONS
from ui.customer_bill import bill
from ui.customer_chart import Bar, draw
from ui.customer_facts import Facts
from ui.customer_html import sheet_html
from ui.customer_options import Offer, Option, powers, reliable
from ui.customer_page import customer_page
from ui.customer_pdf import sheet_pdf, sheet_pictures
from ui.customer_words import LANGUAGES, kilowatts, words
from ui.explain_command import gather, register
from ui.job_sheet import job_sheet
from ui.printed import Picture, Sheet, Table, texts
from ui.shop_settings import ShopSettings, read_shop

DAY = datetime.date(2026, 11, 25)
SEED = Path(__file__).resolve().parents[2] / "seed_parts"
HOSTILE = '#import "x": * *bold* $x^2$ <script>alert(1)</script> & {power} "quoted"'
SHOP = ShopSettings(name="Pennyrake Yard Motor Works", oil_distance=8000.0, warm_oil=80.0, check_distance=1000.0)
STEPS = (
    Step(
        slot="turbine",
        install="PY-3111",
        name="turbine housing L",
        remove="PY-3011",
        price=1000.4,
        labour=10800.0,
        skip_ceiling=262e3,
    ),
    Step(
        slot="calibration",
        install="PY-8010",
        name="calibration",
        remove=None,
        price=480.0,
        labour=3600.0,
        skip_ceiling=300e3,
    ),
)


def facts_of(report: Report, **changed: Any) -> Facts:
    """Facts with a plan written by hand: 1480.4 of parts, 3 h + 1 h - 1 h shared at 95, tax 20 %."""
    # By hand: (1480.4 + 285) * 0.20 = 353.08.
    cost = Cost(parts=1480.4, labour=10800.0, work=285.0, tax=353.08)
    plan = Plan(
        target=report.target,
        reachable=True,
        cost=cost,
        proven=True,
        steps=STEPS,
        shared_labour=(SharedLabour(operation="engine out", saves=3600.0, jobs=("PY-3111",)),),
        after=replace(report, carries=350e3, holds_probability=0.9),
    )
    values: dict[str, Any] = {
        "report": report,
        "car": Car(id="car-a", platform="marrit-20t", name="Car A", codes=("HD7",), distance=62e6, notes=("a wish",)),
        "shop": SHOP,
        "date": DAY,
        "offer": Offer(options=(Option(name="better", power=340e3, plan=plan),)),
        "looks": {"borescope": 2700.0},
    }
    return Facts(**(values | changed))


def turbine_place() -> Place:
    """The turbine's place, nothing known of it."""
    return Place(slot=Slot(name="turbine", kind="turbine"), part=None, unknown="not seen", belief=Belief.CLAIMED)


def numbers(sheet: Sheet) -> list[str]:
    """Every number of a sheet in the order of its blocks, decimal marks made equal; sorted within each block."""
    found = []
    for text in texts(sheet):
        found += re.findall(r"\d+(?:[.,]\d+)?", text.replace("\u202f", ""))
    return sorted(n.replace(",", ".") for n in found)


def table(sheet: Sheet, block: int, index: int = 0) -> Table:
    """One table of a block."""
    tables = [i for i in sheet.blocks[block - 1].items if isinstance(i, Table)]
    return tables[index]


# --- words


def test_both_languages_have_the_same_sentences_with_the_same_places() -> None:
    english, german = words("en").sheet, words("de").sheet
    assert german.keys() - english.keys() == {"caution"}  # the English ones stand in ui.caution
    assert english.keys() <= german.keys()
    assert german["caution"].keys() == CAUTIONS.keys()
    for part in ("say", "slot", "skip", "look", "finding", "term", "care"):
        assert english[part].keys() == german[part].keys()
        for key, text in english[part].items():
            places = [sorted(f for _, f, _, _ in string.Formatter().parse(t) if f) for t in (text, german[part][key])]
            assert places[0] == places[1], key


def test_every_kind_of_part_has_its_words() -> None:
    for language in LANGUAGES:
        for part in ("slot", "skip"):
            assert set(discover()) | {"engine"} == set(words(language).sheet[part])


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_word_that_promises(language: str) -> None:
    said = " ".join(
        str(t)
        for part in ("say", "slot", "skip", "look", "finding", "term", "care")
        for t in words(language).sheet[part].values()
    )
    promised = r"\b(safe|safely|guaranteed?|legal|adds|gefahrlos|garantiert\w*|legal\w*|unbedenklich)\b"
    assert re.findall(promised, said, re.IGNORECASE) == []


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_abbreviation_on_the_customer_page(make_report: Callable[..., Report], language: str) -> None:
    said = " ".join(texts(customer_page(facts_of(make_report()), words(language))))
    assert set(re.findall(r"\b(?:hp|PS|bhp|RON|BSFC|EGT|rpm|AFR|psi|bar abs|Nm|TÜV|ECU)\b", said)) == set()
    assert "N·m" in said
    assert "°C" in said


def test_unknown_language_names_those_that_exist() -> None:
    with pytest.raises(UnknownName, match="en, de"):
        words("xx")


# --- digits


def test_digits_are_no_finer_than_the_interval() -> None:
    # 262.4 kW known to 9 kW is printed whole; known to 21 kW, or without an upper end, in steps of 5.
    assert kilowatts(262.4e3, Interval(low=258e3, median=262e3, high=267e3)) == 262.0
    assert kilowatts(262.4e3, Interval(low=250e3, median=262e3, high=271e3)) == 260.0
    assert kilowatts(262.4e3, Interval(low=250e3, median=262e3, high=None)) == 260.0
    assert kilowatts(262.5e3, None) == 265.0
    assert kilowatts(267.5e3, None) == 270.0


def test_chance_is_never_nought_and_never_all() -> None:
    assert words("en").chance(0.0) == "under 5 in 100"
    assert words("en").chance(1.0) == "over 95 in 100"
    assert words("en").chance(0.62) == "60 in 100"


# --- the page


def test_ten_blocks_in_their_order(make_report: Callable[..., Report]) -> None:
    page = customer_page(facts_of(make_report()), words("en"))
    assert [b.number for b in page.blocks] == list(range(1, 11))
    assert "340 kW" in page.blocks[0].heading
    assert "exhaust side of the turbo, at about 260 kW" in page.blocks[0].heading


def test_lines_of_the_cost_add_up(make_report: Callable[..., Report]) -> None:
    page = customer_page(facts_of(make_report()), words("en"))
    rows = table(page, 6).rows
    amounts = [int(re.sub(r"\D", "", cell)) for _, cell in rows]
    # By hand: parts 1480.4 - 480 = 1000.4 -> 1000; rollers 480; work 285; net 1765; tax 353.08 -> 353; total 2118.
    assert amounts[:6] == [1000, 480, 285, 1765, 353, 2118]
    assert sum(amounts[:3]) == amounts[3]
    assert amounts[3] + amounts[4] == amounts[5]
    # 30 % of 2118 is 635.4, next step of 50 is 650; 110 % of 2118.48 is 2330.3, next step of 50 is 2350.
    assert amounts[6] == 650
    assert any("2\u202f350" in t for t in texts(page))


def test_bill_adds_up_whatever_the_cents(make_report: Callable[..., Report]) -> None:
    facts = facts_of(make_report())
    assert facts.offer is not None
    plan = facts.offer.options[0].plan
    for cents in range(0, 100, 7):
        money = bill(replace(plan, cost=Cost(parts=1480.0 + cents / 100, labour=0.0, work=0.49, tax=0.51)), SHOP)
        assert money["parts"] + money["rollers"] + money["work"] == money["net"]
        assert money["net"] + money["tax"] == money["total"]


def test_numbers_are_the_same_in_both_languages(make_report: Callable[..., Report]) -> None:
    facts = facts_of(make_report())
    assert numbers(customer_page(facts, words("en"))) == numbers(customer_page(facts, words("de")))
    assert numbers(job_sheet(facts, words("en"))) == numbers(job_sheet(facts, words("de")))


def test_law_is_not_checked_unless_the_shop_entered_a_rule(make_report: Callable[..., Report]) -> None:
    bare = customer_page(facts_of(make_report()), words("en")).blocks[7]
    assert sum("not checked for your country" in i.text for i in bare.items) == 4  # type: ignore[union-attr]
    from ui.shop_settings import Rule

    shop = replace(SHOP, rules={"law": Rule(text="Ask the office.", source="leaflet 7")})
    said = customer_page(facts_of(make_report(), shop=shop), words("en")).blocks[7].items[0].text  # type: ignore[union-attr]
    assert said == "Road approval: Ask the office. (source: leaflet 7)"


def test_without_a_plan_the_page_says_so(make_report: Callable[..., Report]) -> None:
    page = customer_page(facts_of(make_report(), offer=None), words("en"))
    said = " ".join(texts(page))
    assert words("en").say("no_plan") in said
    assert "No price is given" in said


def test_power_without_an_answer_is_named(make_report: Callable[..., Report]) -> None:
    page = customer_page(facts_of(make_report(), offer=Offer(stopped=(230e3,))), words("en"))
    assert words("en").say("not_found", power="230") in texts(page)


def test_only_a_proven_set_is_called_the_cheapest(make_report: Callable[..., Report]) -> None:
    facts = facts_of(make_report())
    assert facts.offer is not None
    option = facts.offer.options[0]
    stopped = Offer(options=(replace(option, plan=replace(option.plan, proven=False)),))
    proven = " ".join(texts(customer_page(facts, words("en"))))
    unproven = " ".join(texts(customer_page(replace(facts, offer=stopped), words("en"))))
    assert words("en").say("cheapest") in proven
    assert words("en").say("cheapest") not in unproven
    assert words("en").say("cheapest_found", powers="340") in unproven


def test_refused_wish_says_why(make_report: Callable[..., Report]) -> None:
    report = make_report()
    reason = Reason(because=Because.LIMIT, text="the engine itself, 340 kW asked, 20% allowed: ron98 321 kW")
    refused = Plan(target=report.target, reachable=False, proven=True, conflict=(reason,))
    said = " ".join(texts(customer_page(facts_of(report, offer=Offer(refused=refused)), words("en"))))
    assert "For 340 kW our parts book holds no set that keeps our margins" in said
    assert words("en").say("reason_engine") in said


@pytest.mark.parametrize(
    ("texts_of_conflict", "expected"),
    [
        # hand-made reasons; blamed may be only who cannot be left out of the sentence without making it untrue
        (
            ["the engine itself, 340 kW asked, 20% allowed: ron98 321 kW", "compressor: PY-2013, mass flow"],
            "no set keeps them at all of these places at once: engine itself on this fuel, air side of the turbo",
        ),
        (
            ["turbine, judged on e85: PY-3011, pressure before the turbine: passed at 340 kW"],
            "exhaust side of the turbo: no part that fits keeps them",
        ),
        (["the finished car must carry 340 kW with a chance of 80% or more"], "no set carries it surely enough"),
    ],
)
def test_refused_wish_blames_no_place_that_is_not_alone_to_blame(
    make_report: Callable[..., Report], texts_of_conflict: list[str], expected: str
) -> None:
    places = tuple(
        Place(slot=Slot(name=kind, kind=kind), part=None, unknown="not seen", belief=Belief.CLAIMED)
        for kind in ("compressor", "turbine")
    )
    report = make_report(build=replace(make_report().build, places=places))
    reasons = tuple(Reason(because=Because.LIMIT, text=text) for text in texts_of_conflict)
    refused = Plan(target=report.target, reachable=False, proven=True, conflict=reasons)
    said = " ".join(texts(customer_page(facts_of(report, offer=Offer(refused=refused)), words("en"))))
    assert f"keeps our margins: {expected}. We do not offer it." in said


@pytest.mark.parametrize("language", LANGUAGES)
def test_refused_wish_is_said_in_the_answer_as_well(make_report: Callable[..., Report], language: str) -> None:
    report = make_report()
    refused = Plan(target=report.target, reachable=False, proven=True)
    said = words(language).say("answer_no_set")
    answers = {
        offer: texts(replace(page, blocks=page.blocks[:1]))
        for offer in (Offer(refused=refused), facts_of(report).offer)
        for page in [customer_page(facts_of(report, offer=offer), words(language))]
    }
    assert [said in answer for answer in answers.values()] == [True, False]


def test_conflict_that_is_not_irreducible_blames_no_place(make_report: Callable[..., Report]) -> None:
    report = make_report(build=replace(make_report().build, places=(turbine_place(),)))
    reason = Reason(because=Because.LIMIT, text="turbine, judged on e85: PY-3011, pressure before the turbine: passed")
    refused = Plan(target=report.target, reachable=False, proven=True, conflict=(reason,), irreducible=False)
    said = " ".join(texts(customer_page(facts_of(report, offer=Offer(refused=refused)), words("en"))))
    assert words("en").say("reason_whole") in said


def test_place_that_looks_wide_enough_says_what_it_carries(make_report: Callable[..., Report]) -> None:
    """The gears carry 387 kW (said to 5 kW, the interval is wide), 340 to 430 kW nine times in ten: a wish of 370 kW is refused because of them."""
    report = make_report()
    report = replace(report, target=replace(report.target, power=370e3))
    places = (Place(slot=Slot(name="gears", kind="gears"), part=None, unknown="not seen", belief=Belief.CLAIMED),)
    report = replace(report, build=replace(report.build, places=places))
    reason = Reason(
        because=Because.LIMIT, text="gears, judged on ron98: PY-5012, torque on the gears: passed at 370 kW"
    )
    refused = Plan(target=report.target, reachable=False, proven=True, conflict=(reason,))
    said = " ".join(texts(customer_page(facts_of(report, offer=Offer(refused=refused)), words("en"))))
    assert "what is on the car carries about 385 kW, but 340 to 430 kW 9 times in 10" in said


def test_promised_power_that_is_the_surely_carried_one_is_said_once(make_report: Callable[..., Report]) -> None:
    """Three sets whose lower ends (19 times in 20) are below, at and above what was promised."""
    report = make_report()
    for low, repeated in ((330e3, True), (340e3, False)):
        facts = facts_of(report)
        option = facts.offer.options[0]
        after = replace(option.plan.after, carries_interval=Interval(low=low, median=350e3, high=370e3))
        offer = Offer(options=(replace(option, plan=replace(option.plan, after=after)),))
        block = customer_page(replace(facts, offer=offer), words("en")).blocks[6]
        said = " ".join(i.text for i in block.items)
        assert ("19 times in 20" in said) is repeated


def test_unknown_place_is_dotted_with_a_question_mark(make_report: Callable[..., Report]) -> None:
    page = customer_page(facts_of(make_report()), words("en"))
    picture = next(i for i in page.blocks[1].items if isinstance(i, Picture))
    assert "stroke-dasharray" in picture.svg
    assert ">?</text>" in picture.svg
    assert "rods: not known." in picture.alternative


def test_bars_end_at_the_numbers_printed() -> None:
    svg = draw(
        [Bar(label="a", value=170.0, text="170"), Bar(label="b", value=340.0, text="340")], 340.0, "wish", "{value}"
    )
    ends = [float(w) for w in re.findall(r'width="([\d.]+)" height="6.4"', svg)]
    assert ends[0] * 2 == pytest.approx(ends[1], abs=0.02)  # 170 is half of 340; two decimals are drawn


def test_powers_offered_never_exceed_what_the_wish_or_the_fuel_says(make_report: Callable[..., Report]) -> None:
    assert max(powers(make_report())) <= 1.05 * 340e3
    # Normal distribution: the 20th percentile lies 0.842 standard deviations below the median, the 5th 1.645;
    # 300 - 32.9 * 0.842 / 1.645 = 283.2, down to 280.
    assert reliable(Interval(low=267.1e3, median=300e3, high=None)) == 280e3


# --- files


def test_same_facts_same_bytes(make_report: Callable[..., Report]) -> None:
    facts = facts_of(make_report())
    made = [sheet_pdf(customer_page(facts, words("en")), DAY, SHOP.name) for _ in range(2)]
    assert made[0] == made[1]
    assert made[0].startswith(b"%PDF-")
    assert b"pdfuaid" in made[0]


def test_refuses_a_picture_without_words(make_report: Callable[..., Report]) -> None:
    page = customer_page(facts_of(make_report()), words("en"))
    picture = next(i for i in page.blocks[1].items if isinstance(i, Picture))
    blind = replace(page, blocks=(replace(page.blocks[1], items=(replace(picture, alternative=" "),)),))
    for render in (sheet_html, lambda s: sheet_pdf(s, DAY)):
        with pytest.raises(UsageError, match="alternative text"):
            render(blind)


def test_typesetter_itself_refuses_a_picture_without_words() -> None:
    import typst

    svg = "<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 9 9'/>"
    source = f'#set document(title: "t")\n#image(bytes("{svg}"), format: "svg")'
    with pytest.raises(typst.TypstError, match="alt"):
        typst.compile(source.encode(), pdf_standards=["ua-1"])


@pytest.mark.parametrize("language", LANGUAGES)
def test_markup_in_names_is_printed_literally(make_report: Callable[..., Report], language: str) -> None:
    report = make_report()
    slot = Slot(name="rods", kind="rods")
    part = Part(id="PY-1", kind="rods", name=HOSTILE)
    place = Place(slot=slot, part=part, belief=Belief.CLAIMED, claim=HOSTILE)
    report = replace(report, build=replace(report.build, places=(place,)))
    step = replace(STEPS[0], name=HOSTILE)
    facts = facts_of(report)
    assert facts.offer is not None
    option = replace(facts.offer.options[0], plan=replace(facts.offer.options[0].plan, steps=(step, STEPS[1])))
    shop = replace(SHOP, name=HOSTILE, address=HOSTILE)
    car = replace(facts.car, name=HOSTILE, notes=(HOSTILE,))
    facts = replace(facts, offer=Offer(options=(option,)), shop=shop, car=car)
    for sheet in (customer_page(facts, words(language)), job_sheet(facts, words(language))):
        assert any(HOSTILE in text for text in texts(sheet))
        html = sheet_html(sheet)
        assert "<script" not in html
        assert "&lt;script&gt;alert(1)&lt;/script&gt;" in html
        assert sheet_pdf(sheet, DAY, shop.name).startswith(b"%PDF-")


def test_html_needs_nothing_outside_itself(make_report: Callable[..., Report]) -> None:
    html = sheet_html(customer_page(facts_of(make_report()), words("de")))
    assert re.findall(r"(?: src=|href|url\((?!data:)|@import)", html) == []
    assert '<html lang="de">' in html
    assert html.count("<svg ") == 1


# --- the demo's cars


@pytest.mark.parametrize(
    ("car", "power", "boost"), [("car-a", 340e3, 2.2e5), ("car-b", 320e3, 2.0e5), ("car-c", 330e3, 2.2e5)]
)
def test_demo_cars_build_on_at_most_two_pages(shop: Any, car: str, power: float, boost: float) -> None:
    settings = read_shop(SEED / "shop.toml")
    facts = gather(shop, car, Request(power=power, boost=boost), settings, DAY, plan=False)
    pages = {language: customer_page(facts, words(language)) for language in LANGUAGES}
    assert numbers(pages["en"]) == numbers(pages["de"])
    for page in pages.values():
        assert sheet_pdf(page, DAY, settings.name) == sheet_pdf(page, DAY, settings.name)
        assert 1 <= len(sheet_pictures(page, DAY, settings.name, 40.0)) <= 2
        assert sheet_html(page).startswith("<!doctype html>")
        assert None not in texts(page)
        assert not any(re.search(r"\b(nan|inf|None)\b", t) for t in texts(page))


# --- settings and command


def test_demo_shop_is_the_one_of_the_demo() -> None:
    settings = read_shop(SEED / "shop.toml")
    assert (settings.name, settings.currency) == ("Pennyrake Yard Motor Works", "EUR")
    assert (settings.tax, settings.hourly_rate) == (0.20, 95.0)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("tax = 0.2", "no name"),
        ('name = "x"\ntax = 20', "share"),
        ('name = "x"\ntex = 0.2', "'tex'"),
        ('name = "x"\nhourly_rate = -1', "not negative"),
        ('name = "x"\n[rules.law]\ntext = "yes"', "source"),
        ("name = ", "cannot be read"),
    ],
)
def test_settings_that_cannot_be_used_say_why(tmp_path: Path, text: str, said: str) -> None:
    path = tmp_path / "shop.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(UsageError, match=said):
        read_shop(path)


def run(url: str, *arguments: str) -> Result:
    """The command in a program of its own."""
    group = click.Group()
    register(group)
    return CliRunner().invoke(group, ["explain", *arguments, "--db", url])


def test_command_writes_the_page(demo_database: Any, tmp_path: Path) -> None:
    out = tmp_path / "page.html"
    given = ("car-a", "--power", "340 kW", "--boost", "2.2 bar", "--out", str(out), "--no-plan", "--date", "2026-11-25")
    result = run(demo_database.url, *given, "--language", "de")
    assert result.exit_code == 0, result.output
    assert "25. November 2026" in out.read_text(encoding="utf-8")


@pytest.mark.parametrize("wrong", [("--out", "page.txt"), ("--out", "page.pdf", "--date", "tomorrow")])
def test_command_refuses_what_it_cannot_do(demo_database: Any, wrong: tuple[str, ...]) -> None:
    result = run(demo_database.url, "car-a", "--power", "340 kW", "--no-plan", *wrong)
    assert result.exit_code == 2
    assert len(result.stderr.strip().splitlines()) == 1
