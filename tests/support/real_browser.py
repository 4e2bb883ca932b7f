"""A real browser for tests, the one of this machine."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager

from playwright.sync_api import Browser, sync_playwright

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
