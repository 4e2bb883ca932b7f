"""What a part kind declares: its ratings, what it feeds into the engine's state, its limit rules.

A rule compares a *demand* (what the engine asks of the part at an operating point) with a
*capacity* (what its rating lets it carry at that very condition). Nothing here knows a particular
kind; nothing in a kind knows another kind.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from enum import Enum
from types import MappingProxyType

import numpy as np

from graph.errors import MissingRecord
from graph.model import Array, Curve, Operation, Part, Setting
from graph.quantity import Quantity


class LimitKind(Enum):
    """What happens at a limit."""

    HARD = "hard"
    PROTECTIVE = "protective"
    MEASURING = "measuring"
    FLOOR = "floor"


class Control(Enum):
    """A control setting that can respect a protective limit before the part is harmed."""

    SPARK = "spark"
    MIXTURE = "mixture"
    TORQUE = "torque by speed"


class Axis(Enum):
    """The axis on which a limit lives."""

    MASS_FLOW = "mass flow"
    FUEL_PER_HOUR = "fuel per hour"
    FUEL_PER_REVOLUTION = "fuel per revolution"
    CRANK_WINDOW = "crank window"
    BOOST = "boost pressure"
    PRESSURE_RATIO = "pressure ratio"
    TORQUE = "torque"
    SPEED = "speed"
    PEAK_PRESSURE = "peak pressure"
    SPARK = "spark voltage"
    HEAT = "heat over time"
    TEMPERATURE = "temperature"
    BACK_PRESSURE = "back pressure"
    SIGNAL = "signal range"
    CURRENT = "current"
    PRESSURE = "pressure"
    COUNT = "count"


#: What installed parts may offer to the rules of other parts: name -> (SI unit, meaning).
SHARED: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "port share": ("1", "share of the fuel mass that goes through the port injectors"),
        "pump current": ("A", "current of the tank pump at its rated flow and pressure"),
        "pump flow": ("m3/s", "rated flow of the tank pump"),
    }
)


#: What a part tells the rows of its neighbours where the car's own parts are judged together; a row judged alone has
#: adequate neighbours and hears nothing. Name -> (SI unit, meaning).
LINKED: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "boost overshoot": ("1", "peak of the boost over its steady value when it arrives, less 1"),
        "cam pump delivery": ("m3", "volume that the high-pressure pump delivers per turn of the crankshaft"),
        "tank pump flow": ("m3/s", "rated flow of the tank pumps together"),
        "tank pump pressure": ("Pa", "gauge pressure of that rating"),
        "tank pump voltage": ("V", "voltage of that rating"),
        "tank pump current": ("A", "current of the tank pumps together at that rating"),
        "controller current": ("A", "current that the pump controller stands for the time asked"),
        "wiring current": ("A", "current of the pump wiring at its stated drop"),
        "wiring drop": ("V", "that drop"),
        "filter flow": ("m3/s", "flow of the filter at its stated drop, at its age"),
        "filter drop": ("Pa", "that drop"),
        "line flow": ("m3/s", "flow of the supply line at its stated drop"),
        "line drop": ("Pa", "that drop"),
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ConditionSpec:
    """A condition that a rating may state.

    Parameters
    ----------
    name : str
        Such as ``voltage``.
    quantity : Quantity or None
        None for a word (a fluid).
    default : float, str or None
        Assumed where the sheet is silent [SI]; None if silence is a defect when `required`.
    required : bool
        True where a rating without it cannot be used at all.
    words : tuple of str
        For a word: the words allowed.
    """

    name: str
    quantity: Quantity | None
    default: float | str | None = None
    required: bool = False
    words: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class RatingSpec:
    """A rating that parts of a kind may state.

    Parameters
    ----------
    name : str
        Such as ``air flow``.
    quantity : Quantity
        What is stated.
    label : str
        One line for people: what it is.
    plausible : (float, float)
        Smallest and largest believable value [SI].
    conditions : tuple of ConditionSpec
        Where it holds.
    over : Quantity or None
        For a curve: the quantity of its support points.
    required : bool
        True if a part of the kind cannot be judged without it.
    default : float or None
        Value taken, and marked as assumed, where the part does not state the rating [SI].
    default_source : str
        Where the default comes from.
    lower_bound : bool
        True where the number is a minimum that must be held, not a maximum that may be used.
    example : str
        A value for a blank sheet, in the usual unit, where one cannot be made from the plausible range.
    """

    name: str
    quantity: Quantity
    label: str
    plausible: tuple[float, float]
    conditions: tuple[ConditionSpec, ...] = ()
    over: Quantity | None = None
    required: bool = True
    default: float | None = None
    default_source: str = ""
    lower_bound: bool = False
    example: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Own:
    """The ratings of one part as a rule sees them: values at their conditions, times sampled factors.

    Parameters
    ----------
    part : Part
        The part.
    kind : Kind
        Its kind.
    count : int
        Pieces that work in parallel.
    factors : mapping of str to array
        For each rating name a factor on its value [1], broadcastable against the batch.
    """

    part: Part
    kind: Kind
    count: int = 1
    factors: Mapping[str, Array | float] = field(default_factory=lambda: MappingProxyType({}))

    def value(self, name: str, at: Array | float | None = None) -> Array:
        """Value of a rating [SI], for a curve interpolated at `at` and held at its ends.

        Raises
        ------
        MissingRecord
            The part does not state the rating and the kind has no default.
        """
        rating = self.part.rating(name)
        factor = self.factors.get(name, 1.0)
        if rating is None:
            default = self.kind.rating(name).default
            if default is None:
                raise MissingRecord(f"{self.part.id} ({self.part.name}) states no {name}")
            return np.asarray(default * np.asarray(factor))
        if isinstance(rating.value, Curve):
            if at is None:
                raise MissingRecord(f"{self.part.id}: {name} is a curve and needs a point to be read at")
            return np.asarray(np.interp(at, rating.value.x, rating.value.y) * np.asarray(factor))
        return np.asarray(rating.value * np.asarray(factor))

    def curve(self, name: str) -> Curve:
        """A rating that is a curve, its values times the sampled factor [SI].

        Raises
        ------
        MissingRecord
            The part does not state it, or states a single number.
        """
        rating = self.part.rating(name)
        if rating is None or not isinstance(rating.value, Curve):
            raise MissingRecord(f"{self.part.id} ({self.part.name}) states no curve of {name}")
        factor = float(np.asarray(self.factors.get(name, 1.0)))
        return Curve(x=rating.value.x, y=tuple(factor * y for y in rating.value.y))

    def states(self, name: str) -> bool:
        """True if the part itself states the rating."""
        return self.part.rating(name) is not None

    def _stated(self, name: str, condition: str) -> float | str | None:
        """Condition of a rating, the kind's default where the part is silent."""
        rating = self.part.rating(name)
        found = rating.condition(condition) if rating is not None else None
        if found is not None:
            return found
        return next((c.default for c in self.kind.rating(name).conditions if c.name == condition), None)

    def condition(self, name: str, condition: str) -> float:
        """Condition of a rating [SI], the kind's default where the part is silent.

        Raises
        ------
        MissingRecord
            Neither the part nor the kind states it.
        """
        found = self._stated(name, condition)
        if found is None or isinstance(found, str):
            raise MissingRecord(f"{self.part.id} ({self.part.name}): {name} lacks its condition {condition}")
        return float(found)

    def word(self, name: str, condition: str) -> str:
        """Condition of a rating that is a word, such as the fluid."""
        found = self._stated(name, condition)
        if not isinstance(found, str):
            raise MissingRecord(f"{self.part.id} ({self.part.name}): {name} lacks its condition {condition}")
        return found


Demand = Callable[[Operation, Setting, Own], Array | float]
Capacity = Callable[[Operation, Setting, Own], Array | float]


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitRule:
    """One limit of a part kind.

    Parameters
    ----------
    name : str
        What is limited, in the trade's words.
    rating : str
        The rating that states the capacity.
    axis : Axis
        Where the limit lives.
    quantity : Quantity
        Of demand and capacity.
    kind : LimitKind
        What happens there.
    demand, capacity : callable
        ``(operation, setting, own) -> array`` broadcastable to the operation's shape [SI].
    why : str
        One sentence: why this stops a car.
    consequence : str
        One sentence: what happens when it is overrun.
    source : str
        Where the rule comes from.
    control : Control or None
        The control setting that respects the limit first.
    costs_power_only : bool
        True if overrunning it costs power and harms nothing.
    no_ceiling : str or None
        Why this limit is no power limit; None where it is one.
    needs : tuple of str
        Names of :data:`SHARED` that must be known.
    reads : tuple of str
        Further ratings of the part without which it simply has no such limit.
    """

    name: str
    rating: str
    axis: Axis
    quantity: Quantity
    kind: LimitKind
    demand: Demand
    capacity: Capacity
    why: str
    consequence: str
    source: str
    control: Control | None = None
    costs_power_only: bool = False
    no_ceiling: str | None = None
    needs: tuple[str, ...] = ()
    reads: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Feed:
    """What a part of a kind puts into the engine's state, or offers to other rules.

    Parameters
    ----------
    parameter : str
        Field of :class:`graph.operation.Path`, or a name of :data:`SHARED` or :data:`LINKED`.
    value : callable
        ``(own, setting) -> array`` [SI].
    """

    parameter: str
    value: Callable[[Own, Setting], Array | float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """Everything the program knows about one kind of part.

    Parameters
    ----------
    name : str
        The module's name, such as ``tank_pump``.
    label : str
        What people call the place, such as ``tank pump``.
    area : str
        Tab of the parts book.
    does : str
        One sentence for a customer: what the part does.
    ratings : tuple of RatingSpec
        What parts of the kind state.
    limits : tuple of LimitRule
        What stops them.
    feeds : tuple of Feed
        What they put into the engine's state.
    offers : tuple of Feed
        What they offer to the rules of other kinds.
    links : tuple of Feed
        What they tell their neighbours, by the names of :data:`LINKED`.
    synonyms : tuple of str
        Other names of the place in sheets, English and German.
    no_limit : str or None
        For a kind without rules: why it limits nothing.
    cautions : tuple of str
        Codes of the cautions to print with work on it: F fire, J high-pressure injection, H hot
        parts, R rotating, B brakes, L law, I insurance, E electrical load, T tank vapour.
    """

    name: str
    label: str
    area: str
    does: str
    ratings: tuple[RatingSpec, ...] = ()
    limits: tuple[LimitRule, ...] = ()
    feeds: tuple[Feed, ...] = ()
    offers: tuple[Feed, ...] = ()
    links: tuple[Feed, ...] = ()
    synonyms: tuple[str, ...] = ()
    no_limit: str | None = None
    cautions: tuple[str, ...] = ()

    def rating(self, name: str) -> RatingSpec:
        """Specification of the rating called `name`.

        Raises
        ------
        MissingRecord
            The kind has no such rating.
        """
        for spec in self.ratings:
            if spec.name == name:
                return spec
        raise MissingRecord(f"the kind {self.name} has no rating called {name!r}")
