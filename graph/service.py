"""The use cases: what the command line and the pages call. Each takes plain values in SI units."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Protocol, TypeVar

from graph.capacity import Trial
from graph.check import check
from graph.errors import OutOfRange, UnknownName, UsageError
from graph.fit import fuel_remedies, pulled, remedies
from graph.hindsight import with_hindsight
from graph.kinds import discover
from graph.limit import Kind
from graph.memory import Memory
from graph.model import Belief, Build, Car, Fuel, Installed, Part, Place, Platform, Slot, Target, Weather
from graph.note import Fact, Look, PlanChange
from graph.physics import atmosphere, fuel
from graph.report import Report, Stated
from graph.sampling import SAMPLES

FUEL_KIND = "fuel_grade"
_Record = TypeVar("_Record", Car, Platform)


class View(Protocol):
    """What a use case reads; :mod:`graph.store` provides it."""

    def parts(self, kind: str | None = None, fits: str | None = None) -> tuple[Part, ...]:
        """Current catalogue parts."""

    def part(self, number: str) -> Part | None:
        """One current part, None if the book does not hold it."""

    def platforms(self) -> tuple[Platform, ...]:
        """Current platforms."""

    def cars(self) -> tuple[Car, ...]:
        """Current cars."""

    def trials(self) -> tuple[Trial, ...]:
        """What pulls showed of limits."""

    def looks(self, car: str | None = None) -> tuple[Look, ...]:
        """Looks at the places of cars, oldest first."""

    def facts(self, car: str | None = None) -> tuple[Fact, ...]:
        """Facts noted of cars, oldest first."""

    def changes(self, car: str | None = None) -> tuple[PlanChange, ...]:
        """Changes of plans, oldest first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Request:
    """What a person asks of a car.

    Parameters
    ----------
    power : float
        Crank power [W].
    boost : float or None
        Boost cap, gauge [Pa].
    fuel : str or None
        Name of a fuel; None for the car's own.
    torque : float or None
        Torque wanted [N.m].
    power_speed : float or None
        Speed of the power [1/s].
    ambient : float or None
        Air temperature [K].
    altitude : float or None
        Height above the sea [m].
    pressure : float or None
        Absolute air pressure at the place [Pa]; overrides the altitude.
    duration : float or None
        How long full load is held [s].
    install : tuple of str
        Parts to take as fitted.
    as_stated : bool
        True to leave out what dyno records of the car taught of its engine.
    """

    power: float
    boost: float | None = None
    fuel: str | None = None
    torque: float | None = None
    power_speed: float | None = None
    ambient: float | None = None
    altitude: float | None = None
    pressure: float | None = None
    duration: float | None = None
    install: tuple[str, ...] = ()
    as_stated: bool = False


#: What may be asked: name -> (low, high, factor to the shown unit, offset after it, shown unit).
ASKED: Mapping[str, tuple[float, float, float, float, str]] = {
    "power": (2.0e4, 1.2e6, 1e-3, 0.0, "kW"),
    "boost": (0.0, 4.0e5, 1e-5, 0.0, "bar gauge"),
    "torque": (50.0, 3000.0, 1.0, 0.0, "N·m"),
    "power_speed": (1000.0 / 60.0, 12000.0 / 60.0, 60.0, 0.0, "1/min"),
    "ambient": (233.15, 333.15, 1.0, -273.15, "°C"),
    "altitude": (-400.0, 5000.0, 1.0, 0.0, "m"),
    "pressure": (5.0e4, 1.1e5, 1e-5, 0.0, "bar absolute"),
    "duration": (1.0, 24.0 * 3600.0, 1.0 / 60.0, 0.0, "min"),
}
#: Share of a bound that a value may lie beyond it: what a change of units leaves over [1].
ROUNDING = 1e-12


def assess(
    view: View,
    car: str,
    request: Request,
    *,
    suggest: bool = True,
    hindsight: bool = True,
    samples: int = SAMPLES,
    memory: Memory | None = None,
) -> Report:
    """Check a car: weakest link, every ceiling, and what would clear each limit.

    Parameters
    ----------
    view : View
        The book.
    car : str
        Id of the car.
    request : Request
        What is asked [SI].
    suggest : bool
        True to look for catalogue parts that clear the limits below the target.
    hindsight : bool
        False to take every rating as stated, without what pulls showed of it.
    samples : int
        Joint samples; 0 for the stated values alone [1].
    memory : Memory or None
        Engine states shared with other targets of this car.

    Returns
    -------
    Report
        [SI]

    Raises
    ------
    UnknownName
        No such car, part or fuel.
    OutOfRange
        A value that cannot be asked.
    """
    refuse_out_of_range(request)
    record, catalogue = _book(view, car, request, hindsight)
    platform = find_record("platform", record.platform, view.platforms())
    build = assemble(record, platform, catalogue, request.install, request.fuel)
    target = aim(request, record, catalogue)
    report = check(build, target, discover(), samples=samples, memory=memory, aside=suggest)
    report = replace(report, warnings=_warnings(build, catalogue))
    if suggest and build.learnt is not None:
        plain = check(replace(build, learnt=None), target, discover(), samples=0)
        report = replace(report, stated=Stated(makes=plain.makes.power, carries=plain.carries))
    return _with_remedies(report, catalogue) if suggest else report


def remedied(view: View, car: str, request: Request, report: Report, *, hindsight: bool = True) -> Report:
    """Add to a check what would clear each of its limits.

    Parameters
    ----------
    view : View
        The book.
    car : str
        Id of the car.
    request : Request
        What was asked [SI].
    report : Report
        The check of it.
    hindsight : bool
        As for the check.

    Returns
    -------
    Report
        The same, with its remedies.
    """
    return _with_remedies(report, _book(view, car, request, hindsight)[1])


def _book(view: View, car: str, request: Request, hindsight: bool) -> tuple[Car, dict[str, Part]]:
    """The car, and the parts of the book that matter to a request about it."""
    record = known_car(view.cars(), car, request)
    platform = find_record("platform", record.platform, view.platforms())
    catalogue = relevant(view, record, platform, (*request.install, *filter(None, (request.fuel,))))
    if hindsight:
        catalogue = with_hindsight(catalogue, view.trials(), record, platform)
    return record, catalogue


def _with_remedies(report: Report, catalogue: Mapping[str, Part]) -> Report:
    """Look for catalogue parts, and for a fuel, that clear the limits below the target."""
    if report.reachable is True:
        return report
    build, target, kinds = report.build, report.target, discover()
    grades = [(p, burned(p.id, catalogue)) for p in fuel_names(catalogue).values()]
    fuels = fuel_remedies(build, target, kinds, grades, report.engine_alone)
    findings, aimed = report.findings, target
    if fuels:
        aimed = replace(target, fuel=burned(fuels[0].part, catalogue))
        findings = check(build, aimed, kinds).findings
    found = remedies(build, aimed, kinds, tuple(catalogue.values()), findings) + fuels
    short = dict.fromkeys(f.slot for f in findings if f.ceiling is not None and f.ceiling < target.power)
    nothing = tuple(slot for slot in short if slot not in {r.slot for r in found})
    return replace(report, remedies=found, remedies_fuel=aimed.fuel.name, without_remedy=nothing)


def relevant(view: View, car: Car, platform: Platform, named: Iterable[str] = ()) -> dict[str, Part]:
    """Parts of the book that matter to one car: those that fit its codes, and those that a record or a person names.

    Parameters
    ----------
    view : View
        The book.
    car : Car
        As recorded.
    platform : Platform
        Its platform.
    named : iterable of str
        Part numbers named otherwise.

    Returns
    -------
    dict of str to Part
        By number, in the order of the numbers.
    """
    found = {p.id: p for code in car_codes(car, platform) for p in view.parts(fits=code)}
    others = [s.factory_part for s in platform.slots] + [i.part for i in car.installed] + list(named)
    for number in others:
        if number is not None and number not in found:
            part = view.part(number)
            if part is not None:
                found[number] = part
    return dict(sorted(found.items()))


def car_codes(car: Car, platform: Platform) -> tuple[str, ...]:
    """Codes that a part may fit to fit this car: the platform, its engine, the car's own gearbox."""
    return tuple(dict.fromkeys((platform.id, *platform.codes[:1], *car.codes)))


def find_record(what: str, name: str, records: Iterable[_Record]) -> _Record:
    """The record with an id; an unknown one names those that exist.

    Parameters
    ----------
    what : str
        Kind of record, for the sentence.
    name : str
        Its id.
    records : iterable of Car or Platform
        Where to look.

    Returns
    -------
    Car or Platform
        The record.

    Raises
    ------
    UnknownName
        None has this id.
    """
    listed = list(records)
    for record in listed:
        if record.id == name:
            return record
    raise UnknownName(what, name, sorted(r.id for r in listed))


def known_car(cars: Iterable[Car], car: str, request: Request) -> Car:
    """The car that a request is about, with or without what its own dyno records taught of its engine.

    Parameters
    ----------
    cars : iterable of Car
        On record.
    car : str
        Id of the car.
    request : Request
        Whether the engine counts as stated.

    Returns
    -------
    Car
        The record.

    Raises
    ------
    UnknownName
        No such car.
    """
    record = find_record("car", car, cars)
    return replace(record, learnt=None) if request.as_stated else record


def refuse_out_of_range(request: Request) -> None:
    """Refuse a request whose numbers nobody can mean.

    Parameters
    ----------
    request : Request
        What is asked [SI].

    Raises
    ------
    OutOfRange
        Names the number, what was found and what may be asked.
    """
    for name, (low, high, factor, offset, unit) in ASKED.items():
        value = getattr(request, name)
        if value is not None and not low - ROUNDING * abs(low) <= value <= high + ROUNDING * abs(high):
            raise OutOfRange(
                name.replace("_", " "),
                f"{value * factor + offset:g} {unit}",
                f"{low * factor + offset:g} to {high * factor + offset:g} {unit}",
                "ask within that range",
            )


def assemble(
    car: Car,
    platform: Platform,
    catalogue: Mapping[str, Part],
    install: Iterable[str] = (),
    fuel_name: str | None = None,
) -> Build:
    """Resolve what is in every slot of a car.

    Parameters
    ----------
    car : Car
        As recorded.
    platform : Platform
        Its platform.
    catalogue : mapping of str to Part
        By number.
    install : iterable of str
        Parts to take as fitted; each goes to the slot of its kind.
    fuel_name : str or None
        Fuel to take instead of the car's.

    Returns
    -------
    Build
        Every slot with a part, or with what is not known about it.

    Raises
    ------
    UnknownName
        A part or fuel that the book does not hold.
    UsageError
        A part that has no slot on this car, two parts for one slot, or a fuel beside another to be filled in.
    """
    install = tuple(install)
    said = {i.slot: i for i in car.installed}
    fitted: dict[str, Part] = {}
    slots = [s for s in platform.slots if s.only_with is None or s.only_with in car.codes]
    for number in install:
        if number not in catalogue:
            raise UnknownName("part", number, sorted(catalogue))
        part = catalogue[number]
        slot = next((s for s in slots if s.kind == part.kind), None)
        if slot is None:
            raise UsageError(f"{number} ({part.name}) goes to a slot that {car.id} does not have")
        if fitted.setdefault(slot.name, part).id != number:
            raise UsageError(f"{fitted[slot.name].id} and {number} both go to the {slot.name}; name one of the two")
    places = []
    for slot in slots:
        if slot.name in fitted:
            places.append(Place(slot=slot, part=fitted[slot.name], belief=Belief.SEEN))
        else:
            places.append(_place(slot, said.get(slot.name), catalogue))
    codes = car_codes(car, platform)
    build = Build(
        car=car.id, platform=platform, places=tuple(places), codes=codes, distance=car.distance, learnt=car.learnt
    )
    chosen = fuel_part(_filled(install, fuel_name, catalogue) or car.fuel, catalogue)
    if chosen is not None and build.place("fuel grade") is not None:
        places = [
            Place(slot=p.slot, part=chosen, belief=Belief.SEEN) if p.slot.kind == FUEL_KIND else p for p in build.places
        ]
        build = replace(build, places=tuple(places))
    return build


def _place(slot: Slot, installed: Installed | None, catalogue: Mapping[str, Part]) -> Place:
    factory = catalogue.get(slot.factory_part) if slot.factory_part is not None else None
    if installed is None:
        missing = (
            None if factory is not None or slot.factory_part is None else f"{slot.factory_part} is not in the book"
        )
        return Place(slot=slot, part=factory, belief=Belief.LABEL_READ, unknown=missing)
    if installed.part is not None and installed.part not in catalogue:
        return Place(slot=slot, part=None, belief=installed.belief, unknown=f"{installed.part} is not in the book")
    part = catalogue[installed.part] if installed.part is not None else None
    if installed.belief is Belief.CLAIMED:
        claim = installed.claim or (part.name if part is not None else "a part without a number")
        why = f"claimed, not seen: {claim}; judged as the factory part until seen"
        return Place(slot=slot, part=factory or part, belief=installed.belief, unknown=why, claim=claim)
    if installed.belief is Belief.UNKNOWN or part is None:
        why = installed.claim or "no part recorded"
        return Place(slot=slot, part=part, belief=installed.belief, unknown=why, claim=installed.claim)
    return Place(slot=slot, part=part, belief=installed.belief, claim=installed.claim)


def _filled(install: Iterable[str], name: str | None, catalogue: Mapping[str, Part]) -> str | None:
    """The fuel that is asked by name or stands among the parts to be fitted; None for neither."""
    fitted = next((n for n in install if n in catalogue and catalogue[n].kind == FUEL_KIND), None)
    if fitted is None or name is None:
        return name or fitted
    asked = fuel_part(name, catalogue)
    if asked is None or asked.id != fitted:
        raise UsageError(f"{fitted} ({catalogue[fitted].name}) is to be filled in and {name} is asked; name one fuel")
    return name


def fuel_names(catalogue: Mapping[str, Part]) -> dict[str, Part]:
    """Short names of the fuels in the book: ``ron98`` for petrol, ``e85`` by ethanol above 20 %.

    Parameters
    ----------
    catalogue : mapping of str to Part
        By number.

    Returns
    -------
    dict of str to Part
        Name to fuel grade.
    """
    named: dict[str, Part] = {}
    for part in catalogue.values():
        if part.kind == FUEL_KIND and (octane := part.rating("research octane")) is not None:
            ethanol = part.rating("ethanol")
            share = float(ethanol.value) if ethanol is not None and isinstance(ethanol.value, float) else 0.0
            name = f"e{share * 100:.0f}" if share > 0.20 else f"ron{float(octane.value):.0f}"  # type: ignore[arg-type]
            named[name] = part
    return named


def fuel_part(name: str | None, catalogue: Mapping[str, Part]) -> Part | None:
    """The fuel grade called by a short name or a part number; None for a blend that the book does not hold."""
    if name is None:
        return None
    return catalogue.get(name) or fuel_names(catalogue).get(name.lower())


def burned(name: str, catalogue: Mapping[str, Part]) -> Fuel:
    """Properties of a fuel.

    Parameters
    ----------
    name : str
        Short name of a fuel in the book, a part number, or ``eNN`` for NN % of ethanol by volume in the base petrol.
    catalogue : mapping of str to Part
        By number.

    Returns
    -------
    Fuel
        [SI]

    Raises
    ------
    UnknownName
        No such fuel.
    """
    part = fuel_part(name, catalogue)
    if part is None:
        blend = re.fullmatch(r"e(\d{1,3})", name.lower())
        if blend is None or int(blend.group(1)) > 100:
            raise UnknownName("fuel", name, [*sorted(fuel_names(catalogue)), "e0 to e100"])
        return replace(fuel.blend(fuel.BASE_PETROL, int(blend.group(1)) / 100.0), name=name.lower())
    ratings = {r.name: r for r in part.ratings}
    numbers = {n: float(r.value) for n, r in ratings.items() if isinstance(r.value, float | int)}
    for needed in ("research octane", "motor octane"):
        if needed not in numbers:
            raise UsageError(f"{part.id} ({part.name}) states no {needed}; add it to the fuel sheet")
    mixed = fuel.blend(fuel.BASE_PETROL, numbers.get("ethanol", 0.0))
    short = next((n for n, p in fuel_names(catalogue).items() if p.id == part.id), part.id)
    return replace(
        mixed,
        name=short,
        research_octane=numbers["research octane"],
        motor_octane=numbers["motor octane"],
        density=numbers.get("density", mixed.density),
        spread=ratings["research octane"].spread,
        source=ratings["research octane"].evidence.source,
    )


def aim(request: Request, car: Car, catalogue: Mapping[str, Part]) -> Target:
    """Turn a request into a target.

    Parameters
    ----------
    request : Request
        What is asked [SI].
    car : Car
        For its own fuel.
    catalogue : mapping of str to Part
        For the fuel.

    Returns
    -------
    Target
        [SI]

    Raises
    ------
    UsageError
        No fuel is named and the car has none, or two fuels are named.
    """
    name = _filled(request.install, request.fuel, catalogue) or car.fuel
    if name is None:
        raise UsageError(f"{car.id} has no fuel on record; name one with --fuel")
    altitude = request.altitude or 0.0
    pressure = request.pressure
    if pressure is None:
        pressure = float(atmosphere.standard_atmosphere(altitude)[1])
    return Target(
        power=request.power,
        fuel=burned(name, catalogue),
        boost_cap=request.boost,
        torque=request.torque,
        power_speed=request.power_speed,
        weather=Weather(
            temperature=request.ambient if request.ambient is not None else usual_temperature(altitude),
            pressure=pressure,
            altitude=altitude,
        ),
        duration=request.duration if request.duration is not None else 15.0,
    )


def usual_temperature(altitude: float) -> float:
    """Air temperature taken where none is given: 25 degC at the sea, falling as in the standard atmosphere [K].

    Parameters
    ----------
    altitude : float
        [m]

    Returns
    -------
    float
        [K]
    """
    fall = atmosphere.standard_atmosphere(0.0)[0] - atmosphere.standard_atmosphere(altitude)[0]
    return Weather().temperature - float(fall)


def _warnings(build: Build, catalogue: Mapping[str, Part]) -> tuple[str, ...]:
    """What the installed parts require and do not find on the car."""
    said: list[str] = []
    for place in build.places:
        if place.part is None or place.part.factory:
            continue
        pull = pulled(build, place.part, catalogue)
        said.extend(
            f"{place.part.id} ({place.slot.name}) requires {number}, which is not on the car" for number in pull.parts
        )
        said.extend(pull.conflicts)
    return tuple(dict.fromkeys(said))


def list_cars(view: View) -> tuple[Car, ...]:
    """Every car on record."""
    return view.cars()


def list_parts(view: View, slot: str | None = None, fits: str | None = None) -> tuple[Part, ...]:
    """Catalogue parts, all or those of one slot and platform.

    Parameters
    ----------
    view : View
        The book.
    slot : str or None
        Label, synonym or name of a kind.
    fits : str or None
        Platform, engine or gearbox code.

    Returns
    -------
    tuple of Part
        In the order of their numbers.

    Raises
    ------
    UnknownName
        No such slot.
    """
    kind = None if slot is None else find_kind(slot).name
    return view.parts(kind=kind, fits=fits)


def find_kind(name: str) -> Kind:
    """The part kind called by a name, label or synonym.

    Parameters
    ----------
    name : str
        As people write it.

    Returns
    -------
    Kind
        The kind.

    Raises
    ------
    UnknownName
        No such slot.
    """
    wanted = _plain(name)
    kinds = discover()
    for kind in kinds.values():
        if wanted in {_plain(n) for n in (kind.name, kind.label, *kind.synonyms)}:
            return kind
    raise UnknownName("slot", name, sorted(k.label for k in kinds.values()))


def _plain(name: str) -> str:
    """A name as it is compared: lower case, one space, umlauts spelt out."""
    spelt = name.strip().lower()
    for umlaut, letters in (("ä", "ae"), ("ö", "oe"), ("ü", "ue"), ("ß", "ss")):
        spelt = spelt.replace(umlaut, letters)
    return re.sub(r"[\s_-]+", " ", spelt)
