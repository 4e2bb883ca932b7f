"""What a plan is asked for, as data: the shop's terms, its policy of margins, and a customer's wishes."""

from __future__ import annotations

from dataclasses import dataclass

from graph.model import Fuel, Part


@dataclass(frozen=True, slots=True, kw_only=True)
class ShopTerms:
    """What work costs in this shop.

    Parameters
    ----------
    hourly_rate : float
        Net price of an hour of labour [currency per 3600 s of labour].
    tax : float
        Share added to the net price [1].
    currency : str
        ISO code.
    """

    hourly_rate: float = 95.0
    tax: float = 0.20
    currency: str = "EUR"


@dataclass(frozen=True, slots=True, kw_only=True)
class MarginPolicy:
    """When a limit counts as clear and a build as good enough.

    Parameters
    ----------
    harm : float
        Largest probability that a limit is exceeded where that does harm [1].
    cost : float
        The same where it only costs power, and for the engine's own row [1].
    holds : float
        Least joint probability that the finished build carries the target [1].
    """

    harm: float = 0.05
    cost: float = 0.20
    holds: float = 0.80


@dataclass(frozen=True, slots=True, kw_only=True)
class Shared:
    """Hours of a strip-down that a job contains, and that it saves when another job has done it.

    Parameters
    ----------
    operation : str
        Such as ``engine out``.
    job : str
        Kind, or number, of the part whose fitting contains it.
    duration : float
        Labour that the job saves where the operation is done already [s].
    does : bool
        True if the job itself does the operation; False if it is only cheaper once it is done.
    """

    operation: str
    job: str
    duration: float
    does: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class BadDay:
    """A day on which the plan must still hold (assumption of this program; the shop may ask for its own).

    Parameters
    ----------
    temperature : float
        Of the air [K].
    altitude : float
        Above the sea [m].
    octane : float
        What the fuel lacks of its research and motor octane number [1].
    """

    temperature: float = 308.15
    altitude: float = 600.0
    octane: float = 1.0


BAD_DAY = BadDay()


@dataclass(frozen=True, slots=True, kw_only=True)
class Wishes:
    """Side conditions of a plan.

    Parameters
    ----------
    keep : frozenset of str
        Slots whose part must stay.
    forbid : frozenset of str
        Parts that must not be on the finished car.
    in_stock : bool
        True to buy only what lies on the shelf.
    budget : float or None
        Largest total with tax [currency].
    calibrate : bool
        True if more than the factory power needs a calibration that is not the factory's.
    within : float or None
        Longest wait for a part that is not on the shelf; a part without a known wait is then not bought [s].
    fewest : bool
        True for the fewest parts first, and among those the least money.
    used : bool
        True if used pieces may be fitted.
    bad_day : bool
        True to plan for heat, height and fuel of :data:`BAD_DAY` where the request does not say otherwise.
    """

    keep: frozenset[str] = frozenset()
    forbid: frozenset[str] = frozenset()
    in_stock: bool = False
    budget: float | None = None
    calibrate: bool = True
    within: float | None = None
    fewest: bool = False
    used: bool = False
    bad_day: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class FuelOffer:
    """A fuel that may be chosen: its catalogue part and its properties."""

    part: Part
    fuel: Fuel
