"""Cars: one row a car with its weakest link, what it carries and what is not known."""

from __future__ import annotations

import streamlit as st

from graph.errors import PinchpointError
from graph.model import Car, Platform
from graph.quantity import Quantity
from graph.report import Report
from ui import desk
from ui.errand import Errand
from ui.format import in_unit, kilowatts, power_unit
from ui.local_user import local_user
from ui.progress import watch
from ui.sheet_table import Markup, lead, link, note, strip, table, trouble
from ui.theme import palette

SHOWN_AT_ONCE = 12


def show() -> None:
    """Show the page."""
    found = desk.cars()
    if not found:
        _empty()
        return
    st.title(_answer(len(found)))
    note("Carries is the power to put on a page: the smallest of all ceilings with the car's own parts in place.")
    wanted = st.text_input("Find a car", key="find_car", placeholder="id, name or platform") if len(found) > 6 else ""
    chosen = [c for c in found if wanted.lower() in f"{c.id} {c.name} {c.platform}".lower()]
    if not chosen:
        trouble(f"No car has '{wanted}' in its id, name or platform; {len(found)} are on record.")
        return
    platforms = desk.platforms()
    reports: dict[str, Report] = {}
    troubles: dict[str, str] = {}
    waiting: list[tuple[Errand, Report]] = []
    for car in chosen[:SHOWN_AT_ONCE]:
        try:
            reports[car.id], errand = desk.standing(car, platforms[car.platform])
            if not errand.news.done or errand.news.best is not reports[car.id]:
                waiting.append((errand, reports[car.id]))
        except (PinchpointError, KeyError) as error:
            troubles[car.id] = str(error)
    _rows(chosen[:SHOWN_AT_ONCE], platforms, reports, troubles)
    if len(chosen) > SHOWN_AT_ONCE:
        note(f"{SHOWN_AT_ONCE} of {len(chosen)} cars; write more of the name to see another.")
    if waiting:
        watch(*waiting[-1], among="checks", silent=True)


def _answer(count: int) -> str:
    return "One car is on record" if count == 1 else f"{count} cars are on record"


def _rows(
    cars: list[Car], platforms: dict[str, Platform], reports: dict[str, Report], troubles: dict[str, str]
) -> None:
    ends = _ends(reports)
    rows: list[list[str | Markup]] = []
    for car in cars:
        report = reports.get(car.id)
        name = link(car.id, "plan", {"car": car.id})
        about = f"{car.name} · {platforms[car.platform].name}" if car.platform in platforms else car.name
        if report is None:
            rows.append([name, about, f"cannot be checked: {troubles.get(car.id, '')}", "?", "", "", ""])
            continue
        weakest = report.weakest
        interval = report.carries_interval
        bound = "at most " if report.carries_is_upper_bound else ""
        rows.append(
            [
                name,
                about,
                "none known"
                if weakest is None
                else f"{weakest.slot}, {kilowatts(weakest.ceiling)} {power_unit()} alone",
                f"{bound}{kilowatts(report.carries)}",
                strip(interval.low, report.carries, interval.high, ends, palette()),
                _unknown(report),
                _next(report),
            ]
        )
    table(
        ("car", "", "narrowest place", f"carries, crank {power_unit()}", "9 in 10", "not known", "next step"),
        rows,
        right=(3,),
    )
    low, high = (in_unit(e, Quantity.POWER) for e in ends)
    note(f"The small axis runs from {low:.0f} to {high:.0f} {power_unit()}; the line holds 9 in 10.")


def _ends(reports: dict[str, Report]) -> tuple[float, float]:
    lows = [r.carries_interval.low for r in reports.values()] or [0.0]
    highs = [r.carries_interval.high or r.carries for r in reports.values()] or [1.0]
    return min(lows), max(highs)


def _unknown(report: Report) -> str:
    slots = list(dict.fromkeys(u.slot for u in report.unknown))
    return "" if not slots else "? " + ", ".join(slots)


def _next(report: Report) -> str:
    if report.unknown:
        return f"look at the {report.unknown[0].slot}"
    return "ask for a power" if report.weakest is None else f"plan past the {report.weakest.slot}"


def _empty() -> None:
    st.title("No car yet")
    lead("Cars, their platform and the book of parts come from the shop's sheets. Load them on the page parts, or:")
    if st.button("Load the demo shop", key="demo"):
        from ingest.book import read_book, store_book
        from ui.cli import seed_folder, version

        with st.spinner("reading the demo shop's sheets"):
            store_book(desk.database(), read_book([seed_folder()]), who=local_user(), version=version())
        st.rerun()


if __name__ == "__main__":
    show()
