"""Which parts go together: requirements with their alternatives, exclusions, ports that must meet, adapters."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from graph.model import Build, Part, RelationKind
from graph.plan.labour import alternatives
from graph.plan.record import Because, Reason

#: A slot and the index of one of its options.
Key = tuple[int, int]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Need:
    """A requirement of one option: one of `by` must be chosen."""

    of: Key
    by: frozenset[Key]
    text: str
    name: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Clash:
    """Two options that do not go together unless one of `bridges` is chosen."""

    pair: tuple[Key, Key]
    bridges: frozenset[Key]
    reason: Reason
    name: str


def bonds(build: Build, parts: Mapping[Key, Part]) -> tuple[dict[Key, tuple[Need, ...]], dict[Key, tuple[Clash, ...]]]:
    """What parts require, exclude and do not meet.

    Parameters
    ----------
    build : Build
        The car, for the kinds of its slots.
    parts : mapping of Key to Part
        Every option that is a part.

    Returns
    -------
    needs : dict of Key to tuple of Need
        Requirements of each option.
    clashes : dict of Key to tuple of Clash
        By either option.
    """
    numbers: dict[str, set[Key]] = {}
    bridges: dict[str, set[Key]] = {}
    for key, part in parts.items():
        numbers.setdefault(part.id, set()).add(key)
        for relation in part.relations:
            if relation.kind is RelationKind.ADAPTS and relation.part is not None:
                for number in alternatives(relation.part):
                    bridges.setdefault(number, set()).add(key)
    needs: dict[Key, list[Need]] = {}
    clashes: dict[Key, list[Clash]] = {}
    for key, part in parts.items():
        for relation in part.relations:
            if relation.kind is RelationKind.REQUIRES:
                by = _ways(relation.part, relation.slot, relation.rating, relation.at_least, numbers, parts, build)
                if by is not None:
                    text = relation.text or relation.part or ""
                    needs.setdefault(key, []).append(Need(of=key, by=by, text=text, name=f"requires:{part.id}"))
            elif relation.kind is RelationKind.EXCLUDES and relation.part is not None:
                for number in alternatives(relation.part):
                    for other in numbers.get(number, ()):
                        if other[0] != key[0]:
                            text = f"{part.id} does not go with {number}"
                            reason = Reason(because=Because.EXCLUDES, text=text)
                            _clash(clashes, key, other, frozenset(), reason, f"excludes:{part.id}")
    ports: dict[str, list[tuple[Key, str]]] = {}
    for key, part in parts.items():
        for interface in part.interfaces:
            ports.setdefault(interface.port, []).append((key, interface.type))
    for port, ends in ports.items():
        for n, (one, type_one) in enumerate(ends):
            for other, type_other in ends[n + 1 :]:
                if one[0] != other[0] and type_one != type_other:
                    a, b = parts[one].id, parts[other].id
                    text = f"{port}: {a} ({type_one}) does not meet {b} ({type_other})"
                    over = frozenset(bridges.get(a, set()) | bridges.get(b, set()))
                    reason = Reason(because=Because.INTERFACE, text=text)
                    _clash(clashes, one, other, over, reason, f"interface:{port}")
    return {k: tuple(v) for k, v in needs.items()}, {k: tuple(v) for k, v in clashes.items()}


def _clash(
    into: dict[Key, list[Clash]], one: Key, other: Key, bridges: frozenset[Key], reason: Reason, name: str
) -> None:
    clash = Clash(pair=(one, other), bridges=bridges, reason=reason, name=name)
    into.setdefault(one, []).append(clash)
    into.setdefault(other, []).append(clash)


def _ways(
    wanted: str | None,
    slot: str | None,
    rating: str | None,
    at_least: float | None,
    numbers: Mapping[str, set[Key]],
    parts: Mapping[Key, Part],
    build: Build,
) -> frozenset[Key] | None:
    """Options that meet a requirement; None for one that states nothing."""
    if wanted is not None:
        return frozenset(key for number in alternatives(wanted) for key in numbers.get(number, ()))
    if slot is None or rating is None or at_least is None:
        return None
    return frozenset(
        key
        for key, part in parts.items()
        if build.places[key[0]].slot.kind == slot and _stated(part, rating) >= at_least
    )


def _stated(part: Part, rating: str) -> float:
    found = part.rating(rating)
    return float(found.value) if found is not None and isinstance(found.value, float | int) else -np.inf
