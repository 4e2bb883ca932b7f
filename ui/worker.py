"""A process of its own for long work: takes one errand after the other, says how far it is, hands back what it found.

Started by :mod:`ui.errand`; both ends speak pickles over the two pipes between them, so that
a search never holds up the pages and can be ended at any moment.
"""

from __future__ import annotations

import copyreg
import datetime
import pickle
import sys
from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache, partial
from types import MappingProxyType
from typing import Any, BinaryIO

from graph import staging, sweep
from graph.errors import PinchpointError
from graph.memory import Memory
from graph.plan.record import Plan, Point
from graph.proposal import Bureau
from graph.report import Report
from graph.service import Request, assess, remedied
from graph.store import Database, open_database
from ui import kept
from ui.commission import Commission, News, Printed
from ui.customer_html import sheet_html
from ui.customer_page import customer_page
from ui.customer_pdf import sheet_pdf
from ui.customer_words import words
from ui.explain_command import WORKSHOP, gather
from ui.job_sheet import job_sheet
from ui.shop_settings import ShopSettings

#: Longest search of each round of a plan [s]: the first answers come soon, the last round has the shop's patience.
ROUNDS = (2.0, 10.0, 30.0)
#: Cars whose solved engine states a worker keeps.
KEPT = 4


Say = Callable[[News], None]


def _thaw(content: dict[Any, Any]) -> MappingProxyType[Any, Any]:
    return MappingProxyType(content)


def _freeze(mapping: MappingProxyType[Any, Any]) -> tuple[Callable[..., Any], tuple[dict[Any, Any]]]:
    return _thaw, (dict(mapping),)


copyreg.pickle(MappingProxyType, _freeze)


@lru_cache(maxsize=2)
def _database(url: str) -> Database:
    return open_database(url)


@lru_cache(maxsize=KEPT)
def _bureau(commission: Commission) -> Bureau:
    with _database(commission.url).read() as view:
        return Bureau(view, commission.car, commission.request, commission.terms, commission.wishes)


@lru_cache(maxsize=KEPT)
def _memory(state: str, car: str, install: tuple[str, ...]) -> Memory:
    del state, car, install
    return Memory()


def refine(say: Say, url: str, state: str, car: str, request: Request) -> None:
    """Check a car with its uncertainty, then look for what clears its limits; the last word has both."""
    memory = _memory(state, car, request.install)
    with _database(url).read() as view:
        report: Report = assess(view, car, request, suggest=False, memory=memory)
        say(News(words="looking through the book for what clears each limit", best=report))
        say(News(words="", best=remedied(view, car, request, report), done=True))


def plan(say: Say, commission: Commission, power: float, budget: float | None = None) -> None:
    """Find the cheapest set of parts for a power: in rounds of rising patience, each with the best set so far."""
    bureau = _bureau(commission)
    patience = commission.terms.patience
    best: Plan | None = None
    say(News(words="looking for a first set of parts"))
    for longest in (*(r for r in ROUNDS if r < patience), patience):
        bureau.terms = replace(commission.terms, patience=longest)
        found = bureau.plan(power, budget=budget).plan
        if found.reachable or best is None:
            best = found
        if found.proven:
            break
        say(News(words="a set is found; looking for a cheaper one" if best.reachable else "no set yet", best=best))
    bureau.terms = commission.terms
    if best is not None and not best.reachable and best.proven:
        best = _refused(say, bureau, power, best, budget)
    say(News(words="", best=best, done=True))


def _refused(say: Say, bureau: Bureau, power: float, plan: Plan, budget: float | None) -> Plan:
    """A plan that cannot be, with its reasons worked out with the shop's patience and not with that of a round."""
    known = plan if plan.irreducible else replace(plan, conflict=())
    if budget is not None:
        return plan if plan.irreducible else bureau.plan(power, budget=budget).plan
    say(News(words="no set keeps the margins; looking for why, and for what comes nearest", best=known))
    return sweep.answered(bureau, power)


def frontier(say: Say, commission: Commission, stride: float) -> None:
    """Money against power, point by point."""
    bureau = _bureau(commission)
    bureau.terms = commission.terms
    points: list[Point] = []

    def told(point: Point) -> None:
        points.append(point)
        say(News(words=f"{point.power / 1e3:.0f} kW is planned", best=tuple(points)))

    say(News(words="planning the lowest power"))
    say(News(words="", best=kept.frontier(bureau, stride, told), done=True))


def stages(say: Say, commission: Commission, first: float, second: float) -> None:
    """Two stages, one after the other."""
    bureau = _bureau(commission)
    bureau.terms = commission.terms
    say(News(words="comparing the ways to the second stage"))
    say(News(words="", best=staging.staged(bureau, first, second), done=True))


def sheet(
    say: Say,
    url: str,
    car: str,
    request: Request,
    shop: ShopSettings,
    date: datetime.date,
    reader: str,
    language: str,
) -> None:
    """A customer's page, or the job sheet for the workshop, as PDF and as HTML."""
    say(News(words="comparing the ways to do it"))
    with _database(url).read() as view:
        facts = gather(view, car, request, shop, date)
    say(News(words="setting the page"))
    made = (job_sheet if reader == WORKSHOP else customer_page)(facts, words(language))
    found = Printed(pdf=sheet_pdf(made, date, shop.name), html=sheet_html(made).encode())
    say(News(words="", best=found, done=True))


WORK: dict[str, Callable[..., None]] = {f.__name__: f for f in (refine, plan, frontier, stages, sheet)}


def serve(asked: BinaryIO, said: BinaryIO) -> None:
    """Take errands until the other end closes the pipe."""
    while True:
        try:
            name, arguments = pickle.load(asked)
        except EOFError:
            return
        try:
            WORK[name](partial(_say, said), *arguments)
        except PinchpointError as error:
            _say(said, News(words=str(error), done=True, failed=True))
        except Exception as error:
            kind = type(error).__name__
            _say(said, News(words=f"something unforeseen went wrong ({kind}: {error})", done=True, failed=True))


def _say(said: BinaryIO, news: News) -> None:
    pickle.dump(news, said)
    said.flush()


def main() -> None:
    """Serve the pipes that the pages opened; what is printed goes to the log and not between the pickles."""
    said = sys.stdout.buffer
    sys.stdout = sys.stderr
    try:
        serve(sys.stdin.buffer, said)
    except (BrokenPipeError, KeyboardInterrupt):
        sys.exit(0)
