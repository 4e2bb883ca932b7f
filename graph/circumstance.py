"""What another circumstance would allow: the mist tank empty, petrol instead of ethanol, one pull or a long hold.

These powers stand beside the answer and lower nothing in it: they say what protects the engine when the circumstance
changes, and which of two ceilings is meant.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from graph.ceiling import first_crossing
from graph.judge import Bench, cause_text
from graph.limit import Control, Kind
from graph.model import Build, Fuel, Setting
from graph.operation import Engine
from graph.physics.fuel import BASE_PETROL
from graph.report import Circumstance
from graph.solution import Question, Solution, pick, solve_paths
from graph.subject import Anatomy, Subject, dissect

#: One pull and a long hold [s], and the time from which a question is about the long one.
PULL = 15.0
SUSTAINED = 1200.0
LONG = 300.0
#: Ethanol content above which a tank of petrol changes the engine [1].
RICH_IN_ETHANOL = 0.20
MIST_FEEDS = frozenset({"mist_share", "mist_methanol", "octane_shift"})
#: Power that tells two ceilings apart [W].
SAME = 500.0


def circumstances(build: Build, kinds: Mapping[str, Kind], anatomy: Anatomy, bench: Bench) -> tuple[Circumstance, ...]:
    """Ceilings in circumstances other than the one asked.

    Parameters
    ----------
    build : Build
        The car with its parts.
    kinds : mapping of str to Kind
        Part kinds by name.
    anatomy : Anatomy
        The build taken apart.
    bench : Bench
        What was solved for the question.

    Returns
    -------
    tuple of Circumstance
        Without the mist, without the ethanol, then every limit whose ceiling depends on how long full load is held
        [W].
    """
    found = [*_without_mist(anatomy, bench), *_without_ethanol(anatomy, bench)]
    return (*found, *_other_duration(build, kinds, anatomy, bench))


def _solved(bench: Bench, paths: list[dict[str, float]], question: Question | None = None) -> Solution:
    """Configurations of the car's own parts, on the fine grid; the first gives no new curve of the turbocharger."""
    engine: Engine = bench.fine.engine
    return solve_paths(engine, paths, question or bench.question, list(range(len(paths))), bench.fine.spool)


def _without_mist(anatomy: Anatomy, bench: Bench) -> list[Circumstance]:
    """What is left when the tank of the mist runs dry and everything else stays as it is."""
    found = []
    for subject in {s.place.slot.name: s for s in anatomy.subjects if "mist_share" in _fed(anatomy, s)}.values():
        here, alone = (
            {k: v for k, v in p.items() if k not in MIST_FEEDS} for p in (anatomy.here(), anatomy.reference())
        )
        found.append(
            _dry(
                subject.place.slot.name,
                subject.own.part.id,
                "without the mist",
                _solved(bench, [here, alone]),
                "what the engine makes when the mist runs dry",
                "keep the boost that goes with it behind a switch at the tank and a flow sensor",
            )
        )
    return found


def _fed(anatomy: Anatomy, subject: Subject) -> Mapping[str, float]:
    return anatomy.feeds.get(subject.place.slot.name, {})


def _without_ethanol(anatomy: Anatomy, bench: Bench) -> list[Circumstance]:
    """What is left when a car set up for ethanol is filled with petrol."""
    question = bench.question
    if question.target.fuel.ethanol <= RICH_IN_ETHANOL:
        return []
    petrol: Fuel = BASE_PETROL
    refuelled = replace(question, target=replace(question.target, fuel=petrol))
    return [
        _dry(
            "fuel grade",
            None,
            "without the ethanol",
            _solved(bench, [anatomy.here(), anatomy.reference()], refuelled),
            f"what the engine makes on petrol of {petrol.research_octane:.0f} RON",
            "let the ethanol sensor lower boost and spark, and do nothing at full load while it is in doubt",
        )
    ]


def _dry(slot: str, part: str | None, name: str, solved: Solution, rule: str, remedy: str) -> Circumstance:
    """A circumstance that changes what the engine itself can make."""
    return Circumstance(
        slot=slot,
        part=part,
        circumstance=name,
        rule=rule,
        ceiling=float(solved.capped_power[1]),
        ceiling_here=float(solved.capped_power[0]),
        why=cause_text(int(solved.capped_cause[0])),
        remedy=remedy,
    )


def _other_duration(build: Build, kinds: Mapping[str, Kind], anatomy: Anatomy, bench: Bench) -> list[Circumstance]:
    """Ceilings for one pull where a long hold was asked, and the other way round."""
    question = bench.question
    asked = question.setting
    other = PULL if asked.duration >= LONG else SUSTAINED
    changed = dissect(build, kinds, replace(asked, duration=other))
    setting = replace(asked, duration=other, shared=changed.shared)
    together = replace(setting, linked=changed.linked)
    moved = [slot for slot in changed.feeds if changed.feeds[slot] != anatomy.feeds.get(slot)]
    solved, places = bench.fine, {}
    if moved:
        solved = _solved(bench, [changed.here(), *(changed.alone(slot) for slot in moved)])
        places = {slot: i + 1 for i, slot in enumerate(moved)}
    here = 0 if moved else bench.here
    before = {(s.place.slot.name, s.rule.name): s for s in anatomy.subjects}
    lowest = pick(bench.fine.operation, (bench.here, 0))
    name = "in one pull" if other == PULL else f"held for {other / 60.0:.0f} min"
    found = []
    for subject in changed.subjects:
        rule, slot = subject.rule, subject.place.slot.name
        was = before.get((slot, rule.name))
        if rule.no_ceiling is not None or rule.control is Control.SPARK or was is None:
            continue
        if slot not in moved:
            now = np.stack(was.utilisation(lowest, bench.setting(bench.here)))
            if np.array_equal(now, np.stack(subject.utilisation(lowest, together)), equal_nan=True):
                continue
        alone_at = places.get(slot, bench.configuration.get(slot, 0))
        alone = _ceiling(subject, solved if slot in moved else bench.fine, alone_at, setting)
        own = _ceiling(subject, solved, here, together)
        asked_alone = _ceiling(was, bench.fine, bench.configuration.get(slot, 0), asked)
        asked_own = _ceiling(was, bench.fine, bench.here, bench.setting(bench.here))
        if _same(alone, asked_alone) and _same(own, asked_own):
            continue
        found.append(
            Circumstance(
                slot=slot,
                part=subject.own.part.id,
                circumstance=name,
                rule=rule.name,
                ceiling=alone,
                ceiling_here=own,
                why=rule.why,
                remedy=rule.consequence,
            )
        )
    return found


def _ceiling(subject: Subject, solved: Solution, configuration: int, setting: Setting) -> float | None:
    """Highest power at which a limit is not passed; None where it is not passed in range."""
    powers = solved.question.powers
    worst = solved.worst(solved.utilisation(subject, configuration, setting=setting))
    value = float(first_crossing(powers, worst, solved.last_power[configuration]))
    return value if np.isfinite(value) else None


def _same(first: float | None, second: float | None) -> bool:
    if first is None or second is None:
        return first is second
    return abs(first - second) < SAME
