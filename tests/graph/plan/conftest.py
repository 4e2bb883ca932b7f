"""Small invented catalogues for the planner, and a model of them that is no physics at all."""

from __future__ import annotations

import itertools
import random

import pytest

from graph.model import Belief, Build, Fuel, Interface, Part, Place, Platform, Relation, RelationKind, Slot
from graph.plan.choice import gather
from graph.plan.labour import Tariff
from graph.plan.wish import Shared, ShopTerms, Wishes

KINDS = ("turbine", "compressor", "valves", "injectors", "tank_pump", "pump_controller", "plugs", "rods")
FUEL = Fuel(
    name="ron98",
    research_octane=98.0,
    motor_octane=88.0,
    stoichiometric_ratio=14.3,
    heating_value=42.5e6,
    density=745.0,
    latent_heat=3.5e5,
)
SAMPLES = 64


class Table:
    """Verdicts by lot: nothing in it rises or falls with anything."""

    def __init__(self, choices, seed, least=40, openness=0.93, linking=(5,), hearing=(3, 6)):
        self.choices, self.seed, self.openness = choices, seed, openness
        self.hearing = hearing
        self.context, self.core, self.linking, self.late = (2,), (2, 0, 1), linking, ()
        self.samples, self.least = SAMPLES, least
        self.full = (1 << SAMPLES) - 1

    def lot(self, *what):
        return random.Random(f"{self.seed}{what}").random()

    def engine(self, context):
        return self.lot("engine", context[2]) < 0.9

    def clear(self, context, slot, option):
        return self.lot("clear", context[2], slot, option) < self.openness

    def glance(self, cores):
        """One core in three that fails is let through, as a glance may."""
        seen = (_Car(self, core).engine or self.lot("glance", tuple(core.items())) < 0.3 for core in cores)
        return [() if good else None for good in seen]

    def alike(self, _, option):
        return option

    def hears(self, *_):
        return False

    def settle(self, cores):
        return [_Car(self, core) for core in cores]

    def confirm(self, *_):
        return True

    def good(self, selection):
        """The same verdicts on a complete choice, asked one after the other."""
        context = {2: selection[2]}
        core = {s: selection[s] for s in (*self.core, *self.linking)}
        car = _Car(self, core)
        alive = car.engine_survival
        for s, i in enumerate(selection):
            alive &= car.survival(s, i)
        return (
            self.engine(context)
            and car.engine
            and all(self.clear(context, s, i) and car.allowed(s, i) for s, i in enumerate(selection))
            and alive.bit_count() >= self.least
        )


class _Car:
    def __init__(self, table, core):
        self.table, self.key = table, tuple(sorted((s, i) for s, i in core.items() if s in table.core))
        self.said = tuple(core.get(s) for s in table.linking)
        self.engine = table.lot("power", self.key) < 0.8
        self.engine_survival = self._bits("engine")

    def _bits(self, *what):
        rng = random.Random(f"{self.table.seed}{what}{self.key}")
        bits = self.table.full
        for _ in range(rng.choice((0, 0, 1, 4))):
            bits &= ~(1 << rng.randrange(SAMPLES))
        return bits

    def allowed(self, slot, option):
        if self.table.lot("here", self.key, slot, option) >= 0.95:
            return False
        heard = slot in self.table.hearing and None not in self.said
        return not heard or self.table.lot("heard", self.key, self.said, slot, option) < 0.85

    def survival(self, slot, option):
        bits = self._bits("slot", slot, option)
        if slot in self.table.hearing and None not in self.said:
            bits &= self._bits("heard", self.said, slot, option)
        return bits


def catalogue(seed):
    """A car with eight slots and one to three parts for each, with bonds of every sort."""
    rng = random.Random(seed)
    slots = tuple(Slot(name=k.replace("_", " "), kind=k, factory_part=f"F-{n}") for n, k in enumerate(KINDS))
    platform = Platform(id="p", name="p", codes=("p",), constants={"factory power": 2.0e5}, curves={}, slots=slots)
    factory = [
        Part(id=f"F-{n}", kind=k, name=f"F-{n}", fits=("p",), factory=True, price=0.0) for n, k in enumerate(KINDS)
    ]
    numbers = [f"B-{n}-{m}" for n in range(len(KINDS)) for m in range(rng.choice((0, 1, 1, 2)))]
    parts = []
    for number in numbers:
        kind = KINDS[int(number.split("-")[1])]
        relations = []
        for sort, chance in (("requires", 0.3), ("excludes", 0.1), ("adapts", 0.1), ("member", 0.1)):
            if rng.random() < chance:
                other = " | ".join(rng.sample(numbers, min(len(numbers), rng.choice((1, 1, 2)))))
                relations.append(Relation(kind=RelationKind(sort), part=other, text=f"{sort} {other}"))
        ports = tuple(
            Interface(port=port, type=rng.choice("AAB")) for port in ("inlet", "flange") if rng.random() < 0.25
        )
        parts.append(
            Part(
                id=number,
                kind=kind,
                name=number,
                fits=("p",),
                price=float(rng.randrange(0, 900, 10)),
                labour=3600.0 * rng.choice((0.0, 0.5, 2.0, 6.0)),
                relations=tuple(relations),
                interfaces=ports,
                stock=rng.choice((0, 1)),
            )
        )
    places = tuple(Place(slot=s, part=f, belief=Belief.SEEN) for s, f in zip(slots, factory, strict=True))
    operations = tuple(
        Shared(
            operation=rng.choice(("engine out", "bumper off")),
            job=k,
            duration=3600.0 * rng.choice((0.5, 1.5)),
            does=rng.random() < 0.6,
        )
        for k in KINDS
        if rng.random() < 0.6
    )
    build = Build(car="c", platform=platform, places=places, codes=("p",))
    return build, [*factory, *parts], operations


def opened(seed, wishes=None):
    """Choices, tariff and lots of one catalogue."""
    build, parts, operations = catalogue(seed)
    choices = gather(build, parts, FUEL, (), wishes or Wishes(calibrate=False), power=1.0e5)
    return choices, Tariff(ShopTerms(), operations), Table(choices, seed)


def cheapest_by_trial(choices, tariff, good):
    """Net cost of the cheapest good choice, every one of them tried; None where there is none."""
    costs = [
        tariff.cost(choices.bought(selection)).net
        for selection in itertools.product(*choices.all())
        if choices.sound(selection) and good(selection)
    ]
    return min(costs, default=None)


@pytest.fixture
def trial():
    """The brute force."""
    return cheapest_by_trial


@pytest.fixture
def small():
    """Opens a small catalogue."""
    return opened
