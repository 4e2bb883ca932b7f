"""A real browser before the pages: the demo shop loaded, a car opened, the target moved, the book opened."""

from __future__ import annotations

import socket
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from page_server import Watch, pages
from playwright.sync_api import Browser, expect
from real_browser import MissingBrowser, browser, find_browser

LADDER = "[data-testid=stVegaLiteChart] >> visible=true"


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    with browser() as opened:
        yield opened


@pytest.fixture(scope="module")
def fresh(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Pages of a shop without any data."""
    folder = tmp_path_factory.mktemp("pages")
    with pages(f"sqlite:///{folder}/shop.sqlite", folder) as address:
        yield address


@pytest.fixture
def shown(demo_database, tmp_path: Path) -> Iterator[str]:
    """Pages of the demo shop."""
    with pages(demo_database.engine.url.render_as_string(hide_password=False), tmp_path) as address:
        yield address


def test_missing_browser_is_a_sentence_that_tells_what_to_install(monkeypatch: pytest.MonkeyPatch, tmp_path: Path):
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.delenv("CHROMIUM", raising=False)
    with pytest.raises(MissingBrowser, match="apt-get install chromium"):
        find_browser()


def test_from_an_empty_shop_to_a_moved_target_and_the_book(chromium: Browser, fresh: str):
    page = chromium.new_page(viewport={"width": 1250, "height": 1000})
    page.set_default_timeout(60_000)
    expect.set_options(timeout=60_000)
    watch = Watch(page, fresh)
    page.goto(fresh)
    page.get_by_role("button", name="Load the demo shop").click()
    expect(page.get_by_role("heading", name="3 cars are on record")).to_be_visible()
    page.get_by_role("link", name="car-a").click()
    expect(page.get_by_role("heading", name="The turbine stops car-a at")).to_be_visible()
    # 270 kW is a fifth above the 225 kW of the platform sheet
    expect(page.locator(".note").get_by_text("target 270")).to_be_visible()
    expect(page.locator(LADDER).first).to_be_visible()
    expect(page.get_by_role("heading", name="What would clear")).to_be_visible()
    page.get_by_role("slider", name="wants, crank kW").press("ArrowRight")
    expect(page.locator(".note").get_by_text("target 275")).to_be_visible()
    assert "power=275" in page.url
    page.locator(LADDER).first.locator("text").get_by_text("compressor", exact=True).click(force=True)
    expect(page.get_by_role("heading", name="Compressor: ")).to_be_visible()
    assert "row=compressor" in page.url
    page.get_by_role("link", name="parts", exact=True).click()
    expect(page.get_by_role("heading", name="The book holds 87 parts")).to_be_visible()
    page.get_by_role("link", name="PY-1110").click()
    expect(page.get_by_role("heading", name="PY-1110, Vundle 240 tank pump")).to_be_visible()
    assert watch.outside == []
    assert watch.errors == []
    page.close()


def test_every_page_opens_at_the_address_that_is_its_word(chromium: Browser, shown: str):
    page = chromium.new_page(viewport={"width": 1250, "height": 1000})
    page.set_default_timeout(60_000)
    watch = Watch(page, shown)
    page.goto(shown)
    links = page.locator("[data-testid=stTopNavLink]")
    expect(links.first).to_be_visible()
    names = [name.strip() for name in links.all_inner_texts()]
    assert {"cars", "plan", "parts"} <= set(names)
    for name in names:
        page.goto(f"{shown}/{name}")
        expect(page.get_by_role("heading").first).to_be_visible()
        expect(page.get_by_text("Page not found")).to_have_count(0)
    page.goto(f"{shown}/cars")
    expect(page.get_by_role("heading", name="3 cars are on record")).to_be_visible()
    assert watch.errors == []
    page.close()


def test_address_opens_the_same_question_and_a_phone_shows_it_without_sideways_scrolling(chromium: Browser, shown: str):
    page = chromium.new_page(viewport={"width": 390, "height": 844})
    page.set_default_timeout(60_000)
    watch = Watch(page, shown)
    page.goto(f"{shown}/plan?car=car-b&power=305&boost=1.9&row=rods")
    expect(page.locator(".note").get_by_text("target 305")).to_be_visible(timeout=60_000)
    expect(page.get_by_text("Not known, and never counted as clear")).to_be_visible(timeout=60_000)
    expect(page.get_by_role("heading", name="Rods: ")).to_be_visible(timeout=60_000)
    widths = page.evaluate("[document.documentElement.scrollWidth, window.innerWidth]")
    assert widths[0] <= widths[1]
    assert watch.outside == []
    assert watch.errors == []
    page.close()


def test_foreign_page_cannot_reach_the_shop(shown: str):
    # a page of another origin: the handshake of RFC 6455 with its own Origin is refused
    host = urlsplit(shown)
    asked = (
        f"GET /_stcore/stream HTTP/1.1\r\nHost: {host.netloc}\r\nUpgrade: websocket\r\nConnection: Upgrade\r\n"
        "Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\nSec-WebSocket-Version: 13\r\n"
        "Origin: http://elsewhere.example\r\n\r\n"
    )
    with socket.create_connection((host.hostname, host.port), timeout=10) as raw:
        raw.sendall(asked.encode())
        answer = raw.recv(200).decode("latin-1")
    assert answer.split()[1] == "403"
