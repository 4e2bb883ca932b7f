"""Qualities of the customer's page: sums, short words, digits, grey print, tags, the shop's mark, earlier decisions.

Facts and prices are written by hand; what a PDF holds is read by a second program, PDFium.
"""

from __future__ import annotations

import datetime
import io
import json
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pypdfium2
import pytest
from PIL import Image, ImageOps
from real_browser import browser

from graph.decision import Answer, Decision, still_open
from graph.errors import UsageError
from graph.experience import Experience, Spread, Surprise
from graph.model import Belief, Car, Place, Slot
from graph.plan.record import Cost, Plan, SharedLabour, Step
from graph.report import Report
from graph.service import Request
from ui.customer_bill import SumMismatch, outward, quoted, refuse_wrong_sums
from ui.customer_chart import HAZE, INK, MUTE, NEED, PINCH, RULE
from ui.customer_facts import Facts
from ui.customer_html import STYLE, sheet_html
from ui.customer_options import Offer, Option
from ui.customer_page import customer_page
from ui.customer_pdf import sheet_pdf, sheet_pictures
from ui.customer_words import LANGUAGES, words
from ui.explain_command import gather
from ui.explain_document import explain_document
from ui.job_sheet import job_sheet, ordered, spans, waits
from ui.printed import Logo, Sheet, Table, Text, Ticks, texts
from ui.shop_settings import ShopSettings, read_logo, read_shop

DAY = datetime.date(2026, 11, 25)
SEED = Path(__file__).resolve().parents[2] / "seed_parts"
SHOP = ShopSettings(name="Pennyrake Yard Motor Works", tax=0.20, hourly_rate=100.0)
KINDS = ("turbine", "compressor", "pistons", "rods", "intercooler", "calibration")
HOURS = (0.0, 8.0, 34.0, 0.0, 4.0, 5.0)
PRICES = (0.0, 2140.0, 2480.0, 0.0, 610.0, 480.0)
STEPS = tuple(
    Step(
        slot=kind,
        install=f"PY-{n}",
        name=f"new {kind}",
        remove=f"PX-{n}",
        price=price,
        labour=hours * 3600.0,
        skip_ceiling=250e3 + n * 20e3,
        stock=0 if kind == "pistons" else 1,
        lead_time=30 * 86400.0 if kind == "pistons" else 2 * 86400.0,
    )
    for n, (kind, hours, price) in enumerate(zip(KINDS, HOURS, PRICES, strict=True))
)
SHARED = (SharedLabour(operation="engine out", saves=5 * 3600.0, jobs=("PY-1", "PY-2")),)
# By hand: parts 5710; labour 51 - 5 = 46 h, at 100 it is 4600; net 10310; tax 20 % 2062; total 12372.
COST = Cost(parts=5710.0, labour=46 * 3600.0, work=4600.0, tax=2062.0)
BOLTS = Surprise(
    key="exhaust-bolts",
    text="stuck bolts",
    jobs=frozenset({"compressor"}),
    probability=0.25,
    labour=Spread(low=2880.0, usual=7200.0, high=18000.0),
    parts=Spread(low=10.0, usual=25.0, high=60.0),
)


@pytest.fixture
def facts(make_report: Callable[..., Report]) -> Facts:
    """A car with six places, a plan that renews them all, and one finding that may come up."""
    report = make_report()
    places = tuple(
        Place(slot=Slot(name=kind, kind=kind), part=None, unknown="not seen", belief=Belief.CLAIMED) for kind in KINDS
    )
    platform = replace(report.build.platform, constants={"power speed": 110.0, "factory power": 225e3})
    report = replace(report, build=replace(report.build, places=places, platform=platform))
    plan = Plan(
        target=report.target,
        reachable=True,
        cost=COST,
        proven=True,
        steps=STEPS,
        shared_labour=SHARED,
        after=replace(report, carries=350e3, holds_probability=0.9),
    )
    return Facts(
        report=report,
        car=Car(id="car-a", platform="marrit-20t", name="Car A", codes=("HD7",), distance=62e6, notes=("E85, 290 hp",)),
        shop=SHOP,
        date=DAY,
        offer=Offer(options=(Option(name="better", power=340e3, plan=plan),)),
        looks={"borescope": 2700.0},
        experience=Experience(surprises=(BOLTS,)),
    )


def plan_in(facts: Facts) -> Plan:
    assert facts.chosen is not None
    return facts.chosen.plan


def with_plan(facts: Facts, plan: Plan) -> Facts:
    assert facts.offer is not None
    return replace(facts, offer=replace(facts.offer, options=(replace(facts.offer.options[0], plan=plan),)))


# --- sums


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"parts": 5711.0}, "price of the parts"),
        ({"labour": 51 * 3600.0}, "labour"),
        ({"work": 4590.0}, "the work"),
        ({"tax": 2060.0}, "the tax"),
        ({"parts": float("nan")}, "price of the parts"),
    ],
)
def test_bill_that_does_not_add_up_is_refused(facts: Facts, wrong: dict[str, float], said: str) -> None:
    plan = replace(plan_in(facts), cost=replace(COST, **wrong))
    refuse_wrong_sums(plan_in(facts), SHOP)
    with pytest.raises(SumMismatch, match=said):
        customer_page(with_plan(facts, plan), words("en"))


def test_other_rate_or_tax_than_the_plans_is_refused(facts: Facts) -> None:
    for shop in (replace(SHOP, tax=0.19), replace(SHOP, hourly_rate=95.0)):
        with pytest.raises(SumMismatch):
            customer_page(replace(facts, shop=shop), words("en"))


@pytest.mark.parametrize("language", LANGUAGES)
def test_parts_and_work_make_net_and_net_and_tax_make_the_total(facts: Facts, language: str) -> None:
    block = customer_page(facts, words(language)).blocks[5]
    sums = next(i for i in block.items if isinstance(i, Table))
    amounts = [int(re.sub(r"\D", "", cell)) for _, cell in sums.rows]
    # By hand, see COST: parts without the rollers 5230, rollers 480, work 4600, net 10310, tax 2062, total 12372.
    assert amounts[:6] == [5230, 480, 4600, 10310, 2062, 12372]


def test_cap_printed_is_never_below_the_range_printed(facts: Facts) -> None:
    found = quoted(facts, facts.chosen)  # type: ignore[arg-type]
    assert found is not None
    low, high = outward(found.low, found.high)
    assert low <= found.low < found.high <= high <= found.cap
    said = " ".join(texts(customer_page(facts, words("en")))).replace("\u202f", "")
    assert f"between {low:.0f}€ and {high:.0f}€" in said
    assert f"Never above {found.cap:.0f}€" in said


def test_what_can_change_the_bill_stands_with_how_often_and_how_much(facts: Facts) -> None:
    block = customer_page(facts, words("en")).blocks[5]
    changes = [i for i in block.items if isinstance(i, Table)][1]
    # By hand: (0.8 h * 100 + 10) * 1.2 = 108; (5 h * 100 + 60) * 1.2 = 672; in steps of 10.
    assert changes.rows[0] == (words("en").finding("exhaust-bolts", ""), "25 in 100", "+110 to 670 €")


# --- short words


# Two capitals or more, capitals with digits, or the short forms of units and of power that a workshop writes.
SHORT = re.compile(
    r"(?<![\w.-])(?:[A-ZÄÖÜ]{2,}\d*|[A-Z]\d+|kW|N·m|°C|km|h|bar|psi|hp|whp|bhp|rpm|cc|lb|kPa|mm|Nm)(?![\w·-])"
)


def undefined(page: Sheet, names: tuple[str, ...]) -> set[str]:
    """Short words of a page that its last line does not explain; names of shop, car and platform are no words."""
    foot = " ".join(page.foot)
    said = " ".join(t for t in texts(page) if t not in page.foot)
    for name in names:
        said = said.replace(name, " ")
    return {t for t in SHORT.findall(said) if not re.search(rf"(?<!\w){re.escape(t)} \S", foot)}


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_short_word_is_explained_at_the_foot(facts: Facts, language: str) -> None:
    page = customer_page(facts, words(language))
    assert undefined(page, (SHOP.name, "Car A", "Marrit 20T")) == set()
    foot = page.foot[0]
    for term in ("kW ", "N·m ", "E85 ", "hp ", "HD7 "):
        assert term in foot
    assert "psi" not in foot


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize(("car", "power"), [("car-a", 340e3), ("car-b", 320e3), ("car-c", 330e3)])
def test_demo_pages_explain_every_short_word(shop: Any, car: str, power: float, language: str) -> None:
    found = gather(shop, car, Request(power=power, boost=2.2e5), read_shop(SEED / "shop.toml"), DAY, plan=False)
    names = (found.shop.name, found.car.name, found.report.build.platform.name, found.car.id)
    assert undefined(customer_page(found, words(language)), names) == set()


def test_unexplained_short_word_would_be_found(facts: Facts) -> None:
    odd = replace(facts, car=replace(facts.car, notes=("the ECU says so at 30 psi",)))
    assert undefined(customer_page(odd, words("en")), (SHOP.name, "Car A", "Marrit 20T")) == {"ECU"}


# --- digits


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_power_finer_than_its_interval(facts: Facts, language: str) -> None:
    """Of the hand-built answer: 262 in 249 to 275 is wider than 20 kW, so every ceiling printed is in steps of 5."""
    page = customer_page(facts, words(language))
    bars = re.findall(r": (\d+) kW\.", next(i for i in page.blocks[1].items if hasattr(i, "alternative")).alternative)
    assert bars == ["260", "335", "385"]  # 262, 335 (no upper end), 387 by hand
    skips = next(i for i in page.blocks[4].items if isinstance(i, Table))
    assert {int(row[1]) % 5 for row in skips.rows if row[1].isdigit()} == {0}


# --- grey print


def luminance(colour: str) -> float:
    """Relative luminance by WCAG 2.2, "relative luminance"."""
    parts = [int(colour[n : n + 2], 16) / 255.0 for n in (1, 3, 5)]
    red, green, blue = (v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Contrast ratio by WCAG 2.2, "contrast ratio"."""
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("colour", [INK, MUTE, NEED, PINCH])
def test_text_has_the_contrast_that_the_guidelines_ask_for(colour: str) -> None:
    # WCAG 2.2, 1.4.3: at least 4.5 : 1.
    assert contrast(colour, "#FFFFFF") >= 4.5


def test_only_known_colours_are_used_for_text() -> None:
    template = (Path(__file__).resolve().parents[2] / "ui" / "customer.typ").read_text(encoding="utf-8")
    used = set(re.findall(r"#[0-9A-Fa-f]{6}", template + STYLE))
    assert used <= {INK, MUTE, NEED, PINCH, HAZE, RULE}
    assert {HAZE, RULE}.isdisjoint(re.findall(r"(?:[^-]color:|fill: rgb\(\")(#\w{6})", template + STYLE))


def test_bar_hatching_and_paper_stay_apart_in_grey(facts: Facts) -> None:
    page = customer_page(facts, words("en"))
    picture = Image.open(io.BytesIO(sheet_pictures(page, DAY, resolution=150.0)[0]))
    grey = ImageOps.grayscale(picture.convert("RGB"))
    levels = {
        name: int(grey_of(colour)) for name, colour in (("bar", HAZE), ("hatch", PINCH), ("line", NEED), ("ink", INK))
    }
    counts = grey.histogram()
    for level in levels.values():
        assert sum(counts[max(0, level - 3) : level + 4]) > 50  # each is really on the page
    ordered_levels = sorted([*levels.values(), 255])
    assert ordered_levels[-1] - levels["bar"] >= 30  # bar against paper
    assert levels["bar"] - levels["hatch"] >= 60  # hatching against bar
    assert picture.convert("RGB").getpixel((2, 2)) == (255, 255, 255)


def grey_of(colour: str) -> float:
    """Luma by ITU-R BT.601, as the picture library takes it."""
    red, green, blue = (int(colour[n : n + 2], 16) for n in (1, 3, 5))
    return 0.299 * red + 0.587 * green + 0.114 * blue


# --- the file, read by another program


def read(made: bytes) -> str:
    """The text of a PDF."""
    document = pypdfium2.PdfDocument(made)
    return "\n".join(page.get_textpage().get_text_range() for page in document)


def test_pdf_is_tagged_titled_and_says_its_language(facts: Facts) -> None:
    for language in LANGUAGES:
        made = sheet_pdf(customer_page(facts, words(language)), DAY, SHOP.name)
        document = pypdfium2.PdfDocument(made)
        assert pypdfium2.raw.FPDFCatalog_IsTagged(document.raw)
        assert document.get_metadata_dict()["Title"] == "Pennyrake Yard Motor Works: Car A, 340 kW"
        assert re.search(rb"<pdfuaid:part>1</pdfuaid:part>", made)  # ISO 14289-1, 5: the identifier
        assert re.search(rb"<dc:language>.*" + language.encode(), made, re.DOTALL)


def test_printed_numbers_are_the_same_in_both_languages(facts: Facts) -> None:
    found = []
    for language in LANGUAGES:
        said = read(sheet_pdf(customer_page(facts, words(language)), DAY)).replace("\u202f", "")
        said = re.sub(r"\b\d / \d\b", "", said)  # number of the page
        said = re.sub(r"[\xad\ufffe\x02]\r?\n?", "", said)
        found.append(sorted(n.replace(",", ".") for n in re.findall(r"\d+(?:[.,]\d+)?", said)))
    assert found[0] == found[1]
    assert "12372" in found[0]


def test_sheet_of_the_workshop_says_the_same_total_of_hours(facts: Facts) -> None:
    assert "46.0" in read(sheet_pdf(job_sheet(facts, words("en")), DAY))


def test_document_of_the_sheet_holds_each_way_and_its_bill(facts: Facts) -> None:
    told = explain_document(facts, Path("page.pdf"), 10)
    json.dumps(told, allow_nan=False)
    (way,) = told["ways"]  # type: ignore[misc]
    assert (way["name"], way["power_kW"], way["total"]) == ("better", 340.0, 12372.0)  # by hand, see COST
    assert way["bill"]["low"] < way["bill"]["usual"] < way["bill"]["high"] <= way["bill"]["cap"]
    assert [f["finding"] for f in way["bill"]["findings"]] == ["exhaust-bolts"]


def test_browser_shows_the_page_and_asks_nothing_of_anybody(facts: Facts, tmp_path: Path) -> None:
    logo = read_logo(read_shop(SEED / "shop.toml"))
    file = tmp_path / "page.html"
    file.write_text(sheet_html(customer_page(replace(facts, logo=logo), words("de"))), encoding="utf-8")
    asked: list[str] = []
    said: list[str] = []
    with browser() as chromium:
        page = chromium.new_page(viewport={"width": 900, "height": 1200})
        page.on("request", lambda request: asked.append(request.url))
        page.on("console", lambda message: said.append(message.text))
        page.goto(file.as_uri())
        assert page.locator("img").evaluate("mark => mark.naturalWidth > 0")
        assert page.locator("svg[role=img] > title").text_content()
        # each of the three fonts inside the file is read and used (CSS Font Loading, document.fonts)
        fonts = page.evaluate("document.fonts.ready.then(f => [...f].map(x => [x.family, x.weight, x.status]))")
        assert sorted(fonts) == [
            ["Pinchpoint Heading", "600", "loaded"],
            ["Pinchpoint Text", "400", "loaded"],
            ["Pinchpoint Text", "600", "loaded"],
        ]
        assert [h.inner_text()[:1] for h in page.locator("h1, h2").all()][:3] == ["1", "2", "3"]
        page.set_viewport_size({"width": 340, "height": 800})
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth + 1")
    assert [url for url in asked if not url.startswith("data:")] == [file.as_uri()]
    assert said == []


# --- the shop's mark


def test_mark_of_the_demo_shop_is_in_both_files(facts: Facts) -> None:
    logo = read_logo(read_shop(SEED / "shop.toml"))
    assert logo is not None
    page = customer_page(replace(facts, logo=logo), words("en"))
    html = sheet_html(page)
    assert re.findall(r'src="([a-z]+:)', html) == ["data:"]
    assert re.findall(r"(?:href|url\((?!data:)|@import|https?://(?!www\.w3\.org/))", html) == []
    assert "img-src data:" in html
    bare = sheet_pdf(customer_page(facts, words("en")), DAY)
    assert len(sheet_pdf(page, DAY)) > len(bare)


def test_mark_without_words_is_refused(facts: Facts) -> None:
    logo = Logo(form="svg", data=b"<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 9 9'/>", alternative=" ")
    for render in (sheet_html, lambda s: sheet_pdf(s, DAY)):
        with pytest.raises(UsageError, match="logo has no alternative text"):
            render(customer_page(replace(facts, logo=logo), words("en")))


@pytest.mark.parametrize(
    ("name", "data", "said"),
    [
        ("mark.exe", b"MZ", "expected is a file that ends in"),
        ("mark.png", b"no picture", "no SVG, PNG or JPEG"),
        ("mark.svg", b"<svg>" + b" " * 500_001, "bytes"),
        ("gone.svg", None, "cannot be read"),
    ],
)
def test_mark_that_cannot_be_used_says_why(tmp_path: Path, name: str, data: bytes | None, said: str) -> None:
    if data is not None:
        (tmp_path / name).write_bytes(data)
    (tmp_path / "shop.toml").write_text(f'name = "x"\nlogo = "{name}"\n', encoding="utf-8")
    with pytest.raises(UsageError, match=said):
        read_logo(read_shop(tmp_path / "shop.toml"))


# --- decisions


def test_declined_lines_come_back_on_the_next_page(facts: Facts) -> None:
    decisions = (
        Decision(
            car="car-a",
            line="better",
            answer=Answer.NO,
            reason="too dear",
            power=305e3,
            total=24262.0,
            at="2026-05-04T10:00+00:00",
        ),
        Decision(car="car-a", line="turbine", answer=Answer.YES, at="2026-05-04T10:00+00:00"),
    )
    block = customer_page(replace(facts, decisions=decisions), words("en")).blocks[9]
    table = next(i for i in block.items if isinstance(i, Table))
    assert table.rows == (("4 May 2026", "Better, 305 kW, 24\u202f250\u202f€", "no: too dear"),)


def test_newest_answer_counts() -> None:
    no = Decision(car="a", line="good", answer=Answer.NO, reason="x")
    yes = Decision(car="a", line="good", answer=Answer.YES)
    assert still_open([no]) == (no,)
    assert still_open([no, yes]) == ()
    assert still_open([yes, no]) == (no,)


def test_what_can_harm_is_declined_with_initials_only() -> None:
    with pytest.raises(UsageError, match="say why"):
        Decision(car="a", line="good", answer=Answer.NO)
    with pytest.raises(UsageError, match="initials"):
        Decision(car="a", line="brakes", answer=Answer.LATER, harmful=True)
    assert Decision(car="a", line="brakes", answer=Answer.LATER, harmful=True, initials="KM").initials == "KM"


def test_brakes_are_a_line_with_room_for_initials(facts: Facts) -> None:
    ticks = next(i for i in customer_page(facts, words("en")).blocks[9].items if isinstance(i, Ticks))
    assert [ticks.lines[n] for n in ticks.initialled] == [words("en").say("decision_brakes")]


# --- the workshop's sheet


def test_strip_down_comes_first_and_the_program_last(facts: Facts) -> None:
    order = [s.slot for s in ordered(facts, plan_in(facts))]
    # The engine comes out for the pistons (34 h), the rods go with them; then the turbocharger with its housing.
    assert order == ["pistons", "rods", "compressor", "turbine", "intercooler", "calibration"]


def test_job_in_one_strip_down_with_a_late_part_waits(facts: Facts) -> None:
    # The pistons are not here; the compressor shares their engine-out, rods and turbine go with these two.
    assert waits(facts, plan_in(facts)) == {"PY-0", "PY-1", "PY-2", "PY-3"}
    said = " ".join(texts(job_sheet(facts, words("en"))))
    assert "Order first: PY-2 new pistons, 30 days." in said


def test_runs_of_steps_are_drawn_together() -> None:
    assert spans([1, 2, 3, 5, 7, 8], words("en")) == "1 to 3, 5, 7 to 8"


def test_each_step_names_its_cautions_and_the_range_of_its_hours(facts: Facts) -> None:
    sheet = job_sheet(facts, words("en"))
    steps = next(i for i in sheet.blocks[3].items if isinstance(i, Table))
    compressor = next(row for row in steps.rows if row[1] == words("en").slot("compressor"))
    assert "hot" in compressor[5]
    # By hand: 8 h with the range of jobs without cards of their own, 0.85 and 1.35: 6.8 and 10.8.
    assert compressor[6] == "8.0 (6.8 to 10.8)"
    cautions = next(i for i in sheet.blocks[1].items if isinstance(i, Table))
    assert {row[0] for row in cautions.rows} >= set(compressor[5].split(", "))
    assert any(isinstance(i, Text) and "maker's manual" in i.text for i in sheet.blocks[1].items)
