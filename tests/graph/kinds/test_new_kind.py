"""A newcomer adds a part kind by adding one file, and touches no other.

The file below describes a recirculation valve: rated to the boost up to which its membrane stays tight. The expected
utilisation is reckoned by hand from the definition of gauge pressure.
"""

import importlib
import itertools
import sys
from dataclasses import fields
from types import MappingProxyType

import numpy as np
import pytest

from graph.errors import MissingRecord
from graph.kinds import discover
from graph.limit import Own
from graph.model import (
    Belief,
    Build,
    Evidence,
    EvidenceKind,
    Fuel,
    Operation,
    Part,
    Place,
    Platform,
    Rating,
    Setting,
    Slot,
    Weather,
)
from graph.subject import dissect

FILE = '''"""Recirculation valve: the boost up to which its membrane stays tight."""

from graph.limit import Axis, Kind, LimitKind, LimitRule, RatingSpec
from graph.physics import pressure
from graph.quantity import Quantity

KIND = Kind(
    name="recirculation_valve",
    label="recirculation valve",
    area="Air",
    does="lets the boost go when the throttle shuts",
    synonyms=("diverter valve", "umluftventil"),
    ratings=(
        RatingSpec(
            name="boost",
            quantity=Quantity.GAUGE_PRESSURE,
            label="boost up to which it stays tight",
            plausible=(0.3e5, 8.0e5),
        ),
    ),
    limits=(
        LimitRule(
            name="boost on the recirculation valve",
            rating="boost",
            axis=Axis.BOOST,
            quantity=Quantity.GAUGE_PRESSURE,
            kind=LimitKind.PROTECTIVE,
            demand=lambda op, setting, own: pressure.gauge(op.boost_pressure, setting.weather.pressure),
            capacity=lambda op, setting, own: own.value("boost"),
            why="the membrane carries the boost whenever the valve is shut",
            consequence="a torn membrane, slow boost, flutter",
            source="force balance of the membrane",
        ),
    ),
)
'''

NUMBER = itertools.count()
SOURCE = Evidence(kind=EvidenceKind.OWN_BENCH, source="valves.csv, row 2, column 'Rating'")
VALVE = Part(
    id="X-1",
    kind="recirculation_valve",
    name="valve with a metal piston",
    ratings=(Rating(name="boost", value=2.0e5, evidence=SOURCE),),
)
PLATFORM = Platform(
    id="P",
    name="invented",
    codes=("P",),
    constants=MappingProxyType({}),
    curves=MappingProxyType({}),
    slots=(Slot(name="recirculation valve", kind="recirculation_valve"),),
)
PETROL = Fuel(
    name="petrol",
    research_octane=98.0,
    motor_octane=88.0,
    stoichiometric_ratio=14.3,
    heating_value=42.0e6,
    density=750.0,
    latent_heat=350.0e3,
)
SETTING = Setting(platform=PLATFORM, fuel=PETROL, weather=Weather(pressure=1.0e5), duration=15.0)


@pytest.fixture
def package(tmp_path, monkeypatch):
    """Make an importable package of the given files; return its name."""

    def make(**files: str) -> str:
        name = f"invented_kinds_{next(NUMBER)}"
        folder = tmp_path / name
        folder.mkdir()
        (folder / "__init__.py").write_text('"""Kinds of a newcomer."""\n', encoding="utf-8")
        for module, content in files.items():
            (folder / f"{module}.py").write_text(content, encoding="utf-8")
        monkeypatch.syspath_prepend(tmp_path)
        importlib.invalidate_caches()
        made.append(name)
        return name

    made: list[str] = []
    yield make
    for module in [m for m in sys.modules if m.split(".")[0] in made]:
        del sys.modules[module]


def operation(boost_pressure: np.ndarray) -> Operation:
    """A state of the engine of which only torque, speed and the pressure before the throttle are told."""
    shape = boost_pressure.shape
    told = {"boost_pressure": boost_pressure, "speed": np.array([50.0, 80.0, 110.0])}
    untold = {f.name: np.full(shape, np.nan) for f in fields(Operation) if f.name not in told}
    untold["torque"] = np.full(shape, 400.0)
    untold["cause"] = np.zeros(shape, dtype=np.int8)
    return Operation(**told, **untold)


def test_one_file_makes_a_kind_whose_rule_works(package) -> None:
    kinds = discover(package(recirculation_valve=FILE))
    assert list(kinds) == ["recirculation_valve"]
    kind = kinds["recirculation_valve"]
    own = Own(part=VALVE, kind=kind)
    # Absolute 2.0, 2.5 and 3.2 bar on a day of 1.0 bar are 1.0, 1.5 and 2.2 bar gauge; over 2.0 bar gauge that is
    # 0.50, 0.75 and 1.10.
    state = operation(np.array([2.0e5, 2.5e5, 3.2e5]))
    rule = kind.limits[0]
    found = rule.demand(state, SETTING, own) / rule.capacity(state, SETTING, own)
    assert found == pytest.approx([0.50, 0.75, 1.10])


def test_the_new_kind_is_judged_without_a_change_elsewhere(package) -> None:
    kinds = discover(package(recirculation_valve=FILE))
    place = Place(slot=PLATFORM.slots[0], part=VALVE, belief=Belief.SEEN)
    anatomy = dissect(Build(car="X", platform=PLATFORM, places=(place,)), kinds, SETTING)
    assert anatomy.unknown == ()
    (subject,) = anatomy.subjects
    # Two power levels at three speeds; the same arithmetic as above.
    state = operation(np.array([[2.0e5, 2.5e5, 3.2e5], [1.5e5, 2.0e5, 3.0e5]]))
    demand, capacity = subject.utilisation(state, SETTING)
    assert demand / capacity == pytest.approx(np.array([[0.50, 0.75, 1.10], [0.25, 0.50, 1.00]]))


def test_a_part_of_the_new_kind_without_its_rating_is_unknown(package) -> None:
    kinds = discover(package(recirculation_valve=FILE))
    bare = Part(id="X-2", kind="recirculation_valve", name="valve of unknown make")
    place = Place(slot=PLATFORM.slots[0], part=bare, belief=Belief.SEEN)
    anatomy = dissect(Build(car="X", platform=PLATFORM, places=(place,)), kinds, SETTING)
    assert anatomy.subjects == ()
    assert [u.slot for u in anatomy.unknown] == ["recirculation valve"]
    own = Own(part=bare, kind=kinds["recirculation_valve"])
    with pytest.raises(MissingRecord, match="X-2"):
        own.value("boost")


def test_several_files_come_in_the_order_of_their_names(package) -> None:
    second = FILE.replace("recirculation", "bypass")
    assert list(discover(package(recirculation_valve=FILE, bypass_valve=second))) == [
        "bypass_valve",
        "recirculation_valve",
    ]


def test_a_file_without_a_kind_is_named(package) -> None:
    name = package(recirculation_valve=FILE, notes='"""No kind in here."""\n')
    with pytest.raises(MissingRecord, match="notes holds no constant KIND"):
        discover(name)


def test_a_kind_with_another_name_than_its_file_is_named(package) -> None:
    name = package(diverter=FILE)
    with pytest.raises(MissingRecord, match=r"diverter.*'recirculation_valve'"):
        discover(name)
