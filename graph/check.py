"""Check: what every part must carry for a target, against what its rating lets it carry there."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from graph.answer import ENGINE, answer
from graph.bench import Bench
from graph.circumstance import circumstances
from graph.judge import judge
from graph.limit import Kind
from graph.memory import Memory
from graph.model import Build, Setting, Target
from graph.operation import prepare
from graph.report import Report
from graph.sampling import SAMPLES, SEED
from graph.solution import Question, ask, solve_paths
from graph.subject import ENGINE_FEEDS, Anatomy, dissect, fed_by
from graph.validity import outside
from graph.variation import MODEL, Variation, draw, gained, linked, offered, vary

#: Engine speeds of the coarser grid on which the answer to spreads is solved.
COARSE_SPEEDS = 14

__all__ = ["COARSE_SPEEDS", "ENGINE", "check", "examine"]


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
    bench = bench_of(build, kinds, anatomy, question, samples, seed, memory)
    report = answer(build, anatomy, bench, [judge(subject, bench) for subject in anatomy.subjects])
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


def bench_of(
    build: Build,
    kinds: Mapping[str, Kind],
    anatomy: Anatomy,
    question: Question,
    samples: int,
    seed: int,
    memory: Memory | None = None,
) -> Bench:
    """Solve the nominal configurations finely and the moved ones coarsely.

    Parameters
    ----------
    build : Build
        Car with its parts.
    kinds : mapping
        Part kinds by name.
    anatomy, question : Anatomy, Question
        As :func:`examine` returns them.
    samples : int
        Number of joint samples; 0 for stated values alone.
    seed : int
        Of the samples.
    memory : Memory or None
        Engine states that other questions may share.

    Returns
    -------
    Bench
        What the judges of the limits look at.
    """
    slots = [slot for slot, fed in anatomy.feeds.items() if set(fed) - ENGINE_FEEDS]
    base: list[Mapping[str, float]] = [anatomy.reference(), *(anatomy.alone(slot) for slot in slots), anatomy.here()]
    configuration = {slot: i + 1 for i, slot in enumerate(slots)}
    here = len(base) - 1
    platform, speed = build.platform, question.power_speed
    fine = solve_paths(prepare(platform, power_speed=speed), base, question, [here], memory=memory)
    variations = vary(anatomy, build, kinds, question) if samples else ()
    paths = list(base)
    moved: dict[tuple[int, int, int], int] = {}
    for v, sign, c, path in _moves(build, kinds, anatomy, question, variations, base, slots):
        moved[(v.index, sign, c)] = len(paths)
        paths.append(path)
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


def _moves(
    build: Build,
    kinds: Mapping[str, Kind],
    anatomy: Anatomy,
    question: Question,
    variations: tuple[Variation, ...],
    base: Sequence[Mapping[str, float]],
    slots: list[str],
) -> list[tuple[Variation, int, int, Mapping[str, float]]]:
    """Every configuration moved to either side of every variation that changes it; those of one configuration in a row."""
    here, configuration = len(base) - 1, {slot: i + 1 for i, slot in enumerate(slots)}
    found: list[tuple[Variation, int, int, Mapping[str, float]]] = []
    for v in (v for v in variations if v.changes_state):
        for sign in (1, -1):
            shifted = _shifted(build, kinds, anatomy, question, v, sign)
            for c in _touched(v, anatomy, configuration, here):
                path = gained(base[c], v, sign) if v.slot == MODEL else _path(shifted, slots, c, here)
                if v.learnt is None or path != base[c]:
                    found.append((v, sign, c, path))
    return sorted(found, key=lambda move: move[2])


def _shifted(
    build: Build, kinds: Mapping[str, Kind], anatomy: Anatomy, question: Question, variation: Variation, sign: int
) -> Anatomy:
    """The anatomy with one rating moved by one standard deviation."""
    place = build.place(variation.slot)
    if place is None:
        return anatomy
    fed = fed_by(place, kinds[place.slot.kind], question.setting, variation.factors(sign))
    if build.learnt is not None:
        fed = build.learnt.steady(fed, anatomy.feeds.get(variation.slot, {}))
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
