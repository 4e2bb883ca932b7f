"""What of a build is judged: its limits, what its parts feed into the engine's state, what is not known."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

import numpy as np

from graph.errors import MissingRecord
from graph.learnt import Learnt
from graph.limit import Feed, Kind, LimitRule, Own
from graph.model import Array, Belief, Build, Meaning, Operation, Place, Rating, Setting
from graph.operation import COOLER_EXPONENT, PATH_FIELDS
from graph.report import Unknown

#: Feeds that are properties of the engine itself and so belong to the reference state as well.
ENGINE_FEEDS = frozenset({"breathing", "mist_share", "mist_methanol", "octane_shift"})
#: Fields of the path of which the smaller one holds where two parts feed the same.
SMALLEST = frozenset({"peak_pressure"})


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Subject:
    """One limit of one place of a build."""

    place: Place
    kind: Kind
    rule: LimitRule
    own: Own

    def utilisation(
        self, operation: Operation, setting: Setting, factors: Mapping[str, Array | float] | None = None
    ) -> tuple[Array, Array]:
        """Demand and capacity over an operation, with factors on the part's ratings.

        Parameters
        ----------
        operation : Operation
            Any batch shape.
        setting : Setting
            Constants of the question.
        factors : mapping of str to float or None
            Factor on each rating [1].

        Returns
        -------
        demand, capacity : array
            Broadcast to the operation's shape [SI].
        """
        own = self.own
        if factors is not None:
            own = Own(part=own.part, kind=own.kind, count=own.count, factors=factors)
        shape = np.shape(operation.torque)
        demand = np.broadcast_to(self.rule.demand(operation, setting, own), shape)
        capacity = np.broadcast_to(self.rule.capacity(operation, setting, own), shape)
        return demand, capacity


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Anatomy:
    """A build taken apart for judging.

    Parameters
    ----------
    subjects : tuple of Subject
        Every limit that can be judged.
    feeds : mapping of str to mapping
        For each slot that feeds the engine's state the fields of the path [SI].
    unknown : tuple of Unknown
        Slots that cannot be judged, and limits without a number.
    shared : mapping of str to float
        What parts offer to the rules of others [SI].
    linked : mapping of str to float
        What parts tell their neighbours where all are judged together [SI].
    learnt : Learnt or None
        What the car's own dyno records taught of its engine; its factors are on every configuration.
    """

    subjects: tuple[Subject, ...]
    feeds: Mapping[str, Mapping[str, float]]
    unknown: tuple[Unknown, ...]
    shared: Mapping[str, float]
    linked: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    learnt: Learnt | None = None

    def reference(self) -> dict[str, float]:
        """Path fields of the reference state: the engine's own properties, everything else adequate."""
        return self.with_part({})

    def alone(self, slot: str) -> dict[str, float]:
        """Path fields with only one slot's own part in place."""
        return self.with_part(self.feeds.get(slot, {}))

    def with_part(self, fed: Mapping[str, float]) -> dict[str, float]:
        """Path fields of the reference state with what one part feeds [SI]."""
        engine = {k: v for own in self.feeds.values() for k, v in own.items() if k in ENGINE_FEEDS}
        return self._known({**engine, **fed})

    def _known(self, path: dict[str, float]) -> dict[str, float]:
        return path if self.learnt is None else self.learnt.applied(path)

    def here(self) -> dict[str, float]:
        """Path fields with the car's own parts in place."""
        together: dict[str, float] = {}
        for fed in self.feeds.values():
            for name, value in fed.items():
                if name in SMALLEST and name in together:
                    together[name] = min(together[name], value)
                else:
                    together[name] = value
        return self._known(together)


def fed_by(place: Place, kind: Kind, setting: Setting, factors: Mapping[str, float] | None = None) -> dict[str, float]:
    """Path fields that a part feeds, with factors on its ratings.

    Parameters
    ----------
    place : Place
        With a known part.
    kind : Kind
        Kind of the part.
    setting : Setting
        Constants of the question.
    factors : mapping of str to float or None
        Factor on each rating [1].

    Returns
    -------
    dict of str to float
        Fields of :class:`graph.operation.Path` [SI]; empty where the part states too little.
    """
    if place.part is None:
        return {}
    own = Own(part=place.part, kind=kind, count=place.slot.count, factors=MappingProxyType(dict(factors or {})))
    fed: dict[str, float] = {}
    for feed in kind.feeds:
        try:
            fed[feed.parameter] = float(np.asarray(feed.value(own, setting)))
        except MissingRecord:
            continue
    if "turbine_flow" in fed:
        fed["turbine_given"] = 1.0
    if "cooler_effectiveness" in fed:
        fed["cooler_exponent"] = COOLER_EXPONENT
    return {k: v for k, v in fed.items() if k in PATH_FIELDS}


def offered_by(
    place: Place, kind: Kind, setting: Setting, factors: Mapping[str, float] | None = None
) -> dict[str, float]:
    """What a part offers to the rules of others, with factors on its ratings.

    Parameters
    ----------
    place : Place
        With or without a part.
    kind : Kind
        Kind of the part.
    setting : Setting
        Constants of the question.
    factors : mapping of str to float or None
        Factor on each rating [1].

    Returns
    -------
    dict of str to float
        By the names of :data:`graph.limit.SHARED` [SI]; empty where the part states too little.
    """
    return _told(kind.offers, place, kind, setting, factors)


def linked_by(
    place: Place, kind: Kind, setting: Setting, factors: Mapping[str, float] | None = None
) -> dict[str, float]:
    """What a part tells its neighbours, with factors on its ratings.

    Parameters
    ----------
    place : Place
        With or without a part.
    kind : Kind
        Kind of the part.
    setting : Setting
        Constants of the question.
    factors : mapping of str to float or None
        Factor on each rating [1].

    Returns
    -------
    dict of str to float
        By the names of :data:`graph.limit.LINKED` [SI]; empty where the part states too little.
    """
    return _told(kind.links, place, kind, setting, factors)


def _told(
    feeds: tuple[Feed, ...], place: Place, kind: Kind, setting: Setting, factors: Mapping[str, float] | None
) -> dict[str, float]:
    """What a part says to others; what it cannot say for want of a number is left out."""
    if place.part is None:
        return {}
    own = Own(part=place.part, kind=kind, count=place.slot.count, factors=MappingProxyType(dict(factors or {})))
    told: dict[str, float] = {}
    for feed in feeds:
        try:
            told[feed.parameter] = float(np.asarray(feed.value(own, setting)))
        except MissingRecord:
            continue
    return told


def dissect(build: Build, kinds: Mapping[str, Kind], setting: Setting) -> Anatomy:
    """Take a build apart.

    Parameters
    ----------
    build : Build
        The car with its parts.
    kinds : mapping of str to Kind
        Part kinds by name.
    setting : Setting
        Constants of the question; its `shared` and `linked` are ignored and found here.

    Returns
    -------
    Anatomy
        Limits, feeds, unknowns.
    """
    subjects: list[Subject] = []
    feeds: dict[str, Mapping[str, float]] = {}
    unknown: list[Unknown] = []
    shared: dict[str, float] = {}
    linked: dict[str, float] = {}
    known: list[tuple[Place, Kind, Own]] = []
    for place in build.places:
        kind = kinds[place.slot.kind]
        if place.unknown is not None:
            unknown.append(Unknown(slot=place.slot.name, why=place.unknown))
        if place.part is None:
            continue
        own = Own(part=place.part, kind=kind, count=place.slot.count)
        known.append((place, kind, own))
        shared.update(offered_by(place, kind, setting))
        linked.update(linked_by(place, kind, setting))
        fed = fed_by(place, kind, setting)
        if fed:
            feeds[place.slot.name] = fed
    for place, kind, own in known:
        for rule in kind.limits:
            why = _not_judged(rule, kind, own, shared)
            if why is None:
                subjects.append(Subject(place=place, kind=kind, rule=rule, own=own))
            elif why:
                unknown.append(Unknown(slot=place.slot.name, why=f"{rule.name}: {why}"))
    return Anatomy(
        subjects=tuple(subjects),
        feeds=MappingProxyType(feeds),
        unknown=tuple(dict.fromkeys(unknown)),
        shared=MappingProxyType(shared),
        linked=MappingProxyType(linked),
        learnt=build.learnt,
    )


def _not_judged(rule: LimitRule, kind: Kind, own: Own, shared: Mapping[str, float]) -> str | None:
    """None if a rule can be judged, else why not; empty where the part simply has no such limit."""
    for spec in kind.ratings:
        if spec.required and not own.states(spec.name) and spec.default is None:
            return f"{own.part.id} states no {spec.name}"
    for name in (rule.rating, *rule.reads):
        if not own.states(name) and kind.rating(name).default is None:
            return ""
    for name in rule.needs:
        if name not in shared:
            return f"the {name} is not known"
    return None


def believed(place: Place) -> bool:
    """True if what is in a place is more than a claim."""
    return place.belief not in (Belief.CLAIMED, Belief.UNKNOWN) and place.unknown is None


def sampled(rating: Rating, normal: Array) -> Array:
    """Standard deviations by which a true capacity lies off the stated value, for standard normal draws.

    Parameters
    ----------
    rating : Rating
        With its meaning.
    normal : array
        Standard normal draws [1].

    Returns
    -------
    array
        Draws for the logarithm of the true capacity over the stated one, in units of the spread [1]: nominal is the
        median, a guaranteed minimum the 5 % point, a survived load lies below and a failed load above the capacity.
    """
    if rating.meaning is Meaning.GUARANTEED:
        return normal + 1.6448536269514722
    if rating.meaning is Meaning.SURVIVED:
        return np.abs(normal)
    if rating.meaning is Meaning.FAILED:
        return -np.abs(normal)
    return normal
