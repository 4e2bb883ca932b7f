"""An option judged alone: what each of its limits carries in each sample, and where the own curve has a say."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np

from graph.ceiling import first_crossing
from graph.curve import asked_torque
from graph.judge import SPENT, Bench
from graph.limit import Control
from graph.model import Array, Setting
from graph.plan.band import Band
from graph.plan.survival import Flags, reaches
from graph.sampling import Response
from graph.solution import Solution, held_by_torque
from graph.subject import Subject

#: Stands for what neighbours tell where that is not settled.
OPEN: Mapping[str, float] = MappingProxyType({"nothing settled": float("nan")})


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Row:
    """One limit of an option, judged alone.

    Parameters
    ----------
    subject : Subject
        The limit.
    ceilings : array, shape (S,), or None
        Rising; what it carries in each sample, infinity where it is not passed [W]. None for a floor.
    floor : Response or None
        Utilisation of a floor over `powers` [1].
    powers : array, shape (P,)
        [W]
    ceiling : float
        Without spreads [W].
    held : array of bool, shape (P,)
        Powers at which the turbocharger's own curve may have a say in the utilisation.
    open_by : array, shape (P,)
        Where that curve has reached the torque asked by this speed, it has no say at the power [1/s].
    band : Band or None
        What can be said of other curves.
    """

    subject: Subject
    ceilings: Array | None
    floor: Response | None
    powers: Array
    ceiling: float
    held: Flags
    open_by: Array
    band: Band | None

    def open_at(self, power: float) -> bool:
        """True if the turbocharger's own curve may have a say in what is found at a power [W].

        A ceiling looks at every power below as well, a floor at the power alone.
        """
        at = int(np.searchsorted(self.powers, power))
        return bool(self.held[: at + 1].any() if self.floor is None else self.held[max(at - 1, 0) : at + 1].any())

    def untouched(self, power: float, opened: float) -> bool:
        """True if a curve that has reached the torque asked at a speed [1/s] changes nothing at a power [W]."""
        at = int(np.searchsorted(self.powers, power))
        near = self.open_by[max(at - 1, 0) : at + 1]
        return bool(near.size and opened <= near.min())

    def settled(self, power: float, spools: tuple[Array, Array], allowed: float, draws: Array) -> bool | None:
        """Whether it is clear at a power [W] with a curve on the fine and on the coarse grid [N.m].

        None where the bounds do not say.
        """
        if self.band is None:
            return None
        low, high = self.band.share(power, spools, draws)
        return False if low > allowed else True if high <= allowed else None

    def never(self, power: float, allowed: float, draws: Array) -> bool:
        """True if it is not clear at a power [W] whatever the turbocharger's own curve is.

        Not to be held at all is one of these curves: where that is clear, the others need not be bounded.
        """
        if self.band is None or self.band.ceiling:
            return False
        share = self.exceeded(power, draws)
        return (share is None or share > allowed) and self.band.least(power, draws) > allowed

    def exceeded(self, power: float, draws: Array) -> float | None:
        """Share of samples in which the limit is passed at a power [1]; None where no operating point exists."""
        if self.ceilings is not None:
            return float(np.searchsorted(self.ceilings, power * (1.0 - 1e-9), side="left")) / self.ceilings.size
        floor = self.floor
        if floor is None:
            return None
        with np.errstate(divide="ignore"):
            value = float(np.interp(power, self.powers, np.log(floor.nominal)))
        if np.isnan(value):
            return None
        linear = np.array([np.interp(power, self.powers, row) for row in floor.linear])
        curved = np.array([np.interp(power, self.powers, row) for row in floor.curved])
        z = draws[:, floor.which]
        return float((value + np.clip(z @ linear + (z * z) @ curved, -5.0, 5.0) > 0.0).mean())


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Alone:
    """An option judged alone: its limits, and whether one of them lacks a number."""

    rows: tuple[Row, ...]
    unknown: bool


class Noted(Mapping[str, float]):
    """A mapping that notes which of its names were looked at."""

    def __init__(self, values: Mapping[str, float]) -> None:
        self.values_of, self.names = values, set[str]()

    def __getitem__(self, name: str) -> float:
        self.names.add(name)
        return self.values_of[name]

    def __iter__(self) -> Iterator[str]:
        self.names.update(self.values_of)
        return iter(self.values_of)

    def __len__(self) -> int:
        return len(self.values_of)


def judged_alone(subject: Subject, bench: Bench) -> Row:
    """One limit judged alone as configuration 1."""
    rule, powers = subject.rule, bench.question.powers
    found = floor = None
    ceiling = np.inf
    held, open_by, band = np.zeros(powers.size, dtype=bool), np.full(powers.size, np.inf), None
    if rule.control is Control.SPARK and rule.no_ceiling is None:
        own, free = (bench.last_power(c).sample(bench.draws)[:, 0] for c in (1, 0))
        found = np.where(own < free * (1.0 - SPENT), own, np.inf)
    else:
        response, _ = bench.utilisation(subject, 1)
        held, open_by, band = free_until(subject, bench)
        if rule.no_ceiling is None:
            open_by = np.minimum.accumulate(open_by)
        if rule.no_ceiling is not None:
            floor = response
        else:
            ceiling = reaches(subject, bench, 1)
            last = bench.last_power(1).sample(bench.draws)[:, 0]
            found = first_crossing(powers, response.sample(bench.draws), last)
    found = None if found is None else np.sort(found)
    return Row(
        subject=subject,
        ceilings=found,
        floor=floor,
        powers=powers,
        ceiling=ceiling,
        held=held,
        open_by=open_by,
        band=band,
    )


def looks_around(subject: Subject, bench: Bench, configuration: int) -> bool:
    """True if a limit looks at what other parts offer, or hears what its neighbours tell."""
    setting = bench.question.setting
    shared, linked = Noted(setting.shared), Noted(setting.linked)
    subject.utilisation(bench.fine.state(configuration), replace(setting, shared=shared, linked=linked))
    return bool(shared.names or (linked.names and setting.linked))


def free_until(subject: Subject, bench: Bench) -> tuple[Flags, Array, Band | None]:
    """Where the turbocharger's own curve may change how a limit is judged below the speed of the power.

    The curve can only lower the torque there. Where the utilisation at every lower torque stays under what the speed
    of the power and above ask, it changes nothing. Nor does it where it has reached the torque asked at the speed at
    which the limit is tightest of all, no lower torque being tighter.

    Parameters
    ----------
    subject : Subject
        The limit.
    bench : Bench
        On which it is judged alone as configuration 1.

    Returns
    -------
    held : array of bool, shape (P,)
        Powers at which the curve may have a say.
    open_by : array, shape (P,)
        Speed by which the curve must have reached the torque asked to have none [1/s]; 0 where that never suffices.
    band : Band or None
        What can be said of any curve; None where it has no say.
    """
    open_by = np.full(bench.question.powers.size, np.inf)
    held = np.zeros(bench.question.powers.size, dtype=bool)
    if held_by_torque(subject.rule):
        return held, open_by, None
    trials: list[tuple[Solution, int, dict[str, float] | None, Setting | None]] = [
        (bench.fine, 1, None, None),
        (bench.coarse, 1, None, None),
    ]
    columns: list[int] = []
    for v in bench.variations:
        own = v.slot == subject.place.slot.name
        if own or (v.index, 1, 1) in bench.moved or (v.index, 1) in bench.offered:
            columns.append(v.index)
            for sign in (1, -1):
                at = bench.moved.get((v.index, sign, 1), 1)
                trials.append((bench.coarse, at, v.factors(sign) if own else None, bench.offered.get((v.index, sign))))
    seen: list[Array] = []
    gaps = np.zeros(bench.question.powers.size, dtype=bool)
    for solution, configuration, factors, setting in trials:
        u = solution.utilisation(subject, configuration, factors, setting=setting)
        counted = np.asarray(solution.counted, dtype=bool)
        lost = np.isnan(u[:, counted]).any(axis=-1)
        filled = np.where(np.isnan(u), -np.inf, u)
        seen.append(filled)
        gaps |= lost
        if counted.all():
            continue
        own_worst = filled[:, ~counted].max(axis=-1)
        below = np.maximum.accumulate(own_worst)
        tighter = np.flatnonzero(~lost & (below > filled[:, counted].max(axis=-1)))
        if tighter.size:
            held[tighter] = True
            speed = solution.engine.speed[~counted][filled[:, ~counted].argmax(axis=-1)]
            needed = np.where(own_worst >= below, speed, 0.0)
            open_by[tighter] = np.minimum(open_by[tighter], needed[tighter])
    if not held.any():
        return held, open_by, None
    grids = []
    for solution in (bench.fine, bench.coarse):
        asked = solution.question
        grids.append(asked_torque(asked.target, asked.powers, solution.engine.speed, asked.power_speed))
    band = Band(
        powers=bench.question.powers,
        asked_fine=grids[0],
        asked=grids[1],
        counted_fine=np.asarray(bench.fine.counted, dtype=bool),
        counted=np.asarray(bench.coarse.counted, dtype=bool),
        fine=np.maximum(seen[0], 0.0)[None],
        trials=np.maximum(np.stack(seen[1:]), 0.0),
        lost=gaps,
        columns=tuple(columns),
        ceiling=subject.rule.no_ceiling is None,
    )
    return held, open_by, band
