"""Answers about an arrived car and its logs as JSON documents: units in the names, null for what is not known."""

from __future__ import annotations

from typing import Any

from graph.arrive import Reception
from graph.measured import Measured
from graph.pull import PullReport
from ingest.log import LogBook
from ui.format import in_unit, unit


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
        "slots": [
            {
                "slot": p.slot.name,
                "part": p.part.id if p.part is not None else None,
                "belief": p.belief.value,
                "claim": p.claim,
                "taken_as": p.unknown,
            }
            for p in reception.places
        ],
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


def pull_document(report: PullReport, book: LogBook) -> dict[str, Any]:
    """A judged log as a document.

    Parameters
    ----------
    report : PullReport
        The answer [SI].
    book : LogBook
        What reading the log gave.

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
            }
            for u in report.updated
        ],
        "rates_Hz": {name: round(rate, 2) for name, rate in book.rates.items()},
        "notes": list(report.notes),
        "problems": [p.sentence for p in book.problems],
    }
