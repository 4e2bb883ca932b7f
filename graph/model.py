"""The records: what a shop knows, as plain frozen data. Keys are text ids from the shop's sheets.

Every number is in the SI unit of its :class:`~graph.quantity.Quantity`; a missing number is ``None``
and never 0, NaN or infinity.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import Enum
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from graph.errors import MissingRecord
from graph.learnt import Learnt

Array = NDArray[np.float64]


class EvidenceKind(Enum):
    """How a number is known, from the strongest to the weakest."""

    OWN_BENCH = "own bench"
    OWN_DYNO = "own dyno"
    OWN_LOG = "own log"
    MAKER_SHEET = "maker sheet"
    SHOP_EXPERIENCE = "shop experience"
    ESTIMATE = "estimate"


class Meaning(Enum):
    """What a stated rating says about the part's true capacity."""

    NOMINAL = "nominal"
    GUARANTEED = "guaranteed minimum"
    SURVIVED = "survived"
    FAILED = "failed"


class Belief(Enum):
    """How well it is known that a part is on the car."""

    UNKNOWN = "unknown"
    CLAIMED = "claimed"
    SEEN = "seen"
    LABEL_READ = "label read"
    MEASURED = "measured"


class RelationKind(Enum):
    """What one part says about another."""

    REQUIRES = "requires"
    EXCLUDES = "excludes"
    SUPERSEDES = "supersedes"
    ADAPTS = "adapts"
    MEMBER = "member"


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """Where a fact comes from.

    Parameters
    ----------
    kind : EvidenceKind
        How it is known.
    source : str
        File, sheet, row and column, such as ``parts.xlsx, sheet 'Exhaust', row 12, column 'Rating'``.
    detail : str
        The shop's own words for the evidence.
    date : str or None
        ISO date of the measurement or statement.
    by : str or None
        Who stated it.
    """

    kind: EvidenceKind
    source: str
    detail: str = ""
    date: str | None = None
    by: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Condition:
    """One condition at which a rating holds.

    Parameters
    ----------
    name : str
        Name of the condition in the part kind, such as ``voltage``.
    value : float or str
        SI value [SI unit of the condition's quantity], or a word (a fluid).
    assumed : bool
        True where the sheet was silent and the kind's default was taken.
    """

    name: str
    value: float | str
    assumed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """A rating that depends on one other quantity, as points in rising order.

    Parameters
    ----------
    x : tuple of float
        Support points [SI], strictly rising.
    y : tuple of float
        Values [SI], same length.
    """

    x: tuple[float, ...]
    y: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rating:
    """One stated limit or property of a part, with its condition and its evidence.

    Parameters
    ----------
    name : str
        Name of the rating in the part kind, such as ``air flow``.
    value : float or Curve
        SI value.
    spread : float
        Relative standard deviation of the true capacity [1].
    meaning : Meaning
        What the number says about the true capacity.
    conditions : tuple of Condition
        Where it holds.
    evidence : Evidence
        Where it comes from.
    text : str
        The rating as written in the sheet.
    """

    name: str
    value: float | Curve
    evidence: Evidence
    spread: float = 0.0
    meaning: Meaning = Meaning.NOMINAL
    conditions: tuple[Condition, ...] = ()
    text: str = ""

    def condition(self, name: str) -> float | str | None:
        """Value of the condition `name` [SI], or None where neither the sheet nor the kind states it."""
        return next((c.value for c in self.conditions if c.name == name), None)

    @property
    def assumed(self) -> bool:
        """True if any condition was assumed because the sheet was silent."""
        return any(c.assumed for c in self.conditions)


@dataclass(frozen=True, slots=True, kw_only=True)
class Interface:
    """A port of a part and what fits it: two parts that share a port must share its type."""

    port: str
    type: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Relation:
    """A statement of one part about another part, or about a rating that a slot must reach.

    Parameters
    ----------
    kind : RelationKind
        What is stated.
    part : str or None
        Id of the other part.
    slot : str or None
        For "requires a rating": the kind of slot that must reach it.
    rating : str or None
        The rating's name there.
    at_least : float or None
        The value it must reach [SI].
    text : str
        The statement as written.
    """

    kind: RelationKind
    part: str | None = None
    slot: str | None = None
    rating: str | None = None
    at_least: float | None = None
    text: str = ""

    @property
    def numbers(self) -> tuple[str, ...]:
        """Numbers of the parts that are named, more than one where the choice is left: ``PY-1 | PY-2``."""
        return tuple(number.strip() for number in (self.part or "").split("|") if number.strip())

    @property
    def vague(self) -> bool:
        """True if something is required that is neither a part nor a rating of a place."""
        whole = self.slot is not None and self.rating is not None and self.at_least is not None
        return self.kind is RelationKind.REQUIRES and not self.numbers and not whole


#: First word of a clause of a note that tells the condition of a used piece.
USED = frozenset({"used", "second-hand", "gebraucht"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A catalogue part.

    Parameters
    ----------
    id : str
        The shop's part number.
    kind : str
        Part kind, the name of a module in :mod:`graph.kinds`.
    name : str
        What the shop calls it.
    fits : tuple of str
        Platform, engine or gearbox codes; empty fits nothing and is reported.
    ratings : tuple of Rating
        What it is rated for.
    price : float or None
        Net price [EUR or the shop's currency], per set.
    labour : float or None
        Labour to fit it on its own [s].
    lead_time : float or None
        Lead time [s].
    stock : int or None
        Pieces on the shelf.
    tasks : tuple of str
        Work that goes with it and is no part, such as "lobe check".
    factory : bool
        True for a part that the platform leaves the factory with.
    """

    id: str
    kind: str
    name: str
    maker: str = ""
    fits: tuple[str, ...] = ()
    ratings: tuple[Rating, ...] = ()
    interfaces: tuple[Interface, ...] = ()
    relations: tuple[Relation, ...] = ()
    tasks: tuple[str, ...] = ()
    price: float | None = None
    labour: float | None = None
    lead_time: float | None = None
    stock: int | None = None
    factory: bool = False
    note: str = ""
    source: str = ""

    def rating(self, name: str) -> Rating | None:
        """The rating called `name`, or None."""
        return next((r for r in self.ratings if r.name == name), None)

    @property
    def used(self) -> str | None:
        """Condition of a used piece in the words of the note: a clause that begins with "used"; None for a new one.

        Examples
        --------
        >>> Part(id="T-1", kind="plugs", name="plugs", note="from car 7; used, 20 000 km, gap opened").used
        'used, 20 000 km, gap opened'
        """
        clauses = (clause.strip() for clause in self.note.split(";"))
        return next((c for c in clauses if c.casefold().split(",")[0].split(" ")[0] in USED), None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Slot:
    """A place on a platform that takes one part of one kind.

    Parameters
    ----------
    name : str
        Name of the place, such as ``tank pump``.
    kind : str
        Part kind that it takes.
    count : int
        How many identical pieces work in parallel there (four injectors).
    only_with : str or None
        Gearbox or engine code without which the place does not exist.
    factory_part : str or None
        Id of the part that it leaves the factory with.
    """

    name: str
    kind: str
    count: int = 1
    only_with: str | None = None
    factory_part: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Platform:
    """A car model as it leaves the factory: geometry, constants and places for parts.

    Parameters
    ----------
    id : str
        Platform code.
    name : str
        What people call it.
    codes : tuple of str
        Codes that a part's `fits` may name (platform, engine code, gearbox codes).
    constants : mapping of str to float
        Named constants [SI], the names of :data:`graph.operation.PLATFORM_CONSTANTS`.
    curves : mapping of str to Curve
        Properties over engine speed [1/s]: ``volumetric efficiency`` and ``lambda``.
    slots : tuple of Slot
        The places.
    """

    id: str
    name: str
    codes: tuple[str, ...]
    constants: Mapping[str, float]
    curves: Mapping[str, Curve]
    slots: tuple[Slot, ...]
    source: str = ""

    def slot(self, name: str) -> Slot | None:
        """The place called `name`, or None."""
        return next((s for s in self.slots if s.name == name), None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Installed:
    """What is, or is said to be, in one place of one car."""

    slot: str
    part: str | None
    belief: Belief = Belief.UNKNOWN
    claim: str = ""
    condition: str = ""
    source: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Car:
    """One customer's car as recorded.

    Parameters
    ----------
    id : str
        The shop's id of the car.
    platform : str
        Platform id.
    codes : tuple of str
        Engine and gearbox codes of this car.
    distance : float or None
        Distance run [m].
    fuel : str or None
        Name of the fuel it runs on.
    installed : tuple of Installed
        Deviations from, and confirmations of, the factory state.
    learnt : Learnt or None
        What its own dyno records taught of its engine.
    """

    id: str
    platform: str
    name: str = ""
    codes: tuple[str, ...] = ()
    distance: float | None = None
    fuel: str | None = None
    installed: tuple[Installed, ...] = ()
    notes: tuple[str, ...] = ()
    source: str = ""
    learnt: Learnt | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """One slot of a build with the part in it resolved."""

    slot: Slot
    part: Part | None
    belief: Belief
    unknown: str | None = None
    claim: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Build:
    """A platform with a part, or an unknown, in every slot: what a question is asked about."""

    car: str
    platform: Platform
    places: tuple[Place, ...]
    codes: tuple[str, ...] = ()
    distance: float | None = None
    learnt: Learnt | None = None

    def place(self, slot: str) -> Place | None:
        """The place called `slot`, or None."""
        return next((p for p in self.places if p.slot.name == slot), None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fuel:
    """A fuel as burned.

    Parameters
    ----------
    name : str
        Name, such as ``ron98``.
    research_octane, motor_octane : float
        RON and MON [1].
    stoichiometric_ratio : float
        Stoichiometric air-fuel ratio by mass [kg/kg].
    heating_value : float
        Lower heating value of the liquid [J/kg].
    density : float
        Density at 20 degC [kg/m3].
    latent_heat : float
        Heat of vaporisation [J/kg].
    ethanol : float
        Ethanol by volume [1].
    spread : float
        Relative standard deviation of the knock rating [1].
    """

    name: str
    research_octane: float
    motor_octane: float
    stoichiometric_ratio: float
    heating_value: float
    density: float
    latent_heat: float
    ethanol: float = 0.0
    spread: float = 0.0
    source: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Weather:
    """Air that the car breathes: temperature [K], absolute pressure [Pa], altitude [m]."""

    temperature: float = 298.15
    pressure: float = 101325.0
    altitude: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """What is asked of a build.

    Parameters
    ----------
    power : float
        Crank power [W].
    fuel : Fuel
        What is in the tank.
    boost_cap : float or None
        Highest boost allowed, gauge [Pa]; None for no cap.
    torque : float or None
        Torque wanted [N.m]; None for power over the speed of the power.
    power_speed : float or None
        Engine speed at which the power is asked [1/s]; None for the platform's.
    weather : Weather
        The day.
    duration : float
        How long full load is held [s].
    latest_phasing : float
        Latest angle of half-burned charge after top dead centre [rad].
    """

    power: float
    fuel: Fuel
    boost_cap: float | None = None
    torque: float | None = None
    power_speed: float | None = None
    weather: Weather = Weather()
    duration: float = 15.0
    latest_phasing: float = np.deg2rad(20.0)


EMPTY: Mapping[str, Any] = MappingProxyType({})


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Operation:
    """State of the engine at full load: arrays whose last axis is engine speed.

    Any axes before the last are a batch (configurations, power levels). Where no operating point
    exists every array holds NaN and `cause` says why; NaN never leaves :mod:`graph.check`.

    Parameters
    ----------
    speed : array, shape (N,)
        Engine speed [1/s].
    torque : array, shape (..., N)
        Crank torque [N.m].
    manifold_pressure : array
        Absolute pressure in the intake manifold [Pa].
    boost_pressure : array
        Absolute pressure before the throttle [Pa].
    air_flow, fuel_flow, exhaust_flow : array
        Mass flows [kg/s].
    charge_temperature : array
        After the charge cooler [K].
    compressor_inlet_pressure, compressor_outlet_pressure : array
        Absolute pressures [Pa].
    compressor_outlet_temperature : array
        [K]
    turbine_inlet_pressure, turbine_outlet_pressure : array
        Absolute pressures [Pa].
    exhaust_temperature : array
        Gas temperature at the turbine inlet [K].
    gate_flow : array
        Mass flow that must pass the wastegate [kg/s].
    turbine_flow : array
        Mass flow that the turbine needs to drive the compressor [kg/s].
    phasing, best_phasing : array
        Angle of half-burned charge used, and the best one [rad after top dead centre].
    peak_pressure : array
        Mean peak cylinder pressure [Pa].
    spark_density : array
        Charge density at spark [kg/m3].
    coolant_heat, oil_heat : array
        Heat to coolant and to oil [W].
    cause : array of int
        0 where a point exists, else a member of :class:`Cause`.
    """

    speed: Array
    torque: Array
    manifold_pressure: Array
    boost_pressure: Array
    air_flow: Array
    fuel_flow: Array
    exhaust_flow: Array
    charge_temperature: Array
    compressor_inlet_pressure: Array
    compressor_outlet_pressure: Array
    compressor_outlet_temperature: Array
    turbine_inlet_pressure: Array
    turbine_outlet_pressure: Array
    exhaust_temperature: Array
    gate_flow: Array
    turbine_flow: Array
    phasing: Array
    best_phasing: Array
    peak_pressure: Array
    spark_density: Array
    coolant_heat: Array
    oil_heat: Array
    cause: NDArray[np.int8]


class Cause(Enum):
    """Why there is no operating point."""

    NONE = (0, "an operating point exists")
    DRIVE = (1, "the turbine cannot drive the compressor")
    PHASING = (2, "the combustion phasing needed is later than allowed: knock or peak pressure")
    RANGE = (3, "more manifold pressure than the model covers")
    CAP = (4, "the boost cap is reached")

    def __init__(self, code: int, text: str) -> None:
        self.code = code
        self.text = text


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """Everything besides the engine's state that a limit rule may look at.

    Parameters
    ----------
    platform : Platform
        Constants of the platform.
    fuel : Fuel
        What is in the tank.
    weather : Weather
        The day.
    duration : float
        How long full load is held [s].
    distance : float
        Distance run by the car [m].
    shared : mapping of str to float
        What installed parts offer to others, such as the share of port injection; names are those
        of :data:`graph.limit.SHARED`.
    linked : mapping of str to float
        What installed parts tell their neighbours where the car's own parts are judged together; names are those of
        :data:`graph.limit.LINKED`. Empty where every neighbour is adequate.
    """

    platform: Platform
    fuel: Fuel
    weather: Weather
    duration: float
    distance: float = 0.0
    shared: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    linked: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))

    def constant(self, name: str) -> float:
        """Platform constant `name` [SI].

        Raises
        ------
        MissingRecord
            The platform does not state it.
        """
        if name not in self.platform.constants:
            raise MissingRecord(f"platform {self.platform.id} lacks the constant {name!r}; add it to its sheet")
        return self.platform.constants[name]
