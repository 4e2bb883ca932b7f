"""The choices of a plan: for every slot what may be in it, and which choices go together."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from graph.errors import UnknownName
from graph.model import Belief, Build, Fuel, Part, Place
from graph.plan.bond import Clash, Key, Need, bonds
from graph.plan.labour import members
from graph.plan.supply import Stock, current, on_shelf, there_within
from graph.plan.wish import FuelOffer, Wishes

FUEL_KIND = "fuel_grade"
CALIBRATION_KIND = "calibration"
Domains = tuple[tuple[int, ...], ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Option:
    """One thing that may be in a slot.

    Parameters
    ----------
    place : Place
        The slot with the part in it.
    kept : bool
        True for what is there already.
    fuel : Fuel or None
        For the fuel grade: what is burned.
    barred : frozenset of str
        Names of the wishes that rule it out.
    """

    place: Place
    kept: bool
    fuel: Fuel | None = None
    barred: frozenset[str] = frozenset()

    @property
    def part(self) -> Part | None:
        """The part, None for an empty slot."""
        return self.place.part

    @property
    def bought(self) -> Part | None:
        """The part if it is to be bought."""
        return None if self.kept else self.place.part


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Choices:
    """All options with their bonds.

    Parameters
    ----------
    build : Build
        The car as it is.
    options : tuple of tuple of Option
        For each slot; the option that keeps what is there comes first.
    needs : mapping of Key to tuple of Need
        Requirements of each option.
    clashes : mapping of Key to tuple of Clash
        By either option.
    relaxed : frozenset of str
        Names of wishes and bonds that are left out.
    bonded : frozenset of Key
        Options that require or clash with anything.
    """

    build: Build
    options: tuple[tuple[Option, ...], ...]
    needs: Mapping[Key, tuple[Need, ...]]
    clashes: Mapping[Key, tuple[Clash, ...]]
    relaxed: frozenset[str] = frozenset()
    bonded: frozenset[Key] = frozenset()

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the slots."""
        return tuple(p.slot.name for p in self.build.places)

    def all(self) -> Domains:
        """Every option of every slot that no wish rules out."""
        return tuple(tuple(i for i, o in enumerate(found) if o.barred <= self.relaxed) for found in self.options)

    def needs_of(self, key: Key) -> tuple[Need, ...]:
        """Requirements of an option."""
        found = self.needs.get(key, ())
        return tuple(n for n in found if n.name not in self.relaxed) if self.relaxed else found

    def clashes_of(self, key: Key) -> tuple[Clash, ...]:
        """Clashes of an option."""
        found = self.clashes.get(key, ())
        return tuple(c for c in found if c.name not in self.relaxed) if self.relaxed else found

    def reasons(self) -> tuple[str, ...]:
        """Names of every wish and bond."""
        wishes = {name for found in self.options for o in found for name in o.barred}
        bonds = {need.name for found in self.needs.values() for need in found}
        bonds |= {clash.name for found in self.clashes.values() for clash in found}
        return (*sorted(bonds), *sorted(wishes))

    def bought(self, selection: Sequence[int]) -> list[Part]:
        """Parts that a selection buys."""
        chosen = (self.options[s][i].bought for s, i in enumerate(selection))
        return [part for part in chosen if part is not None]

    def narrowed(self, domains: Domains) -> Domains | None:
        """Domains with everything struck out that no completion can hold; None if nothing is left somewhere.

        Parameters
        ----------
        domains : tuple of tuple of int
            Options of each slot that are still possible.

        Returns
        -------
        tuple of tuple of int or None
            A fixed point: requirements of settled slots with one way left are followed, clashes are struck out.
        """
        if not all(domains):
            return None
        if not any(len(d) == 1 and (s, d[0]) in self.bonded for s, d in enumerate(domains)):
            return domains
        live = [list(d) for d in domains]
        before = -1
        while (size := sum(map(len, live))) != before:
            before = size
            for s, found in enumerate(live):
                if len(found) == 1 and (s, found[0]) in self.bonded:
                    key = (s, found[0])
                    if not (self._struck(key, live) and self._followed(key, live)):
                        return None
        return tuple(tuple(d) for d in live)

    def _struck(self, key: Key, live: list[list[int]]) -> bool:
        """Strike out what clashes with a settled option."""
        for clash in self.clashes_of(key):
            slot, index = clash.pair[1] if clash.pair[0] == key else clash.pair[0]
            if index in live[slot] and not any(j in live[t] for t, j in clash.bridges):
                live[slot].remove(index)
                if not live[slot]:
                    return False
        return True

    def _followed(self, key: Key, live: list[list[int]]) -> bool:
        """Follow the requirements of a settled option."""
        for need in self.needs_of(key):
            ways: dict[int, list[int]] = {}
            for t, j in need.by:
                if j in live[t]:
                    ways.setdefault(t, []).append(j)
            if not ways:
                return False
            if len(ways) == 1:
                ((t, left),) = ways.items()
                if len(left) < len(live[t]):
                    live[t] = [j for j in live[t] if j in left]
        return True

    def sound(self, selection: Sequence[int]) -> bool:
        """True if a complete selection meets every requirement and nothing clashes."""
        chosen = set(enumerate(selection))
        for key in chosen:
            if any(not (need.by & chosen) for need in self.needs_of(key)):
                return False
            for clash in self.clashes_of(key):
                if set(clash.pair) <= chosen and not (clash.bridges & chosen):
                    return False
        return True


def gather(
    build: Build,
    catalogue: Iterable[Part],
    fuel: Fuel,
    fuels: Iterable[FuelOffer],
    wishes: Wishes,
    *,
    power: float,
    fuel_fixed: bool = False,
) -> Choices:
    """List what may be in every slot of a build.

    Parameters
    ----------
    build : Build
        The car as it is.
    catalogue : iterable of Part
        What can be had.
    fuel : Fuel
        What it burns now.
    fuels : iterable of FuelOffer
        Fuels that may be chosen instead.
    wishes : Wishes
        Side conditions.
    power : float
        Target power [W]; above the factory's a calibration is due.
    fuel_fixed : bool
        True if the fuel must stay.

    Returns
    -------
    Choices
        Parts of unknown price, and factory parts that are not on the car, are not offered. Options against a wish
        are listed with its name.

    Raises
    ------
    UnknownName
        A slot to keep or a part to forbid that does not exist.
    """
    book, offers = list(catalogue), list(fuels)
    slots = [p.slot.name for p in build.places]
    for name in sorted(wishes.keep - set(slots)):
        raise UnknownName("slot", name, slots)
    known = {p.id for p in book} | {p.part.id for p in build.places if p.part is not None}
    for number in sorted(wishes.forbid - known):
        raise UnknownName("part", number, sorted(known))
    more = power > build.platform.constants["factory power"] * (1.0 + 1e-9)
    book = current(book)
    stock = Stock(book)
    options: list[tuple[Option, ...]] = []
    for place in build.places:
        kept = Option(place=place, kept=True, fuel=fuel if place.slot.kind == FUEL_KIND else None)
        others = _others(place, build, stock, offers)
        stays = kept.part is not None and kept.part.factory and bool(others) and wishes.calibrate and more
        options.append(
            tuple(replace(o, barred=_barred(o, wishes, fuel_fixed, clipped=stays and o.kept)) for o in (kept, *others))
        )
    parts = {(s, i): o.part for s, found in enumerate(options) for i, o in enumerate(found) if o.part is not None}
    needs, clashes = bonds(build, parts)
    bonded = frozenset({*needs, *clashes})
    return Choices(build=build, options=tuple(options), needs=needs, clashes=clashes, bonded=bonded)


def _barred(option: Option, wishes: Wishes, fuel_fixed: bool, *, clipped: bool) -> frozenset[str]:
    """Names of the wishes that rule an option out."""
    slot, part = option.place.slot, option.part
    found = set()
    if slot.name in wishes.keep and not option.kept:
        found.add(f"keep:{slot.name}")
    if part is not None and part.id in wishes.forbid:
        found.add(f"forbid:{part.id}")
    if wishes.in_stock and not option.kept and not on_shelf(part):
        found.add("stock")
    if wishes.within is not None and not option.kept and not there_within(part, wishes.within):
        found.add("wait")
    if not wishes.used and not option.kept and part is not None and part.used is not None:
        found.add("used")
    if slot.kind == CALIBRATION_KIND and clipped:
        found.add("calibration")
    if slot.kind == FUEL_KIND and fuel_fixed and not option.kept:
        found.add("fuel")
    return frozenset(found)


def _others(place: Place, build: Build, stock: Stock, offers: list[FuelOffer]) -> list[Option]:
    there = place.part.id if place.part is not None else None
    if place.slot.kind == FUEL_KIND:
        codes = set(build.codes)
        return [
            Option(place=_with(place, o.part), kept=False, fuel=o.fuel)
            for o in sorted(offers, key=lambda o: o.part.id)
            if o.part.id != there and codes & set(o.part.fits)
        ]
    return [
        Option(place=_with(place, part), kept=False)
        for part in stock.fitting(build.codes, place.slot.kind)
        if part.id != there and not part.factory and part.price is not None
        if part.used is None or (part.stock or 0) >= 1
    ]


def _with(place: Place, part: Part) -> Place:
    return Place(slot=place.slot, part=part, belief=Belief.SEEN)


def given(choices: Choices) -> frozenset[str]:
    """Numbers of parts that some option would bring along at no price."""
    return members(o.part for found in choices.options for o in found if o.bought is not None and o.part is not None)
