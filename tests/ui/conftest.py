"""Hand-built answers: every number here is written by hand, none comes from a solver."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from page_server import pages
from playwright.sync_api import Browser, Page, expect
from real_browser import browser

from graph.limit import Axis, LimitKind
from graph.model import Build, Evidence, EvidenceKind, Fuel, Operation, Platform, Target
from graph.quantity import Quantity
from graph.report import Finding, Interval, Makes, Report, Unknown, Verdict
from graph.store import open_database
from ingest.book import store_book

SPEED = np.array([50.0, 80.0, 110.0])  # 3000, 4800 and 6600 1/min

PETROL = Fuel(
    name="ron98",
    research_octane=98.0,
    motor_octane=88.0,
    stoichiometric_ratio=14.3,
    heating_value=42.5e6,
    density=745.0,
    latent_heat=3.5e5,
)


def operation() -> Operation:
    """Three speeds; at the last one there is no operating point, as :class:`Operation` says it."""
    values = {f.name: np.array([1.0, 1.0, np.nan]) for f in fields(Operation)}
    values |= {
        "speed": SPEED,
        "torque": np.array([400.0, 450.0, 480.0]),
        "manifold_pressure": np.array([2.5e5, 3.0e5, np.nan]),
        "fuel_flow": np.array([0.010, 0.015, np.nan]),
        "air_flow": np.array([0.125, 0.200, np.nan]),
        "charge_temperature": np.array([313.15, 323.15, np.nan]),
        "exhaust_temperature": np.array([1073.15, 1123.15, np.nan]),
        "turbine_inlet_pressure": np.array([2.0e5, 3.2e5, np.nan]),
        "peak_pressure": np.array([9.0e6, 1.1e7, np.nan]),
        "phasing": np.array([np.pi / 18, np.pi / 9, np.nan]),
        "best_phasing": np.array([np.pi / 36, np.pi / 36, np.nan]),
        "cause": np.array([0, 0, 2], dtype=np.int8),
    }
    return Operation(**values)


TURBINE = Finding(
    slot="turbine",
    part="PY-3011",
    part_name="factory turbine housing",
    rule="pressure before the turbine",
    rating="inlet pressure",
    axis=Axis.BACK_PRESSURE,
    kind=LimitKind.PROTECTIVE,
    quantity=Quantity.ABSOLUTE_PRESSURE,
    demand=4.2e5,
    capacity=3.6e5,
    utilisation=4.2 / 3.6,
    worst_speed=110.0,
    ceiling=262e3,
    ceiling_interval=Interval(low=249e3, median=262e3, high=275e3),
    ceiling_here=253e3,
    weakest_probability=0.55,
    exceed_probability=0.99,
    verdict=Verdict.EXCEEDED,
    why="the housing chokes the exhaust",
    consequence="more exhaust stays in the cylinder",
    source="shop rule",
    evidence=Evidence(
        kind=EvidenceKind.OWN_BENCH,
        source="parts.xlsx, sheet 'Exhaust', row 12, column 'Rating'",
        detail="own pressure port",
        date="2026-03-02",
    ),
    condition="3.6 bar abs",
)

INTERCOOLER = replace(
    TURBINE,
    slot="intercooler",
    part="PY-2015",
    part_name="factory intercooler",
    rule="charge temperature",
    rating="charge temperature",
    axis=Axis.TEMPERATURE,
    quantity=Quantity.TEMPERATURE,
    demand=363.15,
    capacity=338.15,
    ceiling=335e3,
    ceiling_interval=Interval(low=330e3, median=336e3, high=None),
    ceiling_here=None,
    weakest_probability=0.45,
    verdict=Verdict.MARGINAL,
)

GEARS = replace(
    TURBINE,
    slot="gears",
    part="PY-5012",
    part_name="gear set",
    rule="torque on the gears",
    rating="torque",
    axis=Axis.TORQUE,
    quantity=Quantity.TORQUE,
    demand=492.0,
    capacity=560.0,
    utilisation=492.0 / 560.0,
    ceiling=387e3,
    ceiling_interval=Interval(low=340e3, median=387e3, high=430e3),
    ceiling_here=387e3,
    weakest_probability=0.0,
    exceed_probability=0.01,
    verdict=Verdict.CLEAR,
)

UNKNOWN_RODS = Finding(
    slot="rods",
    part=None,
    part_name=None,
    rule="torque on the rods",
    rating="torque",
    axis=Axis.TORQUE,
    kind=LimitKind.PROTECTIVE,
    quantity=Quantity.TORQUE,
)

REPORT = Report(
    build=Build(
        car="car-a",
        platform=Platform(
            id="marrit-20t",
            name="Marrit 20T",
            codes=("HM20-D4",),
            constants={"power speed": 110.0},
            curves={},
            slots=(),
        ),
        places=(),
    ),
    target=Target(power=340e3, fuel=PETROL, boost_cap=2.2e5),
    findings=(TURBINE, INTERCOOLER, GEARS, UNKNOWN_RODS),
    weakest=TURBINE,
    tie=("turbine", "intercooler"),
    makes=Makes(
        power=301.2e3, torque=488.0, speed=110.0, boost=2.2e5, knock_limited=True, cause="knock", at_cap=305.0e3
    ),
    engine_alone=324e3,
    carries=253e3,
    carries_interval=Interval(low=236e3, median=252e3, high=263e3),
    carries_is_upper_bound=True,
    holds_probability=0.02,
    reachable=False,
    unknown=(Unknown(slot="rods", why="claimed, not seen"),),
    curve=operation(),
    curve_power=301.2e3,
    torque_allowed=np.array([430.0, 420.0, np.nan]),
    reference=("compressor efficiency 0.72",),
    samples=400,
)


@pytest.fixture(scope="session")
def make_report() -> Callable[..., Report]:
    """The hand-built answer with some fields changed."""

    def make(**changed: Any) -> Report:
        return replace(REPORT, **changed)

    return make


@pytest.fixture(scope="session")
def turbine() -> Finding:
    """Lowest ceiling: short of the target."""
    return TURBINE


@pytest.fixture(scope="session")
def unknown_rods() -> Finding:
    """A limit without demand, capacity, ceiling and evidence."""
    return UNKNOWN_RODS


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    """A browser without a window."""
    with browser() as opened:
        yield opened


@pytest.fixture(scope="module")
def demo(demo_database, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Pages of the demo shop, for journeys that write nothing."""
    folder = tmp_path_factory.mktemp("journeys")
    with pages(demo_database.engine.url.render_as_string(hide_password=False), folder) as address:
        yield address


@pytest.fixture
def own(demo_book, tmp_path: Path) -> Iterator[str]:
    """Pages of a demo shop that belongs to one journey."""
    database = open_database(f"sqlite:///{tmp_path}/own.sqlite")
    store_book(database, demo_book, who="tests", version="0")
    with pages(database.engine.url.render_as_string(hide_password=False), tmp_path) as address:
        yield address


@pytest.fixture
def walk(chromium: Browser) -> Iterator[Page]:
    """A new window."""
    page = chromium.new_page(viewport={"width": 1250, "height": 1000})
    page.set_default_timeout(90_000)
    expect.set_options(timeout=90_000)
    yield page
    page.close()
