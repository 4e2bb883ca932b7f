"""How a shop says how it knows a number: words to the closed list of evidence kinds."""

from __future__ import annotations

import re

from graph.model import EvidenceKind

#: Patterns in the order in which they are tried, lower case.
WORDS: tuple[tuple[str, EvidenceKind], ...] = (
    (r"own dyno", EvidenceKind.OWN_DYNO),
    (r"own log|own scope", EvidenceKind.OWN_LOG),
    (
        r"own (flow )?bench|own rig|own test|own slip test|own pressure port|own before/after|pressure test",
        EvidenceKind.OWN_BENCH,
    ),
    (r"maker (sheet|map|label)|data ?sheet|book|datenblatt|herstellerangabe", EvidenceKind.MAKER_SHEET),
    (
        r"shop (experience|rule)|\d+ failures? seen|ej\b|borescope|seen|erfahrung",
        EvidenceKind.SHOP_EXPERIENCE,
    ),
    (r"estimate|assumed|guess|schaetzung|schätzung", EvidenceKind.ESTIMATE),
)


def evidence_kind(text: str) -> EvidenceKind | None:
    """Kind of evidence that a shop's words stand for.

    Parameters
    ----------
    text : str
        Such as ``own bench (1 used)``.

    Returns
    -------
    EvidenceKind or None
        None where the words are in no list.
    """
    lowered = text.strip().lower()
    return next((kind for pattern, kind in WORDS if re.match(pattern, lowered)), None)
