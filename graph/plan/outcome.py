"""What a search found, and the names of the reasons that it can leave out."""

from __future__ import annotations

from dataclasses import dataclass, field

from graph.plan.node import Selection

#: Names of reasons that are not bonds or wishes.
ENGINE, HOLDS = "engine", "holds"


def limit_of(slot: str) -> str:
    """Name of the reason "the limits of a slot"."""
    return f"limit:{slot}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What a search found.

    Parameters
    ----------
    selection : tuple of int or None
        Option of each slot.
    net : float or None
        Its net cost [currency].
    bound : float
        No accepted choice costs less, net [currency]; infinity where none exists.
    ended : bool
        True if the search came to its end before the time did.
    effort : dict of str to int
        Nodes, cores looked at, engine states solved, full checks.
    """

    selection: Selection | None
    net: float | None
    bound: float
    ended: bool
    effort: dict[str, int] = field(default_factory=dict)
