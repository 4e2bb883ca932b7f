"""Times the pages in a real browser: python tests/bench_pages.py [--quick].

The first page of a server that has just started; from the key press on the slider to the ladder drawn for the new target
and to the remedies below it, for targets never asked before and for targets asked already; a part looked up in a book of
10,000. Beside each median stands the processor time of the page server and of the browser's page for the same move: on a
machine with other work it says what the wall clock cannot.
"""

import os
import statistics
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

from graph.store import open_database
from ingest.book import read_book, store_book

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE / "support"))
from page_server import pages, settle  # noqa: E402
from real_browser import browser  # noqa: E402

SEED = HERE.parent / "seed_parts"
MOVES = 4 if "--quick" in sys.argv else 12
MANY = 10_000
TICK = os.sysconf("SC_CLK_TCK") if hasattr(os, "sysconf") else 100
DRAWN = """power => [...document.querySelectorAll('[data-testid=stVegaLiteChart] text')]
    .some(text => text.textContent === `target ${power} kW`)"""
REMEDIES = "power => [...document.querySelectorAll('h2')].some(h => h.textContent.includes(`clear ${power} kW`))"
LISTED = """number => { const links = [...document.querySelectorAll('table.sheet td a')];
    return links.length === 1 && links[0].textContent === number; }"""


class Meter:
    """Processor time of the page server and of one page of the browser [s]."""

    def __init__(self, page, port):
        self.session = page.context.new_cdp_session(page)
        self.session.send("Performance.enable")
        self.server = server_of(port)

    def read(self):
        metrics = {m["name"]: m["value"] for m in self.session.send("Performance.getMetrics")["metrics"]}
        return processor_time(self.server), metrics["ThreadTime"]


def server_of(port):
    """Number of the process that serves a port, by its command line; None where /proc is missing."""
    for folder in Path("/proc").glob("[0-9]*"):
        try:
            words = (folder / "cmdline").read_bytes().decode("utf-8", "replace")
        except OSError:
            continue
        if f"--server.port={port}" in words:
            return folder.name
    return None


def processor_time(process):
    if process is None:
        return float("nan")
    fields = (Path("/proc") / process / "stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / TICK


def moved(page, meter, key, power):
    """Wall clock to the ladder and to the remedies, processor time of server and page to the ladder [s]."""
    before = meter.read()
    start = time.perf_counter()
    page.get_by_role("slider", name="wants, crank kW").press(key)
    page.wait_for_function(DRAWN, arg=power, polling=10)
    ladder = time.perf_counter() - start
    after = meter.read()
    page.wait_for_function(REMEDIES, arg=power, polling=10)
    settle(page)
    return ladder, time.perf_counter() - start, after[0] - before[0], after[1] - before[1]


def looked_up(page, meter, number):
    """Wall clock from the last key to the one part listed, processor time of server and page [s]."""
    box = page.get_by_role("textbox", name="Find")
    box.fill(number)
    before = meter.read()
    start = time.perf_counter()
    box.press("Enter")
    page.wait_for_function(LISTED, arg=number, polling=10)
    found = time.perf_counter() - start
    after = meter.read()
    settle(page)
    return found, after[0] - before[0], after[1] - before[1]


def shown(name, heads, times):
    said = (
        f"{head} median {statistics.median(values):.3f} s, longest {max(values):.3f} s"
        for head, values in zip(heads, zip(*times, strict=True), strict=True)
    )
    print(f"{name}, n={len(times)}: {'; '.join(said)}", flush=True)


def port_of(address):
    return address.rpartition(":")[2]


def slider(url, folder, opened):
    started = time.perf_counter()
    with pages(url, folder) as address:
        ready = time.perf_counter()
        page = opened.new_page(viewport={"width": 1250, "height": 1000})
        page.set_default_timeout(120_000)
        page.goto(f"{address}/plan?car=car-a&power=300&boost=2.2")
        page.wait_for_function(DRAWN, arg=300, polling=10)
        meter = Meter(page, port_of(address))
        now = time.perf_counter()
        print(
            f"first page cold: {now - ready:.2f} s to its ladder, server ready after {ready - started:.2f} s, "
            f"processor time of the server {meter.read()[0]:.2f} s, of the page {meter.read()[1]:.2f} s",
            flush=True,
        )
        page.wait_for_function(REMEDIES, arg=300, polling=10)
        settle(page)
        heads = ("ladder", "remedies", "server", "page")
        shown("new target", heads, [moved(page, meter, "ArrowRight", 305 + 5 * i) for i in range(MOVES)])
        back = [moved(page, meter, "ArrowLeft", 295 + 5 * (MOVES - i)) for i in range(MOVES)]
        shown("asked before", heads, back)
        page.close()


def look_up(url, folder, opened):
    with pages(url, folder) as address:
        page = opened.new_page(viewport={"width": 1250, "height": 1000})
        page.set_default_timeout(240_000)
        start = time.perf_counter()
        page.goto(f"{address}/parts")
        page.wait_for_function("() => document.querySelectorAll('table.sheet td a').length === 40", polling=10)
        print(f"book of {MANY} parts opened in {time.perf_counter() - start:.2f} s", flush=True)
        settle(page)
        meter = Meter(page, port_of(address))
        numbers = [f"XN-{(7919 * (i + 1)) % MANY:05d}" for i in range(MOVES)]
        shown("look-up", ("part", "server", "page"), [looked_up(page, meter, n) for n in numbers])
        page.close()


def many_parts(book):
    """The book with every part again under new numbers."""
    parts = list(book.parts)
    known = len(parts)
    parts += [replace(parts[i % known], id=f"XN-{i:05d}") for i in range(MANY)]
    return replace(book, parts=parts)


def main():
    with tempfile.TemporaryDirectory() as place, browser() as opened:
        folder = Path(place)
        book = read_book([SEED])
        url = f"sqlite:///{folder}/shop.sqlite"
        store_book(open_database(url), book, who="bench", version="0")
        slider(url, folder, opened)
        url = f"sqlite:///{folder}/many.sqlite"
        store_book(open_database(url), many_parts(book), who="bench", version="0")
        look_up(url, folder, opened)


if __name__ == "__main__":
    main()
