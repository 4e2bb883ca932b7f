"""What the pages read: one engine for all, answers kept per state of the data, plain records only."""

from __future__ import annotations

import os
from dataclasses import replace

import streamlit as st

from graph.course import Course, course
from graph.kinds import discover
from graph.model import Car, Part, Platform, Rating
from graph.projection.facts import Facts, gather
from graph.report import Report
from graph.service import Request, assess, fuel_names
from graph.store import Database, open_database
from graph.symptom import Knowledge

DATABASE = "PINCHPOINT_DB"


def address() -> str:
    """Database that the pages show: what the command handed over, or the one in the user's data folder."""
    from ui.cli import default_url

    return os.environ.get(DATABASE) or default_url()


@st.cache_resource(show_spinner=False)
def _database(url: str) -> Database:
    return open_database(url)


def database() -> Database:
    """The open database; its engine is shared, its connections are not kept."""
    return _database(address())


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


def fuels() -> list[str]:
    """Short names of the fuels in the book."""
    return sorted(fuel_names({p.id: p for p in parts()}))


def history(part: str, rating: str) -> tuple[Rating, ...]:
    """Every revision of one rating, oldest first."""
    with database().read() as view:
        return view.rating_history(part, rating)


@st.cache_resource(show_spinner=False, max_entries=256)
def _report(data: str, car: str, request: Request, suggest: bool) -> Report:
    del data
    with database().read() as view:
        return assess(view, car, request, suggest=suggest)


def report(car: str, request: Request, *, suggest: bool = False) -> Report:
    """A check, kept until the data change; `suggest` adds what would clear the limits."""
    return _report(state(), car, request, suggest)


@st.cache_resource(show_spinner=False, max_entries=256)
def _course(data: str, car: str, request: Request, slot: str, rule: str) -> Course:
    found = _report(data, car, request, False)
    return course(found.build, found.target, discover(), slot, rule)


def over_speed(car: str, request: Request, slot: str, rule: str) -> Course:
    """One limit of a check over engine speed."""
    return _course(state(), car, request, slot, rule)


def standing(car: Car, platform: Platform) -> Report:
    """A car as it stands: checked at its factory power, no boost cap."""
    return report(car.id, replace(Request(power=platform.constants["factory power"]), fuel=car.fuel))


@st.cache_resource(show_spinner=False, max_entries=2)
def _facts(data: str) -> Facts:
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
