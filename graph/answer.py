"""The judged limits put together: the engine's own row, what the car makes and carries, the torque allowed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from graph.bench import Bench
from graph.judge import Judgement, cause_text, verdict_of
from graph.limit import LimitKind
from graph.model import Array, Build
from graph.operation import REFERENCE_WORDS
from graph.quantity import Quantity
from graph.report import Finding, Interval, Makes, Report, Unknown
from graph.sampling import percentiles, tie
from graph.solution import Question, Solution
from graph.subject import Anatomy

ENGINE = "engine"


def engine_row(build: Build, bench: Bench) -> tuple[Finding, Array, Array]:
    """What the engine itself can make at the boost cap, as a row of the ladder, with its samples.

    Parameters
    ----------
    build : Build
        Car with its parts.
    bench : Bench
        What was solved for the question.

    Returns
    -------
    tuple
        The row; sampled powers in the reference state and with the car's own parts, each of shape (S,) [W].
    """
    alone = bench.ends(0, capped=True)
    here = bench.ends(bench.here, capped=True)
    power, code = float(bench.fine.capped_power[0]), int(bench.fine.capped_cause[0])
    low, median, high = percentiles(alone) or (power, power, power)
    target = bench.question.target
    exceed = float((alone < target.power).mean())
    fuel = build.place("fuel grade")
    finding = Finding(
        slot=ENGINE,
        part=fuel.part.id if fuel is not None and fuel.part is not None else None,
        part_name=f"engine {build.platform.id} on {target.fuel.name}",
        rule="what the engine itself can make",
        rating="breathing, phasing and boost cap",
        axis=None,
        kind=LimitKind.HARD,
        quantity=Quantity.POWER,
        demand=target.power,
        capacity=power,
        utilisation=target.power / power,
        worst_speed=bench.question.power_speed,
        ceiling=power,
        ceiling_interval=Interval(low=low, median=median, high=high),
        ceiling_here=float(bench.fine.capped_power[bench.here]),
        exceed_probability=exceed,
        verdict=verdict_of(True, exceed, True),
        why=cause_text(code),
        consequence="no spark timing and no boost below the cap makes more",
        source="energy balance of breathing, combustion and charging; knock after Douaud and Eyzat (SAE 780080)",
    )
    return finding, alone, here


def answer(build: Build, anatomy: Anatomy, bench: Bench, judgements: Sequence[Judgement]) -> Report:
    """Put the judged limits together.

    Parameters
    ----------
    build : Build
        The car with its parts.
    anatomy : Anatomy
        The build taken apart.
    bench : Bench
        What was solved.
    judgements : sequence of Judgement
        Every limit of its parts.

    Returns
    -------
    Report
        Every word of it as defined in the contributor's guide [SI].
    """
    engine, engine_alone, engine_here = engine_row(build, bench)
    question, fine, here = bench.question, bench.fine, bench.here
    target = question.target
    rows = [*(j.finding for j in judgements), engine]
    alone = np.stack([*(j.alone for j in judgements), engine_alone])
    lowest = np.argmin(alone, axis=0)
    chance = np.bincount(lowest, minlength=len(rows)) / alone.shape[1]
    rows = [replace(row, weakest_probability=float(p)) for row, p in zip(rows, chance, strict=True)]
    carried = np.minimum(np.min([j.here for j in judgements], axis=0, initial=np.inf), engine_here)
    low, median, high = percentiles(carried) or (0.0, 0.0, 0.0)
    at_cap = float(fine.capped_power[here])
    hard = [r.ceiling_here for r in rows if r.kind is LimitKind.HARD and r.ceiling_here is not None]
    makes_power = min([at_cap, *hard])
    carries = min([makes_power, *(r.ceiling_here for r in rows if r.ceiling_here is not None)])
    unknown = anatomy.unknown
    matters = [u for u in unknown if _matters(u, build)]
    holds = float((carried >= target.power * (1.0 - 1e-9)).mean())
    ordered = sorted(rows, key=lambda r: (r.ceiling is None, r.ceiling or 0.0))
    curve_power = min(target.power, makes_power)
    curve = fine.curve(curve_power, here)
    return Report(
        build=build,
        target=target,
        findings=tuple(ordered),
        weakest=next((r for r in ordered if r.ceiling is not None), None),
        tie=tie([r.slot for r in rows], chance),
        makes=_makes(fine, question, here, makes_power, at_cap, rows),
        engine_alone=float(fine.capped_power[0]),
        carries=carries,
        carries_interval=Interval(low=low, median=median, high=high),
        carries_is_upper_bound=bool(matters),
        holds_probability=holds,
        reachable=False if carries < target.power * (1.0 - 1e-9) else None if matters else True,
        unknown=unknown,
        curve=curve,
        curve_power=curve_power,
        torque_allowed=_torque_allowed(judgements, fine, here),
        reference=REFERENCE_WORDS,
        samples=bench.draws.shape[0] if bench.variations else 0,
    )


def _matters(unknown: Unknown, build: Build) -> bool:
    """True if an unknown slot may lower what the car carries."""
    return unknown.slot != ENGINE and build.place(unknown.slot) is not None


def _makes(fine: Solution, question: Question, here: int, power: float, at_cap: float, rows: list[Finding]) -> Makes:
    curve = fine.curve(power * (1.0 - 1e-6), here)
    index = int(np.argmin(np.abs(fine.engine.speed - question.power_speed)))
    late = curve.phasing[index] - curve.best_phasing[index]
    if power < at_cap * (1.0 - 1e-9):
        first = min(
            (r for r in rows if r.ceiling_here is not None and r.kind is LimitKind.HARD),
            key=lambda r: r.ceiling_here or 0.0,
        )
        cause = f"{first.slot}: {first.rule}"
    else:
        cause = cause_text(int(fine.capped_cause[here]))
    return Makes(
        power=power,
        torque=float(np.nanmax(curve.torque)),
        speed=question.power_speed,
        boost=float(curve.manifold_pressure[index] - question.target.weather.pressure),
        knock_limited=bool(late > np.deg2rad(0.5)),
        cause=cause,
        at_cap=at_cap,
    )


def _torque_allowed(judgements: Sequence[Judgement], fine: Solution, here: int) -> Array:
    """Least torque that any limit permits at each speed, shape (N,) [N.m].

    Where a limit is passed from the lowest power on and grows with torque, its line is drawn on downwards.
    """
    torque = fine.operation.torque[here]
    allowed = fine.capped_torque[here]
    if not judgements:
        return np.asarray(allowed)
    u = np.stack([j.utilisation_here for j in judgements])
    over = u > 1.0
    first = np.argmax(over, axis=1)
    limits, speeds = np.nonzero(over.any(axis=1) & (first > 0))
    at = first[limits, speeds]
    u0, u1 = u[limits, at - 1, speeds], u[limits, at, speeds]
    share = np.where(u1 > u0, (1.0 - u0) / np.where(u1 > u0, u1 - u0, 1.0), 0.0)
    low, high = torque[at - 1, speeds], torque[at, speeds]
    permitted = np.full(u.shape[::2], np.inf)
    permitted[limits, speeds] = low + np.clip(np.nan_to_num(share), 0.0, 1.0) * (high - low)
    steeper, more = u[:, 1] - u[:, 0], torque[1] - torque[0]
    grows = over[:, 0] & (more > 0.0) & np.isfinite(steeper) & (steeper > 0.0)
    drawn = torque[0] - (u[:, 0] - 1.0) * more / np.where(grows, steeper, 1.0)
    permitted = np.where(grows, np.maximum(drawn, 0.0), permitted)
    return np.asarray(np.minimum(allowed, permitted.min(axis=0)))
