"""Answers about an arrived car and its logs as text."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable

from graph.arrive import Reception
from graph.comparison import Comparison
from graph.measured import UpdatedLimit
from graph.model import Belief
from graph.pull import PullReport
from graph.recorded import Standing
from ui.arrival_document import caution_codes
from ui.caution import CAUTIONS
from ui.format import quantity
from ui.record_document import change_lines


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
    lines += _record(reception)
    lines += _listed("Stop the run at", gate.stop_criteria)
    lines += _listed("Cautions", gate.cautions)
    return lines


def _record(reception: Reception) -> list[str]:
    """What was told, seen and measured, each by itself; facts, checks of fitting, changes of the plan."""
    by_belief = {b: [s for s in reception.standings if s.belief is b] for b in Belief}
    lines = _listed("Told, not seen (judged as the factory part until seen)", map(_standing, by_belief[Belief.CLAIMED]))
    seen = [*by_belief[Belief.SEEN], *by_belief[Belief.LABEL_READ]]
    lines += _listed("Seen", map(_standing, seen))
    lines += _listed("Measured", map(_standing, by_belief[Belief.MEASURED]))
    nobody = [s.slot for s in by_belief[Belief.UNKNOWN]]
    if nobody:
        lines += textwrap.wrap(f"Nobody has looked, taken as the factory's: {', '.join(nobody)}", 118)
    lines += _listed("Facts", (f"{k}: {f.text} ({f.by}, {f.at})" for k, f in reception.facts.items()))
    if reception.missing:
        lines += textwrap.wrap(f"Not noted yet: {'; '.join(reception.missing)}", 118)
    checks = (f"{m.slot}: {m.mistake}; check: {m.check} [{' '.join(caution_codes(m))}]" for m in reception.mistakes)
    lines += _listed("Was it fitted right? (letters: cautions below)", checks)
    codes = {code for m in reception.mistakes for code in caution_codes(m)}
    lines += [f"  {code} {text}" for code, text in CAUTIONS.items() if code in codes]
    if reception.changes:
        lines += ["Changes of the plan", *(f"  {line}" for line in change_lines(reception.changes))]
    return lines


def _standing(standing: Standing) -> str:
    part = "" if standing.part is None else f"{standing.part.id} {standing.part.name}"
    if standing.belief is Belief.CLAIMED:
        said = f"{standing.slot}: {standing.claim or part}"
        if standing.stops is not None:
            said += f"; the factory part stops it at {standing.stops / 1e3:.0f} kW"
    else:
        said = f"{standing.slot}: {part or standing.claim}"
        if standing.claim and part:
            said += f" (told: {standing.claim})"
    notes = [standing.condition, standing.instrument, f"{len(standing.photos)} photographs" if standing.photos else ""]
    said += "".join(f"; {note}" for note in notes if note)
    return said + (f" ({standing.by}, {standing.at})" if standing.by else "")


def pull_lines(report: PullReport, compared: Comparison | None = None, *, kept: bool = False) -> list[str]:
    """A judged log as lines of text."""
    side = report.separation
    lines = [f"{report.car}: {side.cause} ({side.confidence * 100:.0f} %)"]
    if compared is not None:
        lines.append(f"Against the pull before: {compared.sentence}")
        lines += [f"  but {doubt}" for doubt in compared.doubts]
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
    lines += _listed("Known better now", map(_update, report.updated))
    if report.updated:
        lines.append("  kept beside the ratings of the book" if kept else "  not kept: known already, or left out")
    lines += _listed("Notes", report.notes)
    return lines


def _update(update: UpdatedLimit) -> str:
    said = f"{update.slot}, {update.meaning}: {update.what}; {update.text}"
    known = update.rating
    if known is None:
        return said
    low, now, high = (quantity(v, known.quantity) for v in (known.low, known.value, known.high))
    return f"{said}; {known.name} stated {quantity(known.stated, known.quantity)}, now {now} (9 in 10: {low} to {high})"
