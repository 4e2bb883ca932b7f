"""Answers as JSON documents: fixed names, units in the names, null for what is not known."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

import numpy as np

from graph.breakdown import Breakdown
from graph.model import Car, Part, Target
from graph.report import Circumstance, Finding, Makes, Remedy, Report
from ui.engine_text import learnt_document
from ui.format import in_unit, listed, unit

if TYPE_CHECKING:
    from ingest.book import Book

Document = dict[str, Any]


def _kilowatts(value: float | None) -> float | None:
    return None if value is None or not math.isfinite(value) else round(value / 1e3, 2)


def target_document(target: Target) -> Document:
    """What was asked."""
    return {
        "power_kW": _kilowatts(target.power),
        "boost_bar": None if target.boost_cap is None else round(target.boost_cap / 1e5, 4),
        "fuel": target.fuel.name,
        "ambient_C": round(target.weather.temperature - 273.15, 2),
        "altitude_m": target.weather.altitude,
        "pressure_bar_abs": round(target.weather.pressure / 1e5, 5),
        "torque_Nm": target.torque,
        "power_speed_rpm": None if target.power_speed is None else round(target.power_speed * 60.0, 2),
        "minutes": round(target.duration / 60.0, 3),
        "latest_phasing_deg": round(math.degrees(target.latest_phasing), 2),
    }


def _makes(makes: Makes) -> Document:
    return {
        "power_kW": _kilowatts(makes.power),
        "torque_Nm": round(makes.torque, 1),
        "at_rpm": round(makes.speed * 60.0),
        "boost_bar": round(makes.boost / 1e5, 3),
        "knock_limited": makes.knock_limited,
        "cause": makes.cause,
        "parts_ignored_kW": _kilowatts(makes.at_cap),
    }


def finding_document(finding: Finding) -> Document:
    """One limit."""
    interval = finding.ceiling_interval
    evidence = finding.evidence
    return {
        "slot": finding.slot,
        "part": finding.part,
        "part_name": finding.part_name,
        "rule": finding.rule,
        "rating": finding.rating,
        "axis": finding.axis.value if finding.axis is not None else "power",
        "demand": in_unit(finding.demand, finding.quantity),
        "capacity": in_unit(finding.capacity, finding.quantity),
        "unit": unit(finding.quantity),
        "utilisation": finding.utilisation,
        "utilisation_reason": finding.utilisation_reason,
        "at_rpm": None if finding.worst_speed is None else round(finding.worst_speed * 60.0),
        "ceiling_kW": _kilowatts(finding.ceiling),
        "ceiling_low_kW": _kilowatts(interval.low) if interval is not None else None,
        "ceiling_median_kW": _kilowatts(interval.median) if interval is not None else None,
        "ceiling_high_kW": _kilowatts(interval.high) if interval is not None else None,
        "ceiling_here_kW": _kilowatts(finding.ceiling_here),
        "ceiling_reason": finding.ceiling_reason,
        "limit_kind": finding.kind.value,
        "control": finding.control.value if finding.control is not None else None,
        "verdict": finding.verdict.value,
        "exceed_probability": finding.exceed_probability,
        "weakest_probability": finding.weakest_probability,
        "why": finding.why,
        "consequence": finding.consequence,
        "rule_source": finding.source,
        "evidence": {
            "kind": evidence.kind.value if evidence is not None else None,
            "source": evidence.source if evidence is not None else None,
            "date": evidence.date if evidence is not None else None,
            "detail": evidence.detail if evidence is not None else None,
            "condition": finding.condition,
            "assumed": finding.assumed,
        },
    }


def remedy_document(remedy: Remedy) -> Document:
    """One part that would clear a limit."""
    return {
        "slot": remedy.slot,
        "clears": remedy.rule,
        "part": remedy.part,
        "name": remedy.name,
        "ceiling_kW": _kilowatts(remedy.ceiling),
        "price": remedy.price,
        "price_with_pulled": remedy.total,
        "labour_h": round(remedy.labour / 3600.0, 2),
        "pulls": list(remedy.pulls),
        "conflicts": list(remedy.conflicts),
        "tasks": list(remedy.tasks),
        "stock": remedy.stock,
        "lead_days": None if remedy.lead_time is None else round(remedy.lead_time / 86400.0, 1),
    }


def circumstance_document(found: Circumstance) -> Document:
    """A ceiling in another circumstance."""
    return {
        "slot": found.slot,
        "part": found.part,
        "circumstance": found.circumstance,
        "rule": found.rule,
        "ceiling_kW": _kilowatts(found.ceiling),
        "ceiling_here_kW": _kilowatts(found.ceiling_here),
        "why": found.why,
        "remedy": found.remedy,
    }


def check_document(report: Report) -> Document:
    """A whole check."""
    curve, weather = report.curve, report.target.weather
    weakest = report.weakest
    return {
        "schema": "pinchpoint.check/1",
        "car": report.build.car,
        "target": target_document(report.target),
        "reachable": report.reachable,
        "carries_kW": _kilowatts(report.carries),
        "carries_low_kW": _kilowatts(report.carries_interval.low),
        "carries_high_kW": _kilowatts(report.carries_interval.high),
        "carries_is_upper_bound": report.carries_is_upper_bound,
        "holds_probability": report.holds_probability,
        "tie": list(report.tie),
        "makes": _makes(report.makes),
        "engine_alone_kW": _kilowatts(report.engine_alone),
        "weakest": None
        if weakest is None
        else {"slot": weakest.slot, "part": weakest.part, "ceiling_kW": _kilowatts(weakest.ceiling)},
        "limits": [finding_document(f) for f in report.findings],
        "unknown": [{"slot": u.slot, "why": u.why} for u in report.unknown],
        "remedies": [remedy_document(r) for r in report.remedies],
        "remedies_fuel": report.remedies_fuel,
        "without_remedy": list(report.without_remedy),
        "warnings": list(report.warnings),
        "reference_state": list(report.reference),
        "circumstances": [circumstance_document(c) for c in report.circumstances],
        "extrapolated": list(report.extrapolated),
        "learnt": learnt_document(report),
        "samples": report.samples,
        "curve": {
            "power_of_curve_kW": _kilowatts(report.curve_power),
            "speed_rpm": listed(curve.speed, 60.0, digits=1),
            "torque_Nm": listed(np.where(curve.cause == 0, curve.torque, np.nan), digits=2),
            "power_kW": listed(np.where(curve.cause == 0, curve.torque * curve.speed * 2.0 * math.pi, np.nan), 1e-3),
            "boost_bar": listed(curve.manifold_pressure - weather.pressure, 1e-5),
            "fuel_g_s": listed(curve.fuel_flow, 1e3),
            "air_g_s": listed(curve.air_flow, 1e3, digits=3),
            "charge_C": listed(curve.charge_temperature, 1.0, -273.15, 2),
            "exhaust_C": listed(curve.exhaust_temperature, 1.0, -273.15, 2),
            "back_pressure_bar": listed(curve.turbine_inlet_pressure, 1e-5),
            "peak_pressure_bar": listed(curve.peak_pressure, 1e-5, digits=2),
            "retard_deg": listed(curve.phasing - curve.best_phasing, 180.0 / math.pi, digits=3),
            "torque_allowed_Nm": listed(report.torque_allowed, digits=2),
        },
    }


def breakdown_document(found: Breakdown) -> Document:
    """Where the power between the car and the target went."""
    return {
        "target_kW": _kilowatts(found.target),
        "makes_at_cap_kW": _kilowatts(found.makes),
        "ended_by": found.ended_by,
        "shortfall_kW": _kilowatts(found.shortfall),
        "boost_bar": round(found.boost_cap / 1e5, 4),
        "boost_was_asked": found.cap_given,
        "shares": [
            {
                "cause": s.loss.label,
                "alone_kW": _kilowatts(s.alone),
                "with_all_others_gone_kW": _kilowatts(s.last),
                "power_without_it_kW": _kilowatts(s.power),
                "ended_by": s.ended_by,
                "taken_away": s.loss.relaxed,
                "is": s.loss.text,
            }
            for s in found.shares
        ],
        "interaction_kW": _kilowatts(found.interaction),
        "together_kW": _kilowatts(found.together),
        "together_ended_by": found.together_ended_by,
        "remainder_kW": _kilowatts(found.remainder),
        "note": found.note,
    }


def cars_document(cars: Iterable[Car]) -> Document:
    """The cars on record."""
    return {
        "schema": "pinchpoint.cars/1",
        "cars": [
            {
                "id": c.id,
                "platform": c.platform,
                "name": c.name,
                "codes": list(c.codes),
                "distance_km": None if c.distance is None else c.distance / 1e3,
                "fuel": c.fuel,
            }
            for c in cars
        ],
    }


def parts_document(parts: Iterable[Part]) -> Document:
    """Parts of the book."""
    return {
        "schema": "pinchpoint.parts/1",
        "parts": [
            {
                "id": p.id,
                "slot": p.kind,
                "name": p.name,
                "fits": list(p.fits),
                "ratings": [
                    {
                        "name": r.name,
                        "text": r.text,
                        "meaning": r.meaning.value,
                        "spread": r.spread,
                        "evidence": r.evidence.kind.value,
                        "source": r.evidence.source,
                    }
                    for r in p.ratings
                ],
                "price": p.price,
                "labour_h": None if p.labour is None else round(p.labour / 3600.0, 2),
                "lead_days": None if p.lead_time is None else round(p.lead_time / 86400.0, 1),
                "stock": p.stock,
                "requires": [r.text for r in p.relations],
            }
            for p in parts
        ],
    }


def load_document(book: Book) -> Document:
    """What a load gave."""
    return {
        "schema": "pinchpoint.load/1",
        "parts": len(book.parts),
        "platforms": [p.id for p in book.platforms],
        "cars": [c.id for c in book.cars],
        "sheets": [
            {
                "file": t.file,
                "sheet": t.sheet,
                "rows": t.rows,
                "loaded": t.loaded,
                "held": t.held,
                "not_data": t.not_data,
            }
            for t in book.tallies
        ],
        "problems": [
            {
                "file": p.file,
                "sheet": p.sheet,
                "row": p.row,
                "column": p.column,
                "found": p.found,
                "expected": p.expected,
                "remedy": p.remedy,
            }
            for p in book.problems
        ],
    }
