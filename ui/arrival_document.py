"""Answers about an arrived car and its logs as JSON documents: units in the names, null for what is not known."""

from __future__ import annotations

from typing import Any

from graph.arrive import Reception
from graph.comparison import Comparison
from graph.measured import Measured, UpdatedLimit
from graph.model import Belief
from graph.pull import PullReport
from graph.recorded import Standing
from graph.service import find_kind
from graph.symptom import Mistake
from ingest.log import LogBook
from ui.format import in_unit, unit
from ui.record_document import change_document, photo_document

#: Beliefs that rest on a look without a measurement.
SEEN = (Belief.SEEN, Belief.LABEL_READ)


def arrive_document(reception: Reception) -> dict[str, Any]:
    """A reception as a document.

    Parameters
    ----------
    reception : Reception
        The answer [SI].

    Returns
    -------
    dict
        Units in the names of the fields.
    """
    gate = reception.gate
    return {
        "schema": "pinchpoint.arrive/1",
        "car": reception.car,
        "range_kW": [round(reception.low / 1e3, 1), round(reception.high / 1e3, 1)],
        "suspects": [
            {
                "fault": s.fault,
                "name": s.name,
                "slot": s.slot,
                "probability": round(s.probability, 4),
                "prior": round(s.prior, 4),
                "for": list(s.evidence_for),
                "against": list(s.evidence_against),
            }
            for s in reception.suspects
        ],
        "inspections": [
            {
                "what": look.name,
                "id": look.inspection,
                "minutes": round(look.duration / 60.0),
                "wait_days": round(look.wait / 86400.0, 1),
                "value": round(look.value, 5),
                "value_per_minute": round(look.rate * 60.0, 6),
                "why": look.why,
            }
            for look in reception.looks
        ],
        "roller_gate": {
            "go": gate.go,
            "blocked_by": list(gate.blocked_by),
            "stop_criteria": list(gate.stop_criteria),
            "cautions": list(gate.cautions),
        },
        "slots": [standing_document(s) for s in reception.standings],
        "told": [s.slot for s in reception.standings if s.belief is Belief.CLAIMED],
        "seen": [s.slot for s in reception.standings if s.belief in SEEN],
        "measured": [s.slot for s in reception.standings if s.belief is Belief.MEASURED],
        "not_looked_at": [s.slot for s in reception.standings if s.belief is Belief.UNKNOWN],
        "facts": {k: {"text": f.text, "by": f.by, "at": f.at} for k, f in reception.facts.items()},
        "facts_missing": list(reception.missing),
        "noted": {
            "present": list(reception.noted.present),
            "absent": list(reception.noted.absent),
            "done": list(reception.noted.done),
            "checked": list(reception.noted.checked),
            "faulty": list(reception.noted.faulty),
            "repaired": list(reception.noted.repaired),
            "agreed_minutes": None if reception.noted.agreed is None else round(reception.noted.agreed / 60.0),
        },
        "fitting_checks": [
            {
                "slot": m.slot,
                "mistake": m.mistake,
                "check": m.check,
                "shows_as": m.sign,
                "cautions": list(caution_codes(m)),
            }
            for m in reception.mistakes
        ],
        "plan_changes": [change_document(c) for c in reception.changes],
    }


def caution_codes(mistake: Mistake) -> tuple[str, ...]:
    """Codes of the cautions that belong to a check of fitting: its own and those of the place."""
    own = find_kind(mistake.slot).cautions
    return tuple(dict.fromkeys((*mistake.cautions, *own)))


def standing_document(standing: Standing) -> dict[str, Any]:
    """One place of a car as it is known."""
    return {
        "slot": standing.slot,
        "part": standing.part.id if standing.part is not None else None,
        "belief": standing.belief.value,
        "claim": standing.claim,
        "taken_as": standing.taken_as or None,
        "condition": standing.condition,
        "instrument": standing.instrument,
        "by": standing.by or None,
        "at": standing.at or None,
        "photos": [photo_document(p) for p in standing.photos],
        "stops_at_kW": None if standing.stops is None else round(standing.stops / 1e3, 1),
    }


def _measured_document(measured: Measured | None, factor: float) -> dict[str, Any] | None:
    if measured is None:
        return None
    return {
        "low": round(measured.low * factor, 1),
        "value": round(measured.value * factor, 1),
        "high": round(measured.high * factor, 1),
        "at_rpm": None if measured.speed is None else round(measured.speed * 60.0),
    }


def comparison_document(found: Comparison) -> dict[str, Any]:
    """A change between two pulls as a document."""
    return {
        "before_kW": round(found.before.value / 1e3, 1),
        "after_kW": round(found.after.value / 1e3, 1),
        "gain_kW": round(found.gain / 1e3, 1),
        "low_kW": round(found.low / 1e3, 1),
        "high_kW": round(found.high / 1e3, 1),
        "mean_over_speed_kW": None if found.course is None else round(found.course / 1e3, 1),
        "agree_percent": round(found.agree * 100.0, 2),
        "told_apart": found.told,
        "sentence": found.sentence,
        "doubts": list(found.doubts),
    }


def _rating_document(update: UpdatedLimit) -> dict[str, Any] | None:
    known = update.rating
    if known is None:
        return None
    return {
        "name": known.name,
        "unit": unit(known.quantity),
        "stated": in_unit(known.stated, known.quantity),
        "stated_spread_percent": round(known.stated_spread * 100.0, 2),
        "now": in_unit(known.value, known.quantity),
        "low": in_unit(known.low, known.quantity),
        "high": in_unit(known.high, known.quantity),
    }


def pull_document(
    report: PullReport, book: LogBook, compared: Comparison | None = None, *, kept: bool = False
) -> dict[str, Any]:
    """A judged log as a document.

    Parameters
    ----------
    report : PullReport
        The answer [SI].
    book : LogBook
        What reading the log gave.
    compared : Comparison or None
        With a pull before a change.
    kept : bool
        True where what it shows of limits was kept.

    Returns
    -------
    dict
        Units in the names of the fields.
    """
    return {
        "schema": "pinchpoint.pull/1",
        "car": report.car,
        "events": [
            {
                "kind": e.kind,
                "at_rpm": None if e.speed is None else round(e.speed * 60.0),
                "confidence": e.confidence,
                "evidence": e.evidence,
                "sign": e.sign,
                "holds": e.good,
            }
            for e in report.events
        ],
        "fuel_side": {
            "cause": report.separation.cause,
            "confidence": round(report.separation.confidence, 3),
            "reasons": list(report.separation.reasons),
            "ruled_out": list(report.separation.ruled_out),
        },
        "shares": [
            {
                "cause": s.cause,
                "power_kW": round(s.power / 1e3, 1),
                "low_kW": round(s.low / 1e3, 1),
                "high_kW": round(s.high / 1e3, 1),
                "evidence": s.evidence,
            }
            for s in report.shares
        ],
        "suspects": [
            {"fault": s.fault, "name": s.name, "probability": round(s.probability, 4)} for s in report.suspects[:10]
        ],
        "not_observable": [{"what": b.what, "why": b.why} for b in report.blind],
        "measured": {
            "power_kW": _measured_document(report.power, 1e-3),
            "torque_Nm": _measured_document(report.torque, 1.0),
            "basis": report.basis,
        },
        "calibration": {
            "air_ratio": None if report.air_ratio is None else round(report.air_ratio, 4),
            "charge_difference_K": None if report.charge_difference is None else round(report.charge_difference, 1),
        },
        "limits_updated": [
            {
                "slot": u.slot,
                "part": u.part,
                "what": u.what,
                "value": in_unit(u.value, u.quantity),
                "unit": unit(u.quantity),
                "meaning": u.meaning,
                "text": u.text,
                "rating": _rating_document(u),
            }
            for u in report.updated
        ],
        "kept": kept,
        "compared": None if compared is None else comparison_document(compared),
        "rates_Hz": {name: round(rate, 2) for name, rate in book.rates.items()},
        "notes": list(report.notes),
        "problems": [p.sentence for p in book.problems],
    }
