"""Marks of the charts and tables: every state by its shape and its word, colour only repeats it."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from graph.model import EvidenceKind
from graph.report import Finding, Verdict

ASSUMED, EXPERIENCE, SHEET, MEASURED = "assumed", "shop experience", "maker's sheet", "measured here"
#: How a number is known -> its mark as text; the charts draw the same as shapes.
KNOWN: Mapping[str, str] = MappingProxyType({ASSUMED: "○", EXPERIENCE: "◐", SHEET: "◉", MEASURED: "●"})
_WORDS: Mapping[EvidenceKind, str] = MappingProxyType(
    {
        EvidenceKind.OWN_BENCH: MEASURED,
        EvidenceKind.OWN_DYNO: MEASURED,
        EvidenceKind.OWN_LOG: MEASURED,
        EvidenceKind.MAKER_SHEET: SHEET,
        EvidenceKind.SHOP_EXPERIENCE: EXPERIENCE,
        EvidenceKind.ESTIMATE: ASSUMED,
    }
)
# Paths in a square from -1 to 1, as the chart language takes them.
RING = "M-0.5,0A0.5,0.5,0,1,1,0.5,0A0.5,0.5,0,1,1,-0.5,0Z"
HALF = "M-0.5,0A0.5,0.5,0,1,0,0.5,0Z"
DOT = "M-0.2,0A0.2,0.2,0,1,1,0.2,0A0.2,0.2,0,1,1,-0.2,0Z"
PINCH = "M-1,-1Q0,-0.1,1,-1M-1,1Q0,0.1,1,1"
SHORT = "M0.5,-0.5L0.5,0.5L-0.5,0Z"
CLEAR = "M-0.4,-0.5L-0.4,0.5L0.5,0Z"
MARGIN = "M-0.25,-0.6L-0.25,0.6M0.25,-0.6L0.25,0.6"
INSIDE: Mapping[str, str] = MappingProxyType({EXPERIENCE: HALF, SHEET: DOT, MEASURED: RING})
VERDICTS: Mapping[Verdict, str] = MappingProxyType(
    {Verdict.EXCEEDED: SHORT, Verdict.MARGINAL: MARGIN, Verdict.CLEAR: CLEAR}
)


def knowledge(kind: EvidenceKind | None) -> str:
    """The word for how a rating is known."""
    return ASSUMED if kind is None else _WORDS[kind]


def how_known(finding: Finding) -> str:
    """The word for how the rating of a limit is known."""
    return knowledge(None if finding.evidence is None else finding.evidence.kind)


def keys(findings: tuple[Finding, ...]) -> dict[str, Finding]:
    """A name for each limit: its slot, and where the slot has an earlier limit its rule as well."""
    found: dict[str, Finding] = {}
    for finding in findings:
        name = finding.slot if finding.slot not in found else f"{finding.slot}: {finding.rule}"
        found[name] = finding
    return found
