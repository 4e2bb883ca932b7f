"""How long the ways of a customer's page take, beside planning every power of it with its reasons.

Run by hand: ``python tests/bench_explain.py [CAR ...]``. Both figures come from the same run on the same machine.
"""

from __future__ import annotations

import datetime
import sys
import tempfile
import time
from pathlib import Path

from graph.plan.wish import ShopTerms, Wishes
from graph.proposal import Bureau, Terms
from graph.service import Request, assess
from graph.store import open_database
from ingest.book import read_book, store_book
from ingest.operation import read_operations
from ui.customer_options import offer, powers
from ui.customer_page import customer_page
from ui.customer_pdf import sheet_pdf
from ui.customer_words import words
from ui.explain_command import gather
from ui.shop_settings import read_shop

SEED = Path(__file__).resolve().parent.parent / "seed_parts"
ASKED = {
    "car-a": Request(power=340e3, boost=2.2e5),
    "car-b": Request(power=320e3, boost=2.0e5),
    "car-c": Request(power=330e3, boost=2.2e5, duration=1200.0, ambient=303.15),
}
PATIENCE = 240.0


def main(cars: list[str]) -> None:
    """Print wall and processor time of each part of the work."""
    settings = read_shop(SEED / "shop.toml")
    operations, _ = read_operations(SEED / "labour" / "operations.csv")
    terms = Terms(
        shop=ShopTerms(hourly_rate=settings.hourly_rate, tax=settings.tax), operations=operations, patience=PATIENCE
    )
    with tempfile.TemporaryDirectory() as folder:
        database = open_database(f"sqlite:///{folder}/shop.sqlite")
        store_book(database, read_book([SEED]), who="bench", version="0")
        with database.read() as view:
            for car in cars:
                request = ASKED[car]
                report = assess(view, car, request, suggest=False)
                watch = Watch(car)
                made = offer(Bureau(view, car, request, terms, Wishes()), report, PATIENCE)
                watch.say(f"{len(made.options)} ways, the chosen one with its reasons")
                bureau = Bureau(view, car, request, terms, Wishes())
                asked = sorted({*powers(report), request.power})
                for power in asked:
                    bureau.plan(power)
                watch.say(f"baseline: {len(asked)} powers planned, each with its reasons")
                facts = gather(view, car, request, settings, datetime.date(2026, 11, 25), plan=False)
                watch.say("the answer without a plan")
                sheet_pdf(customer_page(facts, words("en")), facts.date)
                watch.say("setting the page")


class Watch:
    """Tells how long each step took."""

    def __init__(self, name: str) -> None:
        self.name, self.wall, self.busy = name, time.monotonic(), time.process_time()

    def say(self, what: str) -> None:
        wall, busy = time.monotonic(), time.process_time()
        print(f"{self.name}  {wall - self.wall:7.2f} s, processor {busy - self.busy:7.2f} s  {what}", flush=True)
        self.wall, self.busy = wall, busy


if __name__ == "__main__":
    main(sys.argv[1:] or list(ASKED))
