"""The record of a car that came in: what was told, seen and measured, place by place, and the facts about the car.

Signs, inspections, checks and repairs are facts too; a later one on the same thing holds.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass

from graph.errors import UsageError
from graph.model import Belief, Car, Part
from graph.note import FACTS, Fact, Look, Photo
from graph.report import Report

HOUR = 3600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrival:
    """What was noted of an arrived car.

    Parameters
    ----------
    present, absent : tuple of str
        Keys of signs seen to be there, and seen not to be there.
    done : tuple of str
        Keys of inspections made.
    checked, faulty : tuple of str
        Of :data:`graph.gate.CHECKS`: looked at and fine, looked at and not fine.
    repaired : tuple of str
        Of :data:`graph.gate.REPAIRS`.
    agreed : float or None
        Time agreed with the customer [s]; None for what is on record, else an hour.
    """

    present: tuple[str, ...] = ()
    absent: tuple[str, ...] = ()
    done: tuple[str, ...] = ()
    checked: tuple[str, ...] = ()
    faulty: tuple[str, ...] = ()
    repaired: tuple[str, ...] = ()
    agreed: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """One place of a car as it is known.

    Parameters
    ----------
    slot : str
        Its name.
    part : Part or None
        What it is judged as.
    belief : Belief
        Unknown where nobody has recorded anything and the factory part is taken.
    claim : str
        What was said, or read off the part.
    taken_as : str
        What is taken instead of the claim, and why; empty where the part is known.
    condition, instrument, by, at : str
        Of the newest look.
    photos : tuple of Photo
        Of every look.
    stops : float or None
        Lowest ceiling of the part that it is judged as [W].
    """

    slot: str
    part: Part | None
    belief: Belief
    claim: str = ""
    taken_as: str = ""
    condition: str = ""
    instrument: str = ""
    by: str = ""
    at: str = ""
    photos: tuple[Photo, ...] = ()
    stops: float | None = None


def standings(car: Car, report: Report, looks: Collection[Look]) -> tuple[Standing, ...]:
    """Every place of a car with how well it is known.

    Parameters
    ----------
    car : Car
        With what was seen of it.
    report : Report
        A check of it, for the ceilings.
    looks : collection of Look
        Oldest first.

    Returns
    -------
    tuple of Standing
        In the order of the platform.
    """
    newest = {look.slot: look for look in looks}
    recorded = {i.slot: i for i in car.installed}
    found = []
    for place in report.build.places:
        name = place.slot.name
        look, said = newest.get(name), recorded.get(name)
        ceilings = [f.ceiling for f in report.findings if f.slot == name and f.ceiling is not None]
        taken = place.unknown or ""
        if said is None:
            taken = taken or "taken as the factory's; nobody has looked"
        found.append(
            Standing(
                slot=name,
                part=place.part,
                belief=place.belief if said is not None else Belief.UNKNOWN,
                claim=place.claim,
                taken_as=taken,
                condition=said.condition if said is not None else "",
                instrument=look.instrument if look is not None else "",
                by=look.by if look is not None else "",
                at=look.at if look is not None else "",
                photos=tuple(p for x in looks if x.slot == name for p in x.photos),
                stops=min(ceilings, default=None),
            )
        )
    return tuple(found)


def on_record(facts: Collection[Fact]) -> tuple[dict[str, Fact], Arrival]:
    """Facts about a car as they hold now.

    Parameters
    ----------
    facts : collection of Fact
        Oldest first.

    Returns
    -------
    plain : dict of str to Fact
        By key of :data:`graph.note.FACTS`.
    arrival : Arrival
        Signs, inspections, checks, repairs and the time agreed.
    """
    newest = {f.key: f for f in facts}
    plain = {key: f for key, f in newest.items() if key in FACTS}

    def of(topic: str, word: str) -> tuple[str, ...]:
        return tuple(
            key.partition(" ")[2] for key, f in newest.items() if key.startswith(topic + " ") and f.text == word
        )

    minutes = plain.get("agreed minutes")
    return plain, Arrival(
        present=of("sign", "present"),
        absent=of("sign", "absent"),
        done=of("inspection", "done"),
        checked=of("check", "fine"),
        faulty=of("check", "not fine"),
        repaired=of("repair", "done"),
        agreed=float(minutes.text) * 60.0 if minutes is not None else None,
    )


def together(before: Arrival, now: Arrival) -> Arrival:
    """What is on record with what is said now; where both speak of one thing, what is said now holds.

    Parameters
    ----------
    before, now : Arrival
        On record, and said now.

    Returns
    -------
    Arrival
        Both.
    """

    def joined(old: Iterable[str], new: tuple[str, ...], against: tuple[str, ...]) -> tuple[str, ...]:
        return tuple(dict.fromkeys([*(k for k in old if k not in against), *new]))

    return Arrival(
        present=joined(before.present, now.present, now.absent),
        absent=joined(before.absent, now.absent, now.present),
        done=joined(before.done, now.done, ()),
        checked=joined(before.checked, now.checked, now.faulty),
        faulty=joined(before.faulty, now.faulty, now.checked),
        repaired=joined(before.repaired, now.repaired, ()),
        agreed=now.agreed if now.agreed is not None else before.agreed,
    )


def facts_of(car: str, arrival: Arrival, said: Iterable[tuple[str, str]] = (), by: str = "") -> tuple[Fact, ...]:
    """Facts to be kept of what was said.

    Parameters
    ----------
    car : str
        Id of the car.
    arrival : Arrival
        Signs, inspections, checks, repairs, time agreed.
    said : iterable of (str, str)
        Keys of :data:`graph.note.FACTS` and their text.
    by : str
        Who says it.

    Returns
    -------
    tuple of Fact
        In that order.

    Raises
    ------
    UsageError
        A key that is not asked for, or an empty text.
    """
    pairs = [
        *((f"sign {k}", "present") for k in arrival.present),
        *((f"sign {k}", "absent") for k in arrival.absent),
        *((f"inspection {k}", "done") for k in arrival.done),
        *((f"check {k}", "fine") for k in arrival.checked),
        *((f"check {k}", "not fine") for k in arrival.faulty),
        *((f"repair {k}", "done") for k in arrival.repaired),
    ]
    if arrival.agreed is not None:
        pairs.append(("agreed minutes", f"{arrival.agreed / 60.0:g}"))
    for key, text in said:
        if key not in FACTS or key == "agreed minutes":
            known = ", ".join(k for k in FACTS if k != "agreed minutes")
            raise UsageError(
                f"no fact is called {key!r}; known: {known}; the minutes agreed have an option of their own"
            )
        if not text.strip():
            raise UsageError(f"fact {key!r} says nothing; write what was found")
        pairs.append((key, text.strip()))
    return tuple(Fact(car=car, key=key, text=text, by=by) for key, text in pairs)
