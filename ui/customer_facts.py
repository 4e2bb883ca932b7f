"""What a customer page is made from: the answers as they were given, and small readings of them."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from graph.decision import Decision
from graph.experience import Experience
from graph.gate import Gate
from graph.model import Car
from graph.report import Finding, Report, Verdict
from ui.customer_options import Offer, Option
from ui.customer_words import Words
from ui.printed import Logo
from ui.shop_settings import ShopSettings

#: Inspections that settle what is in a place, the first that the shop's knowledge holds.
LOOKS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "air_box": ("inlet-depression",),
        "catalyst": ("back-pressure-port",),
        "charge_pipe": ("smoke-test",),
        "coils": ("coil-swap",),
        "compressor": ("turbo-play",),
        "follower": ("pump-removal",),
        "fuel_filter": ("filter-drop",),
        "fuel_grade": ("ethanol-test",),
        "high_pressure_pump": ("pump-removal",),
        "injectors": ("injector-balance",),
        "inlet_pipe": ("inlet-depression",),
        "intercooler": ("cooler-three-temperatures",),
        "pistons": ("borescope",),
        "plugs": ("plugs-pull",),
        "pump_controller": ("controller-heat-log",),
        "pump_wiring": ("voltage-check",),
        "rods": ("leak-down",),
        "silencer": ("back-pressure-port",),
        "tank_pump": ("low-side-gauge",),
        "throttle": ("flap-look",),
        "turbine": ("back-pressure-port",),
        "valves": ("borescope",),
        "wastegate": ("gate-hand-pump",),
    }
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Facts:
    """Everything that a page says, without its words.

    Parameters
    ----------
    report : Report
        Check of the wish.
    car : Car
        As recorded.
    shop : ShopSettings
        Whose page it is.
    date : datetime.date
        Of the page.
    offer : Offer or None
        Ways to do it; None where no plan was asked for.
    looks : mapping of str to float
        Inspection to its work [s].
    experience : Experience
        How the shop's jobs turn out.
    decisions : tuple of Decision
        What was decided about this car before, oldest first.
    logo : Logo or None
        Of the shop.
    gate : Gate or None
        Whether the car may go on the rollers, by what is on record; None where nobody asked.
    """

    report: Report
    car: Car
    shop: ShopSettings
    date: datetime.date
    offer: Offer | None = None
    looks: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    experience: Experience = field(default_factory=Experience)
    decisions: tuple[Decision, ...] = ()
    logo: Logo | None = None
    gate: Gate | None = None

    @property
    def chosen(self) -> Option | None:
        """The way that the cost and the parts left out are shown for."""
        return None if self.offer is None else self.offer.chosen

    def kind(self, slot: str) -> str:
        """Kind of part in a slot; ``engine`` for the engine's own row."""
        place = self.report.build.place(slot)
        return slot if place is None else place.slot.kind


def place_word(facts: Facts, words: Words, slot: str) -> str:
    """The customer's word for a slot."""
    return words.slot(facts.kind(slot), slot)


def wish_word(facts: Facts, words: Words) -> str:
    """The power wished for in kW, as it was asked."""
    return words.number(facts.report.target.power / 1e3)


def narrowest(report: Report) -> dict[str, Finding]:
    """For each slot its limit with the lowest ceiling, lowest first; slots without a ceiling are left out."""
    found: dict[str, Finding] = {}
    for finding in report.findings:
        if finding.ceiling is not None and finding.slot not in found:
            found[finding.slot] = finding
    return found


def short(report: Report) -> dict[str, Finding]:
    """Slots whose ceiling lies below the wish, lowest first, those that are not known left out."""
    unknown = {u.slot for u in report.unknown}
    return {
        slot: f
        for slot, f in narrowest(report).items()
        if f.ceiling is not None
        and f.ceiling < report.target.power
        and slot not in unknown
        and f.verdict is not Verdict.UNKNOWN
    }


def cheapest_look(facts: Facts) -> tuple[str, float] | None:
    """The shortest inspection that settles something not known, or else one of the narrowest places.

    Parameters
    ----------
    facts : Facts
        The page's.

    Returns
    -------
    tuple of str and float, or None
        Key of the inspection and its work [s].
    """
    slots = [u.slot for u in facts.report.unknown] or list(facts.report.tie)
    found = [(facts.looks[key], key) for slot in slots for key in LOOKS.get(facts.kind(slot), ()) if key in facts.looks]
    return None if not found else (min(found)[1], min(found)[0])
