"""Every page before an accessibility checker, at 400 % zoom, without colour, and with the keyboard alone.

Rules: axe-core, and the success criteria of WCAG 2.2 that each test names.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from page_server import Watch, pages, picture, settle
from playwright.sync_api import Browser, Page, expect
from real_browser import browser

from graph.learnt import Learnt
from graph.store import keep_lesson, open_database
from ingest.book import store_book

VERSION = "4.14.1"
USUAL = Path(os.environ.get("XDG_CACHE_HOME", Path.home() / ".cache")) / "pinchpoint" / "axe"
SERIOUS = ("serious", "critical")
VIEWS = {
    "cars": "/",
    "ladder": "/plan?car=car-a&power=340&boost=2.2",
    "paths": "/plan?car=car-a&power=305&boost=2.2&view=paths",
    "curves": "/plan?car=car-a&power=305&boost=2.2&view=curves",
    "fit": "/plan?car=car-a&power=305&boost=2.2&view=fit",
    "money": "/plan?car=car-c&power=300&boost=1.8&view=money",
    "stages": "/plan?car=car-c&power=300&boost=1.8&view=stages",
    "arrival": "/arrival?car=car-b&shows=oil-level-up",
    "dyno": "/dyno?car=car-b",
    "parts": "/parts",
    "part": "/parts?part=PY-3011",
    "ask": "/ask?question=no-usable-rating",
    "settings": "/settings",
    "people": "/people",
    "trail": "/trail",
}

FOCUSED = """(() => {const e = document.activeElement; return (e.innerText || e.getAttribute('aria-label') || e.tagName) + ' '
    + (e.getAttribute('role') || (e.type === 'range' ? 'slider' : e.tagName))})()"""


class MissingChecker(RuntimeError):
    """The accessibility checker is not on this machine."""


def checker(folder: Path | None = None) -> str:
    """Text of the checker; without it the sentence that tells how to get it."""
    file = (folder or Path(os.environ.get("PINCHPOINT_AXE", USUAL))) / f"axe-{VERSION}.min.js"
    if not file.is_file():
        raise MissingChecker(f"No axe-core {VERSION} found. Install npm and fetch it with: bash tests/fetch_axe.sh")
    return file.read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    with browser() as opened:
        yield opened


@pytest.fixture(scope="module")
def shown(demo_database, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    folder = tmp_path_factory.mktemp("accessible")
    with pages(demo_database.engine.url.render_as_string(hide_password=False), folder) as address:
        yield address


def opened(chromium: Browser, address: str, width: int = 1250, height: int = 1000, **how: str) -> Page:
    page = chromium.new_page(viewport={"width": width, "height": height}, **how)
    page.set_default_timeout(60_000)
    page.goto(address)
    settle(page, 400.0)  # money and stages are searches
    return page


def found_by(page: Page) -> list[str]:
    """Serious findings of the checker: rule, what it is about, where."""
    page.evaluate(checker())
    result = page.evaluate("axe.run(document, {resultTypes: ['violations']})")
    return [
        f"{v['id']}: {v['help']}: {n['target']} {n['html'][:160]}"
        for v in result["violations"]
        if v["impact"] in SERIOUS
        for n in v["nodes"]
    ]


def test_missing_checker_is_a_sentence_that_tells_how_to_get_it(tmp_path: Path):
    with pytest.raises(MissingChecker, match=r"bash tests/fetch_axe\.sh"):
        checker(tmp_path)


@pytest.mark.parametrize("view", VIEWS)
def test_checker_finds_nothing_serious(chromium: Browser, shown: str, view: str):
    page = opened(chromium, shown + VIEWS[view])
    found = found_by(page)
    page.close()
    assert found == []


def test_engine_that_rollers_taught_is_named_on_the_page(chromium: Browser, demo_book, tmp_path: Path):
    database = open_database(f"sqlite:///{tmp_path}/learnt.sqlite")
    store_book(database, demo_book, who="tests", version="0")
    # made up: breathing 4 % below the sheet, known to 1 %; ln 0.96 = -0.0408
    learnt = Learnt(
        fields=("breathing",),
        mean=(-0.0408,),
        covariance=((1e-4,),),
        readings=12,
        records=("pull-7.csv",),
        fuels=("ron98",),
    )
    with database.write() as unit:
        keep_lesson(unit, "car-a", learnt, who="Kim", tool_version="0")
    database.engine.dispose()
    with pages(database.engine.url.render_as_string(hide_password=False), tmp_path) as address:
        page = opened(chromium, address + VIEWS["ladder"])
        expect(page.get_by_text("learnt from 1 record (12 readings)")).to_be_visible()
        expect(page.get_by_text("breathing x 0.96")).to_be_visible()
        expect(page.get_by_text("by Kim")).to_be_visible()
        expect(page.get_by_text("--as-stated")).to_have_count(0)  # a command's word
        found = found_by(page)
        picture(page, "engine learnt")
        page.goto(address + VIEWS["ladder"].replace("car-a", "car-c"))
        settle(page)
        expect(page.get_by_text("learnt from")).to_have_count(0)
        page.close()
    assert found == []


@pytest.mark.parametrize("view", ["ladder", "part"])
def test_checker_finds_nothing_serious_on_the_dark_ground(chromium: Browser, shown: str, view: str):
    page = opened(chromium, shown + VIEWS[view], color_scheme="dark")
    found = found_by(page)
    picture(page, f"dark {view}")
    page.close()
    assert found == []


def test_checker_sees_what_is_wrong(chromium: Browser):
    # the checker itself: a picture without a text and an input without a label are serious (WCAG 1.1.1, 4.1.2)
    page = chromium.new_page()
    page.set_content('<html lang="en"><title>t</title><main><h1>x</h1><img src="data:,"><input></main></html>')
    rules = {line.split(":")[0] for line in found_by(page)}
    page.close()
    assert {"image-alt", "label"} <= rules


@pytest.mark.parametrize("view", [v for v in VIEWS if v not in ("fit", "money", "stages")])
def test_at_400_percent_nothing_scrolls_sideways(chromium: Browser, shown: str, view: str):
    # WCAG 2.2, 1.4.10 Reflow: 320 CSS px, which is 1280 px at 400 %
    page = opened(chromium, shown + VIEWS[view], width=320, height=640)
    wide = page.evaluate("[document.documentElement.scrollWidth, window.innerWidth]")
    main = page.evaluate("(m => [m.scrollWidth, m.clientWidth])(document.querySelector('[data-testid=stMain]'))")
    picture(page, f"narrow {view}")
    page.close()
    assert wide[0] <= wide[1]
    assert main[0] <= main[1]


def test_plan_is_asked_with_the_keyboard_alone(chromium: Browser, shown: str):
    # WCAG 2.2, 2.1.1 Keyboard and 2.4.7 Focus Visible
    page = opened(chromium, f"{shown}/plan?car=car-a&power=300&boost=2.2")
    watch = Watch(page, shown)
    reached: list[str] = []
    for _ in range(40):
        page.keyboard.press("Tab")
        reached.append(page.evaluate(FOCUSED))
        if reached[-1].endswith("slider"):
            break
    assert reached[-1].endswith("slider"), reached
    ring = page.evaluate(
        "(s => s.outlineStyle !== 'none' || s.boxShadow !== 'none')(getComputedStyle(document.activeElement))"
    )
    assert ring
    page.keyboard.press("ArrowRight")
    expect(page.locator(".note").get_by_text("target 305")).to_be_visible(timeout=60_000)
    assert watch.errors == []
    page.close()


def test_ladder_is_read_without_colour(chromium: Browser, shown: str):
    # WCAG 2.2, 1.4.1 Use of Color: with every colour taken away each row still has a word or a sign for its state
    page = opened(chromium, shown + VIEWS["ladder"])
    page.add_style_tag(content="html {filter: grayscale(1);}")
    picture(page, "grey ladder")
    page.get_by_text("The ladder as a table").click()
    states = page.locator("td[data-head=verdict]").all_inner_texts()
    page.close()
    assert len(states) > 20
    assert all(any(word in state for word in ("clear", "margin", "short", "not known")) for state in states)
    assert all(state[0] in "◀‖▷?" for state in states)
