"""What a written sheet offers, as a JSON document: each way with its total, and between what its bill ends."""

from __future__ import annotations

from pathlib import Path

from ui.customer_bill import quoted
from ui.customer_facts import Facts


def explain_document(facts: Facts, out: Path, blocks: int) -> dict[str, object]:
    """The sheet that was written.

    Parameters
    ----------
    facts : Facts
        What it says.
    out : Path
        The file.
    blocks : int
        Numbered blocks in it.

    Returns
    -------
    dict
        ``pinchpoint.explain/1``; money with tax.
    """
    return {
        "schema": "pinchpoint.explain/1",
        "car": facts.car.id,
        "file": str(out),
        "blocks": blocks,
        "ways": ways_document(facts),
    }


def ways_document(facts: Facts) -> list[dict[str, object]]:
    """The ways of a sheet with what they may cost in the end, as data for JSON [kW, currency]."""
    found = []
    for option in () if facts.offer is None else facts.offer.options:
        end = quoted(facts, option)
        cost = option.plan.cost
        if cost is None or end is None:
            continue
        found.append(
            {
                "name": option.name,
                "power_kW": round(option.power / 1e3, 3),
                "parts": [s.install for s in option.plan.steps],
                "proven": option.plan.proven,
                "total": round(cost.total, 2),
                "currency": cost.currency,
                "bill": {
                    "low": round(end.low, 2),
                    "usual": round(end.usual, 2),
                    "high": round(end.high, 2),
                    "cap": round(end.cap, 2),
                    "within_cap": round(end.within_cap, 4),
                    "findings": [
                        {"finding": c.surprise.key, "chance": c.surprise.probability, "adds": round(c.usual, 2)}
                        for c in end.chances
                    ],
                },
            }
        )
    return found
