"""A real browser before the pages: the demo shop loaded, a car opened, the target moved, the book opened."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Browser, ConsoleMessage, Page, expect, sync_playwright

from ui.app_command import HOST, command_line
from ui.desk import DATABASE

NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "microsoft-edge")
ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-dev-shm-usage",
]
READY = 60.0


#: Below a page's own path the page server is first asked in vain where it lives; the next question finds it.
ASKED_FIRST = "/_stcore/"
LADDER = "[data-testid=stVegaLiteChart] >> visible=true"


class MissingBrowser(RuntimeError):
    """No browser on this machine."""


def find_browser() -> str:
    """Path of a browser; without one the sentence that tells what to install."""
    for name in (os.environ.get("CHROMIUM", ""), *NAMES):
        found = shutil.which(name) if name else None
        if found:
            return found
    raise MissingBrowser(
        "No Chromium found. Install it with: apt-get install chromium libatomic1 fonts-dejavu-core, "
        "or name a browser in the variable CHROMIUM."
    )


@contextmanager
def browser() -> Iterator[Browser]:
    """A browser without a window."""
    path = find_browser()
    with sync_playwright() as driver:
        opened = driver.chromium.launch(executable_path=path, args=ARGUMENTS)
        try:
            yield opened
        finally:
            opened.close()


@contextmanager
def pages(url: str, folder: Path) -> Iterator[str]:
    """The pages of a database, served on a free port; gives their address."""
    with socket.socket() as free:
        free.bind((HOST, 0))
        port = free.getsockname()[1]
    with (folder / "server.log").open("wb") as log:
        server = subprocess.Popen(
            command_line(port, browser=False),
            env={**os.environ, DATABASE: url},
            cwd=folder,  # the settings hold from any folder
            stdout=log,
            stderr=subprocess.STDOUT,
        )
        try:
            _wait(f"http://{HOST}:{port}/_stcore/health", server)
            yield f"http://{HOST}:{port}"
        finally:
            server.terminate()
            server.wait(timeout=20)


def _wait(address: str, server: subprocess.Popen[bytes]) -> None:
    end = time.monotonic() + READY
    while time.monotonic() < end:
        if server.poll() is not None:
            raise RuntimeError(f"the page server ended with {server.returncode}")
        try:
            with urllib.request.urlopen(address, timeout=2):
                return
        except (urllib.error.URLError, OSError):
            time.sleep(0.1)
    raise TimeoutError(f"{address} did not answer within {READY:.0f} s")


class Watch:
    """What a page asks of the network and what it complains about."""

    def __init__(self, page: Page, address: str) -> None:
        self.outside: list[str] = []
        self.errors: list[str] = []
        self.host = urlsplit(address).netloc
        page.on("request", lambda request: self._ask(request.url))
        page.on("websocket", lambda socket: self._ask(socket.url))
        page.on("console", self._hear)
        page.on("pageerror", lambda error: self.errors.append(str(error)))

    def _ask(self, url: str) -> None:
        parts = urlsplit(url)
        if parts.scheme not in ("data", "blob") and parts.netloc != self.host:
            self.outside.append(url)

    def _hear(self, message: ConsoleMessage) -> None:
        path = urlsplit(message.location.get("url", "")).path
        if message.type == "error" and not (ASKED_FIRST in path and not path.startswith(ASKED_FIRST)):
            self.errors.append(f"{message.text} {path}")


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
    expect(page.get_by_role("heading", name="The book holds 86 parts")).to_be_visible()
    page.get_by_role("link", name="PY-1110").click()
    expect(page.get_by_role("heading", name="PY-1110, Vundle 240 tank pump")).to_be_visible()
    assert watch.outside == []
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
