"""Which catalogue parts would clear a limit, and what they pull along."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from graph.ceiling import first_crossing
from graph.check import examine
from graph.limit import Kind
from graph.model import Belief, Build, Fuel, Part, Place, RelationKind, Target
from graph.operation import prepare
from graph.report import Finding, Remedy
from graph.solution import Question, Solution, solve_paths
from graph.subject import dissect, fed_by

ENGINE = "engine"


@dataclass(frozen=True, slots=True, kw_only=True)
class Pull:
    """What a part brings with it: parts to buy, and what stands in the way."""

    parts: tuple[str, ...]
    conflicts: tuple[str, ...]
    tasks: tuple[str, ...]


def fitting(build: Build, catalogue: Iterable[Part], kind: str) -> tuple[Part, ...]:
    """Catalogue parts of a kind that fit a build.

    Parameters
    ----------
    build : Build
        With its codes.
    catalogue : iterable of Part
        What can be had.
    kind : str
        Kind of the slot.

    Returns
    -------
    tuple of Part
        In the order of their numbers.
    """
    codes = set(build.codes)
    return tuple(sorted((p for p in catalogue if p.kind == kind and codes & set(p.fits)), key=lambda p: p.id))


def with_part(build: Build, slot: str, part: Part) -> Build:
    """The same build with another part in one slot, taken as seen.

    Parameters
    ----------
    build : Build
        The build.
    slot : str
        Name of the slot.
    part : Part
        What goes in.

    Returns
    -------
    Build
        A new record.
    """
    places = tuple(
        Place(slot=p.slot, part=part, belief=Belief.SEEN) if p.slot.name == slot else p for p in build.places
    )
    return replace(build, places=places)


def pulled(build: Build, part: Part, catalogue: Mapping[str, Part]) -> Pull:
    """Everything that a part requires and the build lacks, followed to the end.

    Parameters
    ----------
    build : Build
        What is on the car.
    part : Part
        What is to be fitted.
    catalogue : mapping of str to Part
        By number.

    Returns
    -------
    Pull
        Parts in the order in which they are met, conflicts as sentences, tasks.
    """
    on_car = {p.part.id: p.part for p in build.places if p.part is not None}
    chosen: dict[str, Part] = {part.id: part}
    conflicts: list[str] = []
    tasks: list[str] = list(part.tasks)
    queue = [part]
    while queue:
        current = queue.pop(0)
        for relation in current.relations:
            if relation.kind is not RelationKind.REQUIRES:
                continue
            found, problem = _meet(
                relation.part,
                relation.slot,
                relation.rating,
                relation.at_least,
                relation.text,
                {**on_car, **chosen},
                build,
                catalogue,
            )
            if problem:
                conflicts.append(f"{current.id}: {problem}")
            elif found is not None:
                chosen[found.id] = found
                tasks.extend(found.tasks)
                queue.append(found)
    conflicts.extend(_mismatches(build, chosen))
    return Pull(
        parts=tuple(k for k in chosen if k != part.id),
        conflicts=tuple(dict.fromkeys(conflicts)),
        tasks=tuple(dict.fromkeys(tasks)),
    )


def _meet(
    wanted: str | None,
    slot: str | None,
    rating: str | None,
    at_least: float | None,
    text: str,
    present: Mapping[str, Part],
    build: Build,
    catalogue: Mapping[str, Part],
) -> tuple[Part | None, str | None]:
    """The part that meets a requirement and is not there yet, or why nothing does."""
    if wanted is not None:
        options = [w.strip() for w in wanted.split("|")]
        if any(o in present for o in options):
            return None, None
        known = [catalogue[o] for o in options if o in catalogue]
        if not known:
            return None, f"requires {wanted}, which the book does not hold"
        return min(known, key=_price), None
    if slot is None or rating is None or at_least is None:
        return None, None
    for part in reversed(list(present.values())):
        if part.kind == slot:
            if _value(part, rating) >= at_least:
                return None, None
            break
    options_in_slot = [p for p in fitting(build, catalogue.values(), slot) if _value(p, rating) >= at_least]
    if not options_in_slot:
        return None, f"requires {text}, which no part that fits reaches"
    return min(options_in_slot, key=_price), None


def _value(part: Part, rating: str) -> float:
    found = part.rating(rating)
    return float(found.value) if found is not None and isinstance(found.value, float | int) else -np.inf


def _price(part: Part) -> tuple[bool, float, str]:
    return part.price is None, np.inf if part.price is None else part.price, part.id


def _mismatches(build: Build, chosen: Mapping[str, Part]) -> list[str]:
    """Ports at which the chosen parts meet the rest of the car and the types differ."""
    kinds = {p.kind for p in chosen.values()}
    rest = [p.part for p in build.places if p.part is not None and p.part.kind not in kinds]
    sentences: list[str] = []
    for part in chosen.values():
        for interface in part.interfaces:
            for other in [*rest, *(p for p in chosen.values() if p.id != part.id)]:
                for theirs in other.interfaces:
                    if theirs.port == interface.port and theirs.type != interface.type:
                        pair = sorted([f"{part.id} ({interface.type})", f"{other.id} ({theirs.type})"])
                        sentences.append(f"{interface.port}: {pair[0]} does not meet {pair[1]}")
    return sentences


def remedies(
    build: Build, target: Target, kinds: Mapping[str, Kind], catalogue: Iterable[Part], findings: Iterable[Finding]
) -> tuple[Remedy, ...]:
    """For every limit below the target the catalogue parts that fit and clear it, cheapest first.

    Parameters
    ----------
    build : Build
        The car.
    target : Target
        What is asked.
    kinds : mapping of str to Kind
        Part kinds by name.
    catalogue : iterable of Part
        What can be had.
    findings : iterable of Finding
        Of the check of the build.

    Returns
    -------
    tuple of Remedy
        Grouped by slot in the order of the findings, cheapest first within it.
    """
    book = {p.id: p for p in catalogue}
    short: dict[str, Finding] = {}
    for finding in findings:
        if finding.slot != ENGINE and finding.ceiling is not None and finding.ceiling < target.power:
            short.setdefault(finding.slot, finding)
    trials: list[tuple[Finding, Build, Part]] = []
    for slot, finding in short.items():
        place = build.place(slot)
        if place is None:
            continue
        trials.extend(
            (finding, with_part(build, slot, part), part)
            for part in fitting(build, book.values(), place.slot.kind)
            if part.used is None and (place.part is None or part.id != place.part.id)
        )
    if not trials:
        return ()
    ceilings = _own_ceilings(trials, build, target, kinds)
    found: list[Remedy] = []
    for (finding, _, part), ceiling in zip(trials, ceilings, strict=True):
        if ceiling is not None and ceiling < target.power:
            continue
        pull = pulled(build, part, book)
        bought = [part, *(book[p] for p in pull.parts)]
        prices = [p.price for p in bought]
        found.append(
            Remedy(
                slot=finding.slot,
                rule=finding.rule,
                part=part.id,
                name=part.name,
                ceiling=ceiling,
                price=part.price,
                total=None if any(p is None for p in prices) else float(sum(p for p in prices if p is not None)),
                labour=float(sum(p.labour or 0.0 for p in bought)),
                pulls=pull.parts,
                conflicts=pull.conflicts,
                tasks=pull.tasks,
                kinds=tuple(dict.fromkeys(p.kind for p in bought)),
                stock=part.stock,
                lead_time=max((p.lead_time for p in bought if p.lead_time is not None), default=None),
            )
        )
    order = {slot: i for i, slot in enumerate(short)}
    return tuple(sorted(found, key=lambda r: (order[r.slot], np.inf if r.total is None else r.total, r.part)))


def fuel_remedies(
    build: Build, target: Target, kinds: Mapping[str, Kind], fuels: Iterable[tuple[Part, Fuel]], engine_alone: float
) -> tuple[Remedy, ...]:
    """Fuels on which the engine alone reaches a target that it misses on its own fuel, lowest octane first.

    Parameters
    ----------
    build : Build
        The car.
    target : Target
        What is asked.
    kinds : mapping of str to Kind
        Part kinds by name.
    fuels : iterable of (Part, Fuel)
        Fuel grades of the book with their properties.
    engine_alone : float
        What the engine makes on the target's fuel [W].

    Returns
    -------
    tuple of Remedy
        Empty where the engine reaches the target already.
    """
    if engine_alone >= target.power:
        return ()
    found: list[tuple[float, Remedy]] = []
    for part, burned in fuels:
        anatomy, question = examine(build, replace(target, fuel=burned), kinds)
        paths = [anatomy.reference(), anatomy.here()]
        solution = solve_paths(prepare(build.platform, power_speed=question.power_speed), paths, question, [1])
        reached = float(solution.capped_power[0])
        if reached >= target.power:
            remedy = Remedy(
                slot=ENGINE,
                rule="what the engine itself can make",
                part=part.id,
                name=part.name,
                ceiling=reached,
                price=part.price,
                total=part.price,
                labour=0.0,
                tasks=part.tasks,
            )
            found.append((burned.research_octane, remedy))
    return tuple(remedy for _, remedy in sorted(found, key=lambda f: (f[0], f[1].part)))


def _own_ceilings(
    trials: list[tuple[Finding, Build, Part]], build: Build, target: Target, kinds: Mapping[str, Kind]
) -> list[float | None]:
    """Ceiling alone of each tried part: the lowest of all limits of its slot; None where none is passed."""
    anatomy, question = examine(build, target, kinds)
    paths: list[Mapping[str, float]] = [anatomy.reference(), anatomy.here()]
    where: list[int] = []
    for finding, trial, _ in trials:
        place = trial.place(finding.slot)
        fed = fed_by(place, kinds[place.slot.kind], question.setting) if place is not None else {}
        where.append(len(paths) if fed else 0)
        if fed:
            paths.append(anatomy.with_part(fed))
    solution = solve_paths(prepare(build.platform, power_speed=question.power_speed), paths, question, [1])
    return [
        _lowest(trial, finding.slot, kinds, question, solution, configuration)
        for (finding, trial, _), configuration in zip(trials, where, strict=True)
    ]


def _lowest(
    trial: Build, slot: str, kinds: Mapping[str, Kind], question: Question, solution: Solution, configuration: int
) -> float | None:
    lowest = np.inf
    for subject in dissect(trial, kinds, question.setting).subjects:
        if subject.place.slot.name == slot and subject.rule.no_ceiling is None:
            worst = solution.worst(solution.utilisation(subject, configuration))
            lowest = min(lowest, float(first_crossing(question.powers, worst, solution.last_power[configuration])))
    return lowest if np.isfinite(lowest) else None
