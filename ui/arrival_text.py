"""Answers about an arrived car and its logs as text."""

from __future__ import annotations

from collections.abc import Iterable

from graph.arrive import Reception
from graph.pull import PullReport


def _listed(title: str, lines: Iterable[str]) -> list[str]:
    found = [f"  {line}" for line in lines]
    return [title, *found] if found else []


def arrive_lines(reception: Reception) -> list[str]:
    """A reception as lines of text."""
    gate = reception.gate
    lines = [
        f"{reception.car}: {'may go on the rollers' if gate.go else 'NOT on the rollers yet'}; "
        f"carries between {reception.low / 1e3:.0f} and {reception.high / 1e3:.0f} kW, claimed parts undecided"
    ]
    lines += _listed("Blocked by", gate.blocked_by)
    lines.append("Suspects (several may be true at once)")
    for s in reception.suspects[:8]:
        lines.append(f"  {s.probability * 100:3.0f} %  {s.name}")
        lines += [f"         for: {text}" for text in s.evidence_for[:4]]
        lines += [f"         against: {text}" for text in s.evidence_against[:2]]
    lines += _listed(
        "Look next, most settled per minute first (enter each result and ask again)",
        (f"{look.duration / 60.0:3.0f} min  {look.name}: {look.why}" for look in reception.looks),
    )
    claimed = [p for p in reception.places if p.belief.value in ("claimed", "unknown")]
    lines += _listed("Not seen yet", (f"{p.slot.name}: {p.unknown or p.claim}" for p in claimed))
    lines += _listed("Stop the run at", gate.stop_criteria)
    lines += _listed("Cautions", gate.cautions)
    return lines


def pull_lines(report: PullReport) -> list[str]:
    """A judged log as lines of text."""
    side = report.separation
    lines = [f"{report.car}: {side.cause} ({side.confidence * 100:.0f} %)"]
    if report.power is not None:
        top = report.power
        lines.append(
            f"{top.value / 1e3:.0f} kW at the {report.basis} ({top.low / 1e3:.0f} to {top.high / 1e3:.0f} kW)"
            + ("" if top.speed is None else f" at {top.speed * 60.0:.0f} 1/min")
        )
    lines += _listed("Because", side.reasons)
    lines += _listed("Ruled out", side.ruled_out)
    shares = (
        f"{s.power / 1e3:.0f} kW ({s.low / 1e3:.0f} to {s.high / 1e3:.0f}) {s.cause}: {s.evidence}"
        for s in report.shares
    )
    lines += _listed("Shares of the loss", shares)
    shown = sorted((e for e in report.events if not e.good), key=lambda e: -e.confidence)
    lines += _listed(
        "Events",
        (
            f"{e.confidence * 100:3.0f} %  {e.kind}"
            + ("" if e.speed is None else f" at {e.speed * 60.0:.0f} 1/min")
            + f": {e.evidence}"
            for e in shown
        ),
    )
    lines += _listed("Suspects", (f"{s.probability * 100:3.0f} %  {s.name}" for s in report.suspects[:5]))
    lines += _listed("Cannot be seen in this log", (f"{b.what}: {b.why}" for b in report.blind))
    lines += _listed("Known better now", (f"{u.slot}, {u.meaning}: {u.what}; {u.text}" for u in report.updated))
    lines += _listed("Notes", report.notes)
    return lines
