"""The evidence of one row: its number, where it comes from, and what happens beyond it."""

from __future__ import annotations

from graph.report import Finding, Report
from ui.format import gap, kilowatts, percent, power_unit
from ui.ladder import MARKS, WORDS
from ui.mark import KNOWN, how_known
from ui.sheet_table import Markup, link, unbroken


def row_answer(finding: Finding, report: Report) -> str:
    """What one limit says about the target, in a line."""
    name = finding.slot.capitalize()
    if finding.ceiling is None:
        return f"{name}: no highest power in range"
    over = finding.ceiling - report.target.power
    room = (
        f"{gap(over).lstrip('+')} {power_unit()} to spare"
        if over >= 0.0
        else f"{gap(-over).lstrip('+')} {power_unit()} short"
    )
    return unbroken(f"{name}: {kilowatts(finding.ceiling)} {power_unit()}, {room}")


def row_facts(finding: Finding, report: Report) -> list[tuple[str, str | Markup]]:
    """Names and values behind one limit; what is empty is left out where it is shown."""
    evidence = finding.evidence
    interval = finding.ceiling_interval
    used = "" if finding.utilisation is None else f"{percent(finding.utilisation)} of the limit"
    part = (
        ""
        if finding.part is None
        else link(f"{finding.part} {finding.part_name or ''}", "parts", {"part": finding.part})
    )
    how = how_known(finding)
    rows: list[tuple[str, str | Markup]] = [
        ("against target", f"{MARKS[finding.verdict]} {WORDS[finding.verdict]}"),
        ("part", part),
        (
            "rating",
            finding.condition + (" (a condition is assumed)" if finding.assumed and evidence is not None else ""),
        ),
        (
            "how we know",
            f"{KNOWN[how]} {how}" + (f": {evidence.detail}" if evidence is not None and evidence.detail else ""),
        ),
        ("from", "" if evidence is None else evidence.source),
        ("date", (evidence.date or "") if evidence is not None else ""),
        (
            "9 in 10",
            ""
            if interval is None or interval.low == interval.high
            else f"{kilowatts(interval.low)} to {'…' if interval.high is None else kilowatts(interval.high)} {power_unit()}",
        ),
        ("no ceiling", finding.ceiling_reason or "" if finding.ceiling is None else ""),
        (
            "with its own parts",
            "" if finding.ceiling_here is None else f"{kilowatts(finding.ceiling_here)} {power_unit()}",
        ),
        ("at the target", used or (finding.utilisation_reason or "")),
        ("why", finding.why),
        ("beyond it", finding.consequence),
        ("the rule from", finding.source),
    ]
    unknown = [u.why for u in report.unknown if u.slot == finding.slot]
    if unknown:
        rows.insert(1, ("not known", "; ".join(unknown)))
    return rows
