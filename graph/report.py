"""The answers: what a check says, as data. Text, JSON and pictures are renderings made elsewhere."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from graph.limit import Axis, Control, LimitKind
from graph.model import Array, Build, Evidence, Operation, Target
from graph.quantity import Quantity


class Verdict(Enum):
    """What a limit says about the target."""

    CLEAR = "clear"
    MARGINAL = "marginal"
    EXCEEDED = "exceeded"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True, kw_only=True)
class Interval:
    """5th, 50th and 95th percentile of a power [W]; None where that share of the samples never reaches the limit."""

    low: float
    median: float
    high: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One limit of one slot, judged at the target.

    Parameters
    ----------
    slot : str
        Place on the car; ``engine`` for what the engine itself can make.
    part, part_name : str or None
        What is in it.
    rule : str
        Name of the limit.
    rating : str
        The rating that states the capacity.
    axis, kind, quantity
        Where the limit lives, what happens at it, and in which quantity it is counted.
    control : Control or None
        The setting that respects it first.
    demand, capacity : float or None
        At the worst speed on the target curve [SI], None without an operating point.
    utilisation : float or None
        Demand over capacity [1].
    utilisation_reason : str or None
        Why there is none.
    worst_speed : float or None
        Speed at which the limit is tightest at the target, or at the last power below it that exists [1/s].
    ceiling : float or None
        Ceiling alone [W].
    ceiling_interval : Interval or None
        From the spreads of ratings [W].
    ceiling_here : float or None
        Ceiling with the car's own parts in place [W].
    ceiling_reason : str or None
        Why there is no ceiling, or above which power it lies.
    weakest_probability : float
        Share of samples in which this ceiling is the lowest [1].
    exceed_probability : float or None
        Share of samples in which the utilisation at the target exceeds 1 [1].
    verdict : Verdict
        Clear, marginal, exceeded, unknown.
    why, consequence, source : str
        Sentences of the rule.
    evidence : Evidence or None
        Of the rating used.
    condition : str
        Conditions of the rating as stated.
    assumed : bool
        True if a condition or the rating itself was assumed.
    """

    slot: str
    part: str | None
    part_name: str | None
    rule: str
    rating: str
    axis: Axis | None
    kind: LimitKind
    quantity: Quantity
    control: Control | None = None
    demand: float | None = None
    capacity: float | None = None
    utilisation: float | None = None
    utilisation_reason: str | None = None
    worst_speed: float | None = None
    ceiling: float | None = None
    ceiling_interval: Interval | None = None
    ceiling_here: float | None = None
    ceiling_reason: str | None = None
    weakest_probability: float = 0.0
    exceed_probability: float | None = None
    verdict: Verdict = Verdict.UNKNOWN
    why: str = ""
    consequence: str = ""
    source: str = ""
    evidence: Evidence | None = None
    condition: str = ""
    assumed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Makes:
    """What the engine makes at the boost cap with the car's own parts.

    Parameters
    ----------
    power : float
        Highest power with an operating point, hard limits and fuel obeyed [W].
    torque : float
        Highest torque on the curve of that power [N.m].
    speed : float
        Speed of the power [1/s].
    boost : float
        Boost there, gauge [Pa].
    knock_limited : bool
        True if knock sets the phasing there.
    cause : str
        What stops it.
    at_cap : float
        The same with hard limits of parts ignored [W].
    """

    power: float
    torque: float
    speed: float
    boost: float
    knock_limited: bool
    cause: str
    at_cap: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Unknown:
    """A slot that cannot be judged, and why."""

    slot: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Remedy:
    """A catalogue part that clears one limit at the target, with what it pulls along.

    Parameters
    ----------
    slot : str
        Place it goes to.
    rule : str
        The limit that it clears.
    part, name : str
        The part.
    ceiling : float or None
        Its own ceiling alone [W]; None where it is not crossed.
    price : float or None
        Net price of the part alone.
    total : float or None
        Net price of the part and of all that it pulls along and the car lacks.
    labour : float
        Labour of all of it, shared nothing [s].
    pulls : tuple of str
        Parts that it requires and the car lacks.
    conflicts : tuple of str
        Interfaces that do not meet, excluded parts, requirements that nothing fulfils.
    tasks : tuple of str
        Work that goes with it.
    kinds : tuple of str
        Kinds of the part and of all that it pulls along.
    stock : int or None
        Pieces on the shelf.
    lead_time : float or None
        Longest lead time of all of it [s].
    """

    slot: str
    rule: str
    part: str
    name: str
    ceiling: float | None
    price: float | None
    total: float | None
    labour: float
    pulls: tuple[str, ...] = ()
    conflicts: tuple[str, ...] = ()
    tasks: tuple[str, ...] = ()
    kinds: tuple[str, ...] = ()
    stock: int | None = None
    lead_time: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Circumstance:
    """A ceiling in a circumstance other than the one asked; it lowers nothing in the answer.

    Parameters
    ----------
    slot : str
        Place on the car.
    part : str or None
        What is in it.
    circumstance : str
        Such as ``without the mist`` or ``held for 20 min``.
    rule : str
        Name of the limit.
    ceiling : float or None
        Alone [W]; None where it is not reached in range.
    ceiling_here : float or None
        With the car's own parts in place [W].
    why, remedy : str
        What ends it, and what follows from that.
    """

    slot: str
    part: str | None
    circumstance: str
    rule: str
    ceiling: float | None
    ceiling_here: float | None
    why: str
    remedy: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Stated:
    """What the answer would be with the engine as the platform's sheet states it: makes and carries [W]."""

    makes: float
    carries: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Report:
    """The whole answer of a check.

    Parameters
    ----------
    build, target
        What was asked.
    findings : tuple of Finding
        Ordered by ceiling alone, lowest first, those without last.
    weakest : Finding or None
        The limit with the lowest ceiling alone.
    tie : tuple of str
        Smallest set of slots that holds 90 % of the weakest probability.
    makes : Makes
        What the rollers would show with nothing broken.
    engine_alone : float
        The engine row with every other slot adequate [W].
    carries : float
        Smallest of all ceilings here and makes [W].
    carries_interval : Interval
        From the same samples [W].
    carries_is_upper_bound : bool
        True if an unknown slot may lower it.
    holds_probability : float
        Share of samples with carries at or above the target power [1].
    reachable : bool or None
        None if an unknown that matters decides.
    unknown : tuple of Unknown
        What cannot be judged.
    curve : Operation
        The state on the target curve with the car's own parts, shape (N,); at `curve_power`.
    curve_power : float
        Power of the curve shown: the target, or what the car makes if that is less [W].
    torque_allowed : array, shape (N,)
        Least torque that any limit permits at each speed [N.m].
    reference : mapping text
        The declared constants of the reference state, in words.
    warnings : tuple of str
        Sentences about ranges left, requirements missing, interfaces that do not meet.
    remedies : tuple of Remedy
        For each limit below the target what would clear it, cheapest first.
    remedies_fuel : str or None
        Fuel on which the remedies were judged: the first on which the engine alone reaches the target, where the
        target's own does not.
    without_remedy : tuple of str
        Slots below the target, on that fuel, for which the book holds nothing that fits and clears it.
    samples : int
        Joint samples drawn.
    circumstances : tuple of Circumstance
        Ceilings in other circumstances: without the mist or the ethanol, in one pull or held for long.
    extrapolated : tuple of str
        Formulas that the answer uses beyond the range for which they were made.
    stated : Stated or None
        The same without what dyno records of the car taught of its engine; None where they taught nothing.
    """

    build: Build
    target: Target
    findings: tuple[Finding, ...]
    weakest: Finding | None
    tie: tuple[str, ...]
    makes: Makes
    engine_alone: float
    carries: float
    carries_interval: Interval
    carries_is_upper_bound: bool
    holds_probability: float
    reachable: bool | None
    unknown: tuple[Unknown, ...]
    curve: Operation
    curve_power: float
    torque_allowed: Array
    reference: tuple[str, ...]
    warnings: tuple[str, ...] = ()
    remedies: tuple[Remedy, ...] = ()
    remedies_fuel: str | None = None
    without_remedy: tuple[str, ...] = ()
    samples: int = 0
    circumstances: tuple[Circumstance, ...] = ()
    extrapolated: tuple[str, ...] = ()
    stated: Stated | None = None
