"""What an option says to the engine and to other parts; options that say the same are one and the same to them."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping

from graph.limit import Kind
from graph.model import Fuel, Place, Rating, Setting
from graph.subject import fed_by, linked_by, offered_by
from graph.variation import Variation

#: Number of what an option says.
Mark = int
#: Slot, rating and meaning of a column of draws.
Column = tuple[str, str, str]


def column(slot: str, rating: Rating) -> Column:
    """Column of a rating among the draws: parts that take one another's place share it."""
    return slot, rating.name, rating.meaning.name


def said(
    place: Place,
    kind: Kind,
    setting: Setting,
    fed: Mapping[str, float],
    fuel: Fuel | None,
    spreads: Iterable[Variation],
) -> Hashable:
    """Everything that an option says, as a key.

    Parameters
    ----------
    place : Place
        The slot with the option in it.
    kind : Kind
        Of the part.
    setting : Setting
        Constants of the question.
    fed : mapping of str to float
        Path fields that it feeds [SI].
    fuel : Fuel or None
        For a fuel the fuel.
    spreads : iterable of Variation
        Its uncertain ratings.

    Returns
    -------
    tuple
        Equal for options between which the engine's state and the limits of other parts know no difference.
    """
    moved = tuple(
        (v.index, v.sigma, *(_heard(place, kind, setting, v.factors(sign)) for sign in (1, -1)))
        for v in spreads
        if v.changes_state or kind.offers or kind.links
    )
    return fuel, _key(fed), *_heard(place, kind, setting, {})[1:], moved


def _heard(place: Place, kind: Kind, setting: Setting, factors: Mapping[str, float]) -> tuple[Hashable, ...]:
    """What a part feeds, offers and tells with factors on its ratings."""
    return tuple(_key(told(place, kind, setting, factors)) for told in (fed_by, offered_by, linked_by))


def _key(told: Mapping[str, float]) -> tuple[tuple[str, float], ...]:
    return tuple(sorted(told.items()))
