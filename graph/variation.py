"""What is uncertain in a build: ratings with a spread and parameters of the model, and where each of them is heard."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np

from graph.learnt import Learnt
from graph.limit import Kind
from graph.model import Array, Build, Place, Setting
from graph.operation import MODEL_SPREAD, REFERENCE
from graph.solution import Question
from graph.subject import Anatomy, fed_by, linked_by, offered_by, sampled

#: Stands for the slot where a variation belongs to the model and not to a part; its rating is a field of the path.
MODEL = "model"


@dataclass(frozen=True, slots=True, kw_only=True)
class Variation:
    """One uncertain rating of one place.

    Parameters
    ----------
    slot, rating : str
        Which.
    index : int
        Its column among the draws.
    sigma : float
        Standard deviation of the logarithm of the true value [1].
    changes_state : bool
        True if it changes the engine's state and not only a capacity.
    learnt : Learnt or None
        For a parameter of the model that dyno records of the car speak of: how it moves with the others.
    """

    slot: str
    rating: str
    index: int
    sigma: float
    changes_state: bool
    learnt: Learnt | None = None

    def factors(self, deviations: float) -> dict[str, float]:
        """Factor on the rating, so many standard deviations off [1]; on several fields where they were learnt together."""
        if self.learnt is not None:
            return self.learnt.factors(self.rating, deviations)
        return {self.rating: float(np.exp(self.sigma * deviations))}


def vary(anatomy: Anatomy, build: Build, kinds: Mapping[str, Kind], question: Question) -> tuple[Variation, ...]:
    """Every rating with a spread that matters to a limit or to the engine's state, then the model's parameters.

    Parameters
    ----------
    anatomy : Anatomy
        The build taken apart.
    build : Build
        The build.
    kinds : mapping of str to Kind
        Part kinds by name.
    question : Question
        For the constants.

    Returns
    -------
    tuple of Variation
        In the order of the places.
    """
    judged = {(s.place.slot.name, s.rule.rating) for s in anatomy.subjects}
    found: list[Variation] = []
    for place in build.places:
        if place.part is None:
            continue
        kind = kinds[place.slot.kind]
        nominal = fed_by(place, kind, question.setting)
        for rating in place.part.ratings:
            if rating.spread <= 0.0:
                continue
            sigma = float(np.sqrt(np.log1p(rating.spread**2)))
            moved = fed_by(place, kind, question.setting, {rating.name: float(np.exp(sigma))})
            changes = any(not np.isclose(moved[k], nominal[k], rtol=1e-12, atol=0.0) for k in nominal)
            if (
                changes
                or _offers_move(place, kind, question.setting, rating.name)
                or _links_move(place, kind, question.setting, rating.name)
                or (place.slot.name, rating.name) in judged
                or any(s.place.slot.name == place.slot.name for s in anatomy.subjects)
            ):
                found.append(
                    Variation(
                        slot=place.slot.name,
                        rating=rating.name,
                        index=len(found),
                        sigma=sigma,
                        changes_state=changes,
                    )
                )
    for parameter in parameters(build.learnt):
        own = build.learnt
        sigma = float(np.sqrt(np.log1p(MODEL_SPREAD[parameter][0] ** 2))) if own is None else own.spread(parameter)
        found.append(
            Variation(
                slot=MODEL,
                rating=parameter,
                index=len(found),
                sigma=sigma,
                changes_state=True,
                learnt=own,
            )
        )
    return tuple(found)


def parameters(learnt: Learnt | None) -> tuple[str, ...]:
    """Uncertain parameters of the model: those that dyno records of the car speak of, or the model's own."""
    return tuple(MODEL_SPREAD) if learnt is None else learnt.fields


def gained(path: Mapping[str, float], variation: Variation, sign: int) -> dict[str, float]:
    """A configuration with one parameter of the model moved by one standard deviation.

    Parameters
    ----------
    path : mapping of str to float
        [SI]
    variation : Variation
        Of the model.
    sign : int
        To which side.

    Returns
    -------
    dict of str to float
        [SI]; the same where a part that was not measured is in the place of a measured one.
    """
    factors = variation.factors(sign)
    if variation.learnt is not None:
        return variation.learnt.moved(path, factors)
    nominal = {f: path.get(f, float(np.asarray(getattr(REFERENCE, f)))) for f in factors}
    return {**path, **{f: nominal[f] * factor for f, factor in factors.items()}}


def _offers_move(place: Place, kind: Kind, setting: Setting, rating: str) -> bool:
    """True if what a part offers to the rules of others depends on one of its ratings."""
    return offered_by(place, kind, setting) != offered_by(place, kind, setting, {rating: 1.01})


class Heard(Mapping[str, float]):
    """What is said, with a note of the names that somebody listened to."""

    def __init__(self, said: Mapping[str, float]) -> None:
        self.said, self.names = said, set[str]()

    @property
    def listened(self) -> bool:
        """True if anybody listened at all."""
        return bool(self.names)

    def __getitem__(self, name: str) -> float:
        self.names.add(name)
        return self.said[name]

    def __iter__(self) -> Iterator[str]:
        self.names.update(self.said)
        return iter(self.said)

    def __len__(self) -> int:
        self.names.update(self.said)
        return len(self.said)


class Asked(Mapping[str, float]):
    """No factors at all, with a note of the ratings on which one was asked for."""

    def __init__(self) -> None:
        self.names: set[str] = set()

    def __getitem__(self, name: str) -> float:
        self.names.add(name)
        raise KeyError(name)

    def __iter__(self) -> Iterator[str]:
        return iter(())

    def __len__(self) -> int:
        return 0


def _links_move(place: Place, kind: Kind, setting: Setting, rating: str) -> bool:
    """True if what a part tells its neighbours depends on one of its ratings."""
    return linked_by(place, kind, setting) != linked_by(place, kind, setting, {rating: 1.01})


def linked(
    variations: tuple[Variation, ...],
    build: Build,
    kinds: Mapping[str, Kind],
    together: Setting,
    moved: Mapping[tuple[int, int], Setting],
) -> dict[tuple[int, int], Setting]:
    """Settings of the car's own parts together, with what parts say to others moved by one standard deviation.

    Parameters
    ----------
    variations : tuple of Variation
        Uncertain ratings.
    build : Build
        The build.
    kinds : mapping of str to Kind
        Part kinds by name.
    together : Setting
        With what every part tells its neighbours.
    moved : mapping of (int, int) to Setting
        As :func:`offered` gives it.

    Returns
    -------
    dict of (int, int) to Setting
        By variation and sign; only variations on which an offer or a link depends.
    """
    found = {key: replace(setting, linked=together.linked) for key, setting in moved.items()}
    for v in variations:
        place = build.place(v.slot)
        if place is None or not _links_move(place, kinds[place.slot.kind], together, v.rating):
            continue
        for sign in (1, -1):
            said = linked_by(place, kinds[place.slot.kind], together, v.factors(sign))
            base = found.get((v.index, sign), together)
            found[(v.index, sign)] = replace(base, linked=MappingProxyType({**together.linked, **said}))
    return found


def offered(
    variations: tuple[Variation, ...], build: Build, kinds: Mapping[str, Kind], setting: Setting
) -> dict[tuple[int, int], Setting]:
    """Settings of the question with what parts offer to others moved by one standard deviation.

    Parameters
    ----------
    variations : tuple of Variation
        Uncertain ratings.
    build : Build
        The build.
    kinds : mapping of str to Kind
        Part kinds by name.
    setting : Setting
        Of the question.

    Returns
    -------
    dict of (int, int) to Setting
        By variation and sign; only variations on which an offer depends.
    """
    found: dict[tuple[int, int], Setting] = {}
    for v in variations:
        place = build.place(v.slot)
        if place is None or not _offers_move(place, kinds[place.slot.kind], setting, v.rating):
            continue
        for sign in (1, -1):
            moved = offered_by(place, kinds[place.slot.kind], setting, v.factors(sign))
            found[(v.index, sign)] = replace(setting, shared=MappingProxyType({**setting.shared, **moved}))
    return found


def draw(variations: tuple[Variation, ...], build: Build, samples: int, seed: int) -> Array:
    """Joint draws for all variations, in standard deviations, shape (samples, variations) [1]."""
    normal = np.random.default_rng(seed).standard_normal((samples, len(variations)))
    for v in variations:
        place = build.place(v.slot)
        rating = place.part.rating(v.rating) if place is not None and place.part is not None else None
        if rating is not None:
            normal[:, v.index] = sampled(rating, normal[:, v.index])
    return normal
