"""Check: what every part must carry for a target, against what its rating lets it carry there."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from graph.circumstance import circumstances
from graph.judge import Bench, Judgement, cause_text, judge, verdict_of
from graph.limit import Kind, LimitKind
from graph.memory import Memory
from graph.model import Array, Build, Setting, Target
from graph.operation import REFERENCE, REFERENCE_WORDS, prepare
from graph.quantity import Quantity
from graph.report import Finding, Interval, Makes, Report, Unknown
from graph.sampling import SAMPLES, SEED, percentiles, tie
from graph.solution import Question, Solution, ask, solve_paths
from graph.subject import ENGINE_FEEDS, Anatomy, dissect, fed_by
from graph.validity import outside
from graph.variation import MODEL, Variation, draw, linked, offered, vary

#: Engine speeds of the coarser grid on which the answer to spreads is solved.
COARSE_SPEEDS = 14
ENGINE = "engine"


def check(
    build: Build,
    target: Target,
    kinds: Mapping[str, Kind],
    *,
    samples: int = SAMPLES,
    seed: int = SEED,
    memory: Memory | None = None,
    aside: bool = False,
) -> Report:
    """Judge a build at a target.

    Parameters
    ----------
    build : Build
        The car with its parts.
    target : Target
        Power, boost cap, fuel, weather [SI].
    kinds : mapping of str to Kind
        Part kinds by name.
    samples : int
        Joint samples for intervals and probabilities [1]; 0 for the stated values alone, where every probability is
        0 or 1 and every interval a point.
    seed : int
        Of the samples; the same seed gives the same answer.
    memory : Memory or None
        Engine states shared by many targets of one build; the answer is the same with and without.
    aside : bool
        True to look also at other circumstances: mist or ethanol run out, one pull or a long hold.

    Returns
    -------
    Report
        Every word of it as defined in the contributor's guide [SI].

    Raises
    ------
    MissingRecord
        The platform lacks a constant.
    """
    anatomy, question = examine(build, target, kinds)
    bench = _bench(build, kinds, anatomy, question, samples, seed, memory)
    judgements = [judge(subject, bench) for subject in anatomy.subjects]
    engine, engine_alone, engine_here = _engine_row(build, bench)
    report = _report(build, anatomy, bench, judgements, engine, engine_alone, engine_here)
    if not aside:
        return report
    return replace(
        report,
        circumstances=circumstances(build, kinds, anatomy, bench),
        extrapolated=outside(build, target, anatomy, report.curve),
    )


def examine(build: Build, target: Target, kinds: Mapping[str, Kind]) -> tuple[Anatomy, Question]:
    """Take a build apart and prepare the question put to it.

    Parameters
    ----------
    build : Build
        The car with its parts.
    target : Target
        What is asked.
    kinds : mapping of str to Kind
        Part kinds by name.

    Returns
    -------
    anatomy : Anatomy
        Limits, feeds, unknowns.
    question : Question
        Powers and constants [SI].
    """
    setting = Setting(
        platform=build.platform,
        fuel=target.fuel,
        weather=target.weather,
        duration=target.duration,
        distance=build.distance or 0.0,
    )
    anatomy = dissect(build, kinds, setting)
    return anatomy, ask(target, replace(setting, shared=anatomy.shared))


def _bench(
    build: Build,
    kinds: Mapping[str, Kind],
    anatomy: Anatomy,
    question: Question,
    samples: int,
    seed: int,
    memory: Memory | None = None,
) -> Bench:
    """Solve the nominal configurations finely and the moved ones coarsely."""
    slots = [slot for slot, fed in anatomy.feeds.items() if set(fed) - ENGINE_FEEDS]
    base: list[Mapping[str, float]] = [anatomy.reference(), *(anatomy.alone(slot) for slot in slots), anatomy.here()]
    configuration = {slot: i + 1 for i, slot in enumerate(slots)}
    here = len(base) - 1
    platform, speed = build.platform, question.power_speed
    fine = solve_paths(prepare(platform, power_speed=speed), base, question, [here], memory=memory)
    variations = vary(anatomy, build, kinds, question) if samples else ()
    paths = list(base)
    moved: dict[tuple[int, int, int], int] = {}
    for v in (v for v in variations if v.changes_state):
        for sign in (1, -1):
            shifted = _shifted(build, kinds, anatomy, question, v, sign)
            for c in _touched(v, anatomy, configuration, here):
                moved[(v.index, sign, c)] = len(paths)
                paths.append(_gained(base[c], v, sign) if v.slot == MODEL else _path(shifted, slots, c, here))
    owns = [here, *(i for (_, _, c), i in moved.items() if c == here)]
    engine = prepare(platform, speeds=COARSE_SPEEDS, power_speed=speed)
    coarse = solve_paths(engine, paths, question, owns, memory=memory) if moved else fine
    moved_offers = offered(variations, build, kinds, question.setting)
    together = replace(question.setting, linked=anatomy.linked) if anatomy.linked else None
    return Bench(
        question=question,
        fine=fine,
        coarse=coarse,
        variations=variations,
        draws=draw(variations, build, max(samples, 1), seed),
        configuration=configuration,
        here=here,
        moved=moved,
        offered=moved_offers,
        together=together,
        linked=linked(variations, build, kinds, together, moved_offers) if together is not None else {},
    )


def _gained(path: Mapping[str, float], variation: Variation, sign: int) -> dict[str, float]:
    """A configuration with one parameter of the model moved by one standard deviation."""
    field = variation.rating
    return {
        **path,
        field: path.get(field, float(np.asarray(getattr(REFERENCE, field)))) * variation.factors(sign)[field],
    }


def _shifted(
    build: Build, kinds: Mapping[str, Kind], anatomy: Anatomy, question: Question, variation: Variation, sign: int
) -> Anatomy:
    """The anatomy with one rating moved by one standard deviation."""
    place = build.place(variation.slot)
    if place is None:
        return anatomy
    fed = fed_by(place, kinds[place.slot.kind], question.setting, variation.factors(sign))
    return replace(anatomy, feeds={**anatomy.feeds, variation.slot: fed})


def _touched(variation: Variation, anatomy: Anatomy, configuration: Mapping[str, int], here: int) -> list[int]:
    """Configurations whose state one variation changes."""
    if variation.slot == MODEL or set(anatomy.feeds.get(variation.slot, {})) & ENGINE_FEEDS:
        return [0, *configuration.values(), here]
    return [configuration[variation.slot], here]


def _path(anatomy: Anatomy, slots: list[str], configuration: int, here: int) -> dict[str, float]:
    if configuration == here:
        return anatomy.here()
    return anatomy.reference() if configuration == 0 else anatomy.alone(slots[configuration - 1])


def _engine_row(build: Build, bench: Bench) -> tuple[Finding, Array, Array]:
    """What the engine itself can make at the boost cap, as a row of the ladder, with its samples."""
    alone = bench.last_power(0, capped=True).sample(bench.draws)[:, 0]
    here = bench.last_power(bench.here, capped=True).sample(bench.draws)[:, 0]
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


def _report(
    build: Build,
    anatomy: Anatomy,
    bench: Bench,
    judgements: list[Judgement],
    engine: Finding,
    engine_alone: Array,
    engine_here: Array,
) -> Report:
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


def _torque_allowed(judgements: list[Judgement], fine: Solution, here: int) -> Array:
    """Least torque that any limit permits at each speed, shape (N,) [N.m].

    Where a limit is passed from the lowest power on and grows with torque, its line is drawn on downwards.
    """
    torque = fine.operation.torque[here]
    allowed = fine.capped_torque[here]
    for judgement in judgements:
        u = judgement.utilisation_here
        over = np.where(np.isnan(u), False, u > 1.0)
        first = np.argmax(over, axis=0)
        hit = over.any(axis=0)
        columns = np.arange(u.shape[1])
        before = np.maximum(first - 1, 0)
        u0, u1 = u[before, columns], u[first, columns]
        share = np.where(u1 > u0, (1.0 - u0) / np.where(u1 > u0, u1 - u0, 1.0), 0.0)
        at = torque[before, columns] + np.clip(np.nan_to_num(share), 0.0, 1.0) * (
            torque[first, columns] - torque[before, columns]
        )
        allowed = np.where(hit & (first > 0), np.minimum(allowed, at), allowed)
        steeper, more = u[1] - u[0], torque[1] - torque[0]
        grows = over[0] & (more > 0.0) & np.isfinite(steeper) & (steeper > 0.0)
        drawn = torque[0] - (u[0] - 1.0) * more / np.where(grows, steeper, 1.0)
        allowed = np.where(grows, np.minimum(allowed, np.maximum(drawn, 0.0)), allowed)
    return np.asarray(allowed)
