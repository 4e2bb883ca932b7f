"""What the pages read: one engine for all, answers kept per state of the data, plain records only."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import streamlit as st
from platformdirs import user_data_path

from graph.course import Course, course
from graph.kinds import discover
from graph.memory import Memory
from graph.model import Car, Part, Platform, Rating
from graph.plan.wish import Shared, ShopTerms, Wishes
from graph.report import Report
from graph.service import Request, assess, fuel_names
from graph.store import Database, open_database
from graph.symptom import Knowledge
from ui.book_index import Index, index_of
from ui.commission import Commission
from ui.errand import Errand, lane
from ui.shop_settings import ShopSettings, read_shop
from ui.sign_in import actor

if TYPE_CHECKING:
    from graph.projection.facts import Facts

#: How long a question stands before its uncertainty is worked out: the page is drawn first [s].
STANDS = 0.25
DATABASE = "PINCHPOINT_DB"
SHOP = "PINCHPOINT_SHOP"


def address() -> str:
    """Database that the pages show: what the command handed over, or the one in the user's data folder."""
    from ui.cli import default_url

    return os.environ.get(DATABASE) or default_url()


@st.cache_resource(show_spinner=False)
def _database(url: str) -> Database:
    return open_database(url)


def database() -> Database:
    """The open database in the hands of whoever looks; its engine is shared, its connections are not kept."""
    return _database(address()).acting(actor())


def state() -> str:
    """State of the data: changes with every load."""
    with database().read() as view:
        loads = view.loads()
    return f"{address()} {len(loads)} {loads[-1]['at'] if loads else ''}"


@st.cache_resource(show_spinner=False, max_entries=4)
def _records(data: str) -> tuple[tuple[Car, ...], tuple[Platform, ...], tuple[Part, ...]]:
    del data
    with database().read() as view:
        return view.cars(), view.platforms(), view.parts()


def cars() -> tuple[Car, ...]:
    """Cars on record."""
    return _records(state())[0]


def platforms() -> dict[str, Platform]:
    """Platforms by id."""
    return {p.id: p for p in _records(state())[1]}


def parts() -> tuple[Part, ...]:
    """Parts of the book."""
    return _records(state())[2]


@st.cache_resource(show_spinner=False, max_entries=2)
def _index(data: str) -> Index:
    return index_of(_records(data)[2])


def index() -> Index:
    """The book as somebody looks a part up."""
    return _index(state())


def fuels() -> list[str]:
    """Short names of the fuels in the book."""
    return sorted(fuel_names({p.id: p for p in parts()}))


def history(part: str, rating: str) -> tuple[Rating, ...]:
    """Every revision of one rating, oldest first."""
    with database().read() as view:
        return view.rating_history(part, rating)


@st.cache_resource(show_spinner=False, max_entries=16)
def _memory(data: str, car: str, install: tuple[str, ...]) -> Memory:
    del data, car, install
    return Memory()


@st.cache_resource(show_spinner=False, max_entries=256)
def _stated(data: str, car: str, request: Request) -> Report:
    with database().read() as view:
        memory = _memory(data, car, request.install)
        return assess(view, car, request, suggest=False, samples=0, memory=memory)


def stated(car: str, request: Request) -> Report:
    """A check of the stated values alone, at once; every interval in it is a point."""
    return _stated(state(), car, request)


def refined(car: str, request: Request) -> Errand:
    """The same check with its uncertainty and with what would clear the limits, worked out beside the pages."""
    data = state()
    return lane("checks").ask((data, car, request), "refine", address(), data, car, request, after=STANDS)


def best(car: str, request: Request) -> tuple[Report, Errand]:
    """The best check that is there: refined where it is done, of the stated values until then."""
    errand = refined(car, request)
    return (errand.news.best or stated(car, request)), errand


@st.cache_resource(show_spinner=False, max_entries=256)
def _course(data: str, car: str, request: Request, slot: str, rule: str) -> Course:
    found = _stated(data, car, request)
    return course(found.build, found.target, discover(), slot, rule)


def over_speed(car: str, request: Request, slot: str, rule: str) -> Course:
    """One limit of a check over engine speed."""
    return _course(state(), car, request, slot, rule)


def standing(car: Car, platform: Platform) -> tuple[Report, Errand]:
    """A car as it stands: checked at its factory power, no boost cap."""
    return best(car.id, replace(Request(power=platform.constants["factory power"]), fuel=car.fuel))


def shop_file() -> Path:
    """File with the shop's settings: the one named in the environment, or beside the user's data."""
    named = os.environ.get(SHOP)
    return Path(named) if named else user_data_path("pinchpoint") / "shop.toml"


def shop() -> ShopSettings:
    """The shop's settings; the demo shop's where none are written yet."""
    from ui.cli import seed_folder

    file = shop_file()
    return read_shop(file if file.is_file() else seed_folder() / "shop.toml")


@st.cache_resource(show_spinner=False)
def _operations() -> tuple[Shared, ...]:
    from ingest.operation import read_operations
    from ui.cli import seed_folder

    return tuple(read_operations(seed_folder() / "labour" / "operations.csv")[0])


def commission(car: str, request: Request, wishes: Wishes) -> Commission:
    """What a plan for a car depends on, with this shop's rates."""
    from graph.proposal import Terms

    own = shop()
    rates = ShopTerms(hourly_rate=own.hourly_rate, tax=own.tax, currency=own.currency)
    terms = Terms(shop=rates, operations=_operations())
    return Commission(url=address(), state=state(), car=car, request=request, terms=terms, wishes=wishes)


@st.cache_resource(show_spinner=False, max_entries=2)
def _facts(data: str) -> Facts:
    from graph.projection.facts import gather

    del data
    with database().read() as view:
        return gather(view)


def facts() -> Facts:
    """Everything in the book, for questions over its graph."""
    return _facts(state())


@st.cache_resource(show_spinner=False)
def knowledge() -> Knowledge:
    """Faults, signs and inspections that come with the program."""
    from ingest.symptom import read_knowledge
    from ui.cli import seed_folder

    return read_knowledge(seed_folder() / "knowledge").knowledge
