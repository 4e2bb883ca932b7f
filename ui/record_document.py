"""What was kept of a car, and candidates for a part, as JSON and as text."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from graph.identify import Identified
from graph.note import Look, Photo, PlanChange

MOST_SHOWN = 6


def photo_document(photo: Photo) -> dict[str, Any]:
    """A photograph as a document."""
    return {"name": photo.name, "sha256": photo.sha256, "path": photo.path}


def look_document(look: Look) -> dict[str, Any]:
    """A look as a document."""
    return {
        "slot": look.slot,
        "belief": look.belief.value,
        "part": look.part,
        "says": look.claim,
        "condition": look.condition,
        "instrument": look.instrument,
        "photos": [photo_document(p) for p in look.photos],
        "fitted": look.fitted,
        "by": look.by,
        "at": look.at,
    }


def change_document(change: PlanChange) -> dict[str, Any]:
    """A change of a plan as a document."""
    return {
        "slot": change.slot,
        "finding": change.finding,
        "action": change.action,
        "net_price": round(change.price, 2),
        "agreed": change.agreed,
        "fault": change.fault,
        "by": change.by,
        "at": change.at,
    }


def change_lines(changes: Collection[PlanChange]) -> list[str]:
    """Changes of a plan as lines of text, with their sums."""
    lines = [
        f"{c.at[:10]}  {c.slot}: {c.finding}{f' -> {c.action}' if c.action else ''}; net {c.price:+.2f}, "
        f"{'agreed' if c.agreed else 'NOT agreed yet'}, by {c.by}"
        for c in changes
    ]
    agreed, still_open = (sum(c.price for c in changes if c.agreed is state) for state in (True, False))
    return [*lines, f"net {agreed:+.2f} agreed, {still_open:+.2f} open"]


def identified_document(slot: str, found: Identified) -> dict[str, Any]:
    """Candidates as a document."""
    return {
        "schema": "pinchpoint.identify/1",
        "slot": slot,
        "candidates": [
            {
                "part": c.part.id,
                "name": c.part.name,
                "probability": round(c.probability, 4),
                "agrees": list(c.agrees),
                "disagrees": list(c.disagrees),
                "tell": c.tell,
            }
            for c in found.candidates
        ],
        "unlisted_probability": round(found.unlisted, 4),
    }


def identified_lines(slot: str, found: Identified) -> list[str]:
    """Candidates as lines of text."""
    if not found.candidates:
        return [f"The book holds no part for {slot}."]
    lines = []
    for c in found.candidates[:MOST_SHOWN]:
        lines.append(f"{c.probability * 100:3.0f} %  {c.part.id}  {c.part.name}")
        if c.agrees:
            lines.append(f"       agrees: {', '.join(c.agrees)}")
        if c.disagrees:
            lines.append(f"       does not: {', '.join(c.disagrees)}")
        if c.tell:
            lines.append(f"       tell it by: {c.tell}")
    return [*lines, f"{found.unlisted * 100:3.0f} %  none of the book"]
