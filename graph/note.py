"""What a workshop notes of a car that came in: looks at its places, facts about it, changes of the plan.

Every note is kept with who made it and when; a later one replaces an earlier one in what holds, never on record.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

from graph.errors import UsageError
from graph.model import Belief, Car, Installed

#: What is asked of every car that comes in, besides its parts.
FACTS: Mapping[str, str] = MappingProxyType(
    {
        "use": "what it is used for: road, track, towing",
        "fuel claimed": "fuel as claimed",
        "fuel measured": "fuel as measured, with the instrument",
        "codes": "stored codes, before anything was cleared",
        "software": "software version, and whether the file is readable",
        "oil": "oil: level, smell, age",
        "coolant": "coolant: level and state",
        "brake fluid": "brake fluid: level and age",
        "compression": "compression of each cylinder",
        "leak-down": "leak-down of each cylinder",
        "tyres": "tyres: size, age, tread, speed rating",
        "agreed minutes": "minutes agreed with the customer",
        "signed": "who signed, and what for",
    }
)
#: From the weakest to the strongest.
RANK: Mapping[Belief, int] = MappingProxyType({belief: rank for rank, belief in enumerate(Belief)})


@dataclass(frozen=True, slots=True, kw_only=True)
class Photo:
    """A photograph of a look: its name, the digest of its content, and where the file is kept."""

    name: str
    sha256: str
    path: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """What somebody saw in one place of a car.

    Parameters
    ----------
    car, slot : str
        Where.
    belief : Belief
        How well the part is known now.
    part : str or None
        Its number, where it is known.
    claim : str
        What was said, or read off it.
    condition : str
        State of the part: wear, damage, leaks.
    instrument : str
        With what it was measured.
    photos : tuple of Photo
        Pictures.
    fitted : bool
        True where the part was fitted or refitted just now: what pulls showed of this place before no longer counts.
    by, at : str
        Who and when (ISO date and time); the store fills in the time.
    """

    car: str
    slot: str
    belief: Belief
    part: str | None = None
    claim: str = ""
    condition: str = ""
    instrument: str = ""
    photos: tuple[Photo, ...] = ()
    fitted: bool = False
    by: str = ""
    at: str = ""

    def __post_init__(self) -> None:
        """Refuse a look that says more than it knows."""
        if self.belief is Belief.LABEL_READ and self.part is None and not self.claim:
            raise UsageError(f"{self.slot}: a label was read; name the part or what the label says")
        if self.belief is Belief.MEASURED and not self.instrument:
            raise UsageError(f"{self.slot}: measured, but not with what; name the instrument")


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """One answer about a car: a key of :data:`FACTS`, what was found, who and when."""

    car: str
    key: str
    text: str
    by: str = ""
    at: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanChange:
    """Why a plan grew or shrank: what was found, where, and what it does to the price.

    Parameters
    ----------
    car, slot : str
        Where.
    finding : str
        What was found.
    action : str
        What is done about it.
    price : float
        Net change of the price; negative where it becomes cheaper [the shop's currency].
    agreed : bool
        True once the customer has agreed.
    fault : str or None
        Key of the fault that it confirms, for the shop's own counts.
    by, at : str
        Who and when.
    """

    car: str
    slot: str
    finding: str
    action: str = ""
    price: float = 0.0
    agreed: bool = False
    fault: str | None = None
    by: str = ""
    at: str = ""


def seen_on(car: Car, looks: Collection[Look]) -> Car:
    """A car as recorded, with what was seen of it since.

    Parameters
    ----------
    car : Car
        As its sheet says.
    looks : collection of Look
        Of this car, oldest first.

    Returns
    -------
    Car
        The newest look at a place holds, unless the sheet knows the part better than that look.
    """
    if not looks:
        return car
    newest = {look.slot: look for look in looks}
    said = {i.slot: i for i in car.installed}
    for slot, look in newest.items():
        before = said.get(slot)
        if before is not None and RANK[look.belief] < RANK[before.belief]:
            continue
        said[slot] = Installed(
            slot=slot,
            part=look.part if look.part is not None or look.belief is not Belief.SEEN else _same(before),
            belief=look.belief,
            claim=look.claim or (before.claim if before is not None else ""),
            condition=look.condition or (before.condition if before is not None else ""),
            source=f"looked at by {look.by or 'nobody named'}, {look.at}",
        )
    return replace(car, installed=tuple(said.values()))


def _same(before: Installed | None) -> str | None:
    """The part that was named before, where a look confirms that it is there without reading its number again."""
    return before.part if before is not None else None
