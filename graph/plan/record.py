"""What a plan answers, as data."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import Enum
from types import MappingProxyType

from graph.model import Target
from graph.plan.wish import MarginPolicy as MarginPolicy
from graph.plan.wish import ShopTerms as ShopTerms
from graph.plan.wish import Wishes as Wishes
from graph.report import Report


class Because(Enum):
    """Why a step is in a plan, or a reason for which there is none."""

    LIMIT = "limit"
    REQUIRES = "requires"
    INTERFACE = "interface"
    EXCLUDES = "excludes"


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """One reason in words."""

    because: Because
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Miss:
    """A limit that a plan does not keep as the policy asks.

    Parameters
    ----------
    slot : str
        Where; the engine and the whole car are slots of their own.
    part : str or None
        Number of the part.
    rule : str
        Which limit.
    chance : float
        Of passing it at the target; for the whole car of carrying the target [1].
    allowed : float
        Largest chance that the policy allows; for the whole car the least [1].
    """

    slot: str
    part: str | None
    rule: str
    chance: float
    allowed: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One part to fit.

    Parameters
    ----------
    slot : str
        Where.
    install, name : str
        Number and name of the part.
    remove : str or None
        What comes out.
    price : float
        Net price [currency].
    labour : float
        Labour to fit it on its own [s].
    why : tuple of Reason
        What it is needed for.
    skip_ceiling : float or None
        What the finished plan carries without it [W]; None where it cannot be judged without it.
    used : str or None
        Condition of a used piece; None for a new one.
    """

    slot: str
    install: str
    name: str
    remove: str | None
    price: float
    labour: float
    why: tuple[Reason, ...] = ()
    skip_ceiling: float | None = None
    tasks: tuple[str, ...] = ()
    stock: int | None = None
    lead_time: float | None = None
    used: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SharedLabour:
    """A strip-down that is paid once.

    Parameters
    ----------
    operation : str
        Which.
    saves : float
        Labour saved [s].
    jobs : tuple of str
        Numbers of the parts whose jobs share it.
    """

    operation: str
    saves: float
    jobs: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cost:
    """What a plan costs.

    Parameters
    ----------
    parts : float
        Net price of the parts [currency].
    labour : float
        Labour, each strip-down once [s].
    work : float
        Net price of the labour [currency].
    tax : float
        [currency]
    """

    parts: float = 0.0
    labour: float = 0.0
    work: float = 0.0
    tax: float = 0.0
    currency: str = "EUR"

    @property
    def net(self) -> float:
        """Parts and work before tax [currency]."""
        return self.parts + self.work

    @property
    def total(self) -> float:
        """With tax [currency]."""
        return self.net + self.tax


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Plan:
    """The whole answer.

    Parameters
    ----------
    target : Target
        What is reached, or was asked.
    reachable : bool
        True if a set of parts was found.
    cost : Cost or None
        Of the set found.
    lower_bound : float
        No set that satisfies the policy costs less with tax [currency].
    gap : float or None
        Total above the lower bound [currency].
    proven : bool
        True if the search ended and the gap is 0.
    steps : tuple of Step
        What to fit.
    shared_labour : tuple of SharedLabour
        What is paid once.
    before, after : Report or None
        Checks of the car as it is and as it would be.
    conflict : tuple of Reason
        Where no set exists: reasons that exclude each other, none of which can be left out.
    proof : str
        What exactly is proven.
    instead : Plan or None
        Where the budget is too small, or no set keeps the policy: the highest power on a grid that is reached.
    nearest : Plan or None
        Where no set keeps the policy: the cheapest one that misses it least.
    refuelled : Plan or None
        Where no set keeps the policy on the fuel asked: the cheapest one on any fuel of the book.
    misses : tuple of Miss
        Of a plan that does not keep the policy: what it misses.
    lacks : tuple of Miss
        Of a car that carries the target as it stands: what it misses of the policy.
    notes : tuple of str
        What is odd about the book or the wishes, in sentences.
    irreducible : bool
        False if the time ran out while the conflict was made smaller.
    fuel_open : bool
        True where no set exists and every fuel of the book was tried.
    """

    target: Target
    reachable: bool
    cost: Cost | None = None
    lower_bound: float = 0.0
    gap: float | None = None
    proven: bool = False
    steps: tuple[Step, ...] = ()
    shared_labour: tuple[SharedLabour, ...] = ()
    before: Report | None = None
    after: Report | None = None
    conflict: tuple[Reason, ...] = ()
    proof: str = ""
    instead: Plan | None = None
    nearest: Plan | None = None
    refuelled: Plan | None = None
    misses: tuple[Miss, ...] = ()
    lacks: tuple[Miss, ...] = ()
    notes: tuple[str, ...] = ()
    irreducible: bool = True
    fuel_open: bool = False
    policy: MarginPolicy = field(default_factory=MarginPolicy)
    effort: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))

    @property
    def wait(self) -> tuple[float, Step | None]:
        """Until every part is there [s], and the part that comes last; a part of unknown wait is not counted."""
        ordered = [s for s in self.steps if (s.stock or 0) < 1 and s.lead_time]
        last = max(ordered, key=lambda s: s.lead_time or 0.0, default=None)
        return (0.0, None) if last is None else (last.lead_time or 0.0, last)


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """One point of money against power.

    Parameters
    ----------
    power : float
        [W]
    total : float
        With tax [currency].
    parts : tuple of str
        Numbers to fit.
    holds_probability : float
        Chance that it carries the power [1].
    proven : bool
        True if no cheaper set exists.
    """

    power: float
    total: float
    parts: tuple[str, ...]
    fuel: str
    holds_probability: float
    proven: bool
    carries: float = 0.0
