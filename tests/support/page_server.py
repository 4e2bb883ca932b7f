"""The pages as a process of their own, and an eye on what a browser asks for and complains about."""

from __future__ import annotations

import os
import socket
import subprocess
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import urlsplit

from playwright.sync_api import ConsoleMessage, FilePayload, Locator, Page
from playwright.sync_api import TimeoutError as NotThere

from ui.app_command import HOST, command_line
from ui.desk import DATABASE, SHOP

READY = 60.0
#: Below a page's own path the page server is first asked in vain where it lives; the next question finds it.
ASKED_FIRST = "/_stcore/"
#: True when no step is under way and no work goes on beside the page.
SETTLED = """() => !document.querySelector('.working, [data-testid=stSkeleton]') && document.querySelector('h1')
    && document.querySelector('[data-testid=stApp]').dataset.testScriptState === 'notRunning'"""
PICTURES = "PINCHPOINT_SCREENSHOTS"
#: Where they go otherwise; found as this is read, before tests get a cache of their own.
USUAL = Path(os.environ.get("XDG_CACHE_HOME", Path.home() / ".cache")) / "pinchpoint" / "screenshots"


@contextmanager
def pages(url: str, folder: Path) -> Iterator[str]:
    """The pages of a database, served on a free port; gives their address."""
    with socket.socket() as free:
        free.bind((HOST, 0))
        port = free.getsockname()[1]
    own = {
        DATABASE: url,
        SHOP: str(folder / "shop.toml"),
        "XDG_CONFIG_HOME": str(folder / "config"),
        "XDG_CACHE_HOME": str(folder / "cache"),  # nothing that an earlier run found
    }
    with (folder / "server.log").open("wb") as log:
        server = subprocess.Popen(
            command_line(port, browser=False),
            env={**os.environ, **own},
            cwd=folder,  # the settings hold from any folder
            stdout=log,
            stderr=subprocess.STDOUT,
        )
        try:
            _wait(f"http://{HOST}:{port}/_stcore/health", server)
            yield f"http://{HOST}:{port}"
        finally:
            server.terminate()
            try:
                server.wait(timeout=20)
            except subprocess.TimeoutExpired:  # a search under way is not waited for
                server.kill()
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

    def quiet(self) -> None:
        """Nothing was asked of another machine and nothing went wrong."""
        assert self.outside == []
        assert self.errors == []


def choose(page: Page, label: str, text: str = "") -> None:
    """Take an entry of a list, the first that holds a text; a redraw under way may close the list once or twice.

    Parameters
    ----------
    page : Page
        With the list.
    label : str
        Of the list.
    text : str
        Of the entry; empty for the first one.
    """
    box = page.get_by_role("combobox", name=label, exact=True)
    for _ in range(6):
        box.click()
        if text:
            box.fill(text)
        try:
            page.get_by_role("option", name=text).first.click(timeout=5000)
        except NotThere:
            continue
        break
    page.keyboard.press("Escape")  # an open list hides the rest of the page from assistive tools
    settle(page)


def settle(page: Page, patience: float = 120.0) -> None:
    """Wait until a page has said everything."""
    quiet = 0
    end = time.monotonic() + patience
    while quiet < 4:
        quiet = quiet + 1 if page.evaluate(SETTLED) else 0
        if time.monotonic() > end:
            raise TimeoutError(f"{page.url} was still at work after {patience:.0f} s")
        page.wait_for_timeout(150)


def unfold(page: Page, title: str, inside: Locator) -> None:
    """Open a fold and wait for what is in it; a redraw that came late may have closed it again."""
    for _ in range(3):
        settle(page)
        if inside.is_visible():
            return
        page.get_by_text(title).click()
        page.wait_for_timeout(300)
    settle(page)


def hand_over(page: Page, file: Path | FilePayload) -> None:
    """Give a file to the first place of a page that takes one; a page still at work would lose it."""
    settle(page)
    page.locator("[data-testid=stFileUploaderDropzoneInput]").first.set_input_files(file)


def picture(page: Page, name: str) -> Path:
    """Keep what a page looks like, in a folder outside the checkout."""
    folder = Path(os.environ.get(PICTURES, USUAL))
    folder.mkdir(parents=True, exist_ok=True)
    before = page.viewport_size or {"width": 1250, "height": 1000}
    tall = int(page.evaluate("document.querySelector('[data-testid=stMain]').scrollHeight"))
    page.set_viewport_size({"width": before["width"], "height": min(max(tall + 20, before["height"]), 4000)})
    page.wait_for_timeout(500)
    page.screenshot(path=folder / f"{name}.png")
    page.set_viewport_size(before)
    return folder / f"{name}.png"
