"""Two statements of one rating: which one is used, and the question that names both."""

from __future__ import annotations

from dataclasses import dataclass

from graph.model import EvidenceKind, Rating
from ingest.line import Line
from ingest.sheet import Reading


@dataclass(frozen=True, slots=True, kw_only=True)
class Statement:
    """A rating and the row that states it."""

    rating: Rating
    line: Line

    @property
    def known(self) -> str:
        """How and since when the number is known."""
        evidence = self.rating.evidence
        return ", ".join(t for t in (evidence.kind.value, evidence.date) if t)


def stronger(first: Statement, second: Statement, reading: Reading) -> tuple[Rating, str]:
    """Choose between two statements of one rating; the other one becomes a question.

    The stronger evidence counts, then the newer; where neither is, or both say the same, the first.

    Parameters
    ----------
    first, second : Statement
        In the order of the sheet.
    reading : Reading
        Takes the question.

    Returns
    -------
    chosen : Rating
        One of the two.
    why : str
        The rule that chose.
    """
    one, other = first.rating, second.rating
    order = list(EvidenceKind)
    ranks = [(-order.index(r.evidence.kind), r.evidence.date or "") for r in (one, other)]
    same = one.value == other.value and one.conditions == other.conditions
    chosen = first
    if same:
        why = "it says the same"
    elif ranks[0] == ranks[1]:
        why = f"neither evidence is stronger or newer, so row {first.line.number} is used"
    else:
        chosen = first if ranks[0] > ranks[1] else second
        how = "stronger" if ranks[0][0] != ranks[1][0] else "newer"
        why = f"row {chosen.line.number} with the {how} evidence is used"
    reading.problems.append(
        second.line.problem(
            "rating",
            f"{other.text!r} ({second.known}), the {other.name} again" + (" with the same value" if same else ""),
            f"each rating once; {one.text!r} ({first.known}) stands at {one.evidence.source}",
            f"{why}; remove the one that does not hold",
        )
    )
    return chosen.rating, why
