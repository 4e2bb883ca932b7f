"""Times the pages in a real browser: python tests/bench_pages.py.

From the key press on the slider to the ladder that is drawn for the new target, and to the remedies below it; once for
targets never asked before and once for targets asked already.
"""

import statistics
import sys
import tempfile
import time
from pathlib import Path

from graph.store import open_database
from ingest.book import read_book, store_book

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE / "support"))
from page_server import pages  # noqa: E402
from real_browser import browser  # noqa: E402

SEED = HERE.parent / "seed_parts"
MOVES = 8
DRAWN = """power => [...document.querySelectorAll('[data-testid=stVegaLiteChart] text')]
    .some(text => text.textContent === `target ${power} kW`)"""
REMEDIES = "power => [...document.querySelectorAll('h2')].some(h => h.textContent.includes(`clear ${power} kW`))"


def moved(page, key, power):
    """Seconds from one key press to the ladder and to the remedies."""
    start = time.perf_counter()
    page.get_by_role("slider", name="wants, crank kW").press(key)
    page.wait_for_function(DRAWN, arg=power, polling=10)
    ladder = time.perf_counter() - start
    page.wait_for_function(REMEDIES, arg=power, polling=10)
    return ladder, time.perf_counter() - start


def shown(name, times):
    for what, values in zip(("ladder", "remedies"), zip(*times, strict=True), strict=True):
        print(
            f"{name} {what:9} median {statistics.median(values):5.2f} s, longest {max(values):5.2f} s, n={len(values)}"
        )


def main():
    with tempfile.TemporaryDirectory() as folder:
        url = f"sqlite:///{folder}/shop.sqlite"
        store_book(open_database(url), read_book([SEED]), who="bench", version="0")
        with pages(url, Path(folder)) as address, browser() as opened:
            page = opened.new_page(viewport={"width": 1250, "height": 1000})
            page.set_default_timeout(120_000)
            start = time.perf_counter()
            page.goto(f"{address}/plan?car=car-a&power=300&boost=2.2")
            page.wait_for_function(DRAWN, arg=300, polling=10)
            print(f"first ladder {time.perf_counter() - start:5.2f} s")
            page.wait_for_function(REMEDIES, arg=300, polling=10)
            shown("new target  ", [moved(page, "ArrowRight", 305 + 5 * i) for i in range(MOVES)])
            shown("asked before", [moved(page, "ArrowLeft", 295 + 5 * (MOVES - i)) for i in range(MOVES)])


if __name__ == "__main__":
    main()
