"""Values of ratings and of their conditions in the units of the shop, for sentences about what changed."""

from __future__ import annotations

from graph.kinds import discover
from ui.format import spoken


def rating_text(kind: str, rating: str, condition: str, value: float) -> str:
    """A value of a rating, or of one of its conditions, with its unit.

    Parameters
    ----------
    kind : str
        Kind of part.
    rating : str
        Name of the rating.
    condition : str
        Name of the condition; empty for the rating's own value.
    value : float
        [SI]

    Returns
    -------
    str
        Without a unit where the kind does not know the name.
    """
    found = discover().get(kind)
    spec = next((s for s in found.ratings if s.name == rating), None) if found is not None else None
    quantity = None if spec is None else spec.quantity
    if spec is not None and condition:
        quantity = next((c.quantity for c in spec.conditions if c.name == condition), None)
    return f"{value:.6g}" if quantity is None else spoken(value, quantity)
