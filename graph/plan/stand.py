"""Every option judged alone: the reference and each feeding option solved once for a fuel and a breathing."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from graph.check import COARSE_SPEEDS
from graph.judge import Bench, Variation
from graph.model import Array, Setting, Target
from graph.operation import EngineMap
from graph.plan.bond import Key
from graph.plan.reading import read, some
from graph.plan.trait import Context, Traits, gained
from graph.solution import Question, Solution, ask, held_by_torque
from graph.subject import ENGINE_FEEDS, Subject


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stand:
    """One fuel and one breathing of the engine, with every feeding option judged alone in it.

    Parameters
    ----------
    question : Question
        On that fuel.
    fine, coarse : EngineMap
        Solved states: the reference, each feeding option alone; on the coarse grid also the moved ones.
    place : mapping of Key to int
        Configuration of each feeding option; 0 for all others.
    moved : mapping of (Variation's column, sign, configuration) to int
        On the coarse grid.
    common : tuple of Variation
        Variations of the engine's own feeds and of the model, which touch every configuration.
    """

    question: Question
    fine: EngineMap
    coarse: EngineMap
    place: Mapping[Key, int]
    moved: Mapping[tuple[int, int, int], int]
    common: tuple[Variation, ...]


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


class Stands(Traits):
    """Benches on which options are judged alone."""

    def __init__(self, *given: Any, **named: Any) -> None:
        super().__init__(*given, **named)
        self._stands: dict[Context, Stand] = {}
        self._benches: dict[tuple[Context, int], Bench] = {}
        self._short: dict[Context, float] = {}
        self._made: dict[Context, float] = {}

    def stand(self, context: Mapping[int, int]) -> Stand:
        """Solve the reference and every feeding option alone, for the fuel and the breathing of a context."""
        key = self._standing(context)
        if key not in self._stands:
            self._stands[key] = self._solve_stand(context)
        return self._stands[key]

    def _standing(self, context: Mapping[int, int]) -> Context:
        return tuple(context[s] for s in sorted({*self.fuel, *self.breathing}))

    def until_target(self, target: Target) -> Question:
        """The question with the powers up to the target: what lies above decides nothing about reaching it."""
        question = ask(target, self.setting(target))
        return replace(question, powers=question.powers[: question.at_target + 1])

    def engine_short(self, context: Mapping[int, int]) -> float:
        """Share of samples in which the engine alone makes less than the target [1]."""
        key = self._standing(context)
        if key not in self._short:
            target = self.aimed(context)
            question = self.until_target(target)
            path = _engine_part(self.feeds.get((s, context[s]), {}) for s in self.breathing)
            paths: list[Mapping[str, float]] = [path]
            moved: dict[tuple[int, int, int], int] = {}
            common = list(self.model)
            for sign in (1, -1):
                for v in self.model:
                    moved[v.index, sign, 0] = len(paths)
                    paths.append(gained(path, v, sign))
                for s in self.breathing:
                    for v in self.variations((s, context[s]), question):
                        if v.changes_state:
                            common.append(v)
                            moved[v.index, sign, 0] = len(paths)
                            shifted = self.shifted((s, context[s]), v, sign, question)
                            paths.append({**path, **_engine_part([shifted])})
            fine = self.solve(paths[:1], question, target)
            coarse = self.solve(paths, question, target, COARSE_SPEEDS)
            bench = Bench(
                question=question,
                fine=read(fine, question, own=False, spool=np.full(fine.engine.speed.size, np.inf)),
                coarse=read(coarse, question, own=False, spool=np.full(coarse.engine.speed.size, np.inf)),
                variations=tuple({v.index: v for v in common}.values()),
                draws=self.draws,
                configuration={},
                here=0,
                moved=moved,
            )
            made = bench.last_power(0, capped=True).sample(self.draws)[:, 0]
            self._made[key] = float(bench.fine.capped_power[0])
            self._short[key] = float((made < self.target.power).mean())
        return self._short[key]

    def made_alone(self, context: Mapping[int, int]) -> float:
        """What the engine alone makes at the boost cap, without spreads [W]."""
        self.engine_short(context)
        return self._made[self._standing(context)]

    def _solve_stand(self, context: Mapping[int, int]) -> Stand:
        target = self.aimed(context)
        question = self.until_target(target)
        engine_keys = [(s, context[s]) for s in self.breathing]
        base = _engine_part(self.feeds.get(k, {}) for k in engine_keys)
        paths: list[Mapping[str, float]] = [base]
        place: dict[Key, int] = {}
        for k, fed in self.feeds.items():
            own_engine = k[0] in self.breathing
            if (own_engine and k not in engine_keys) or not set(fed) - ENGINE_FEEDS:
                continue
            place[k] = len(paths)
            paths.append({**base, **fed})
        nominal = len(paths)
        fine = self.solve(paths, question, target)
        moved: dict[tuple[int, int, int], int] = {}
        breathing: list[Variation] = []
        for k in engine_keys:
            breathing.extend(v for v in self.variations(k, question) if v.changes_state)
        for sign in (1, -1):
            for v in self.model:
                for c in range(nominal):
                    moved[v.index, sign, c] = len(paths)
                    paths.append(gained(paths[c], v, sign))
            for k in engine_keys:
                for v in (v for v in breathing if v.slot == self.place(k).slot.name):
                    part = _engine_part([self.shifted(k, v, sign, question)])
                    for c in range(nominal):
                        moved[v.index, sign, c] = len(paths)
                        paths.append({**paths[c], **part})
            for k, c in place.items():
                for v in self.variations(k, question):
                    if v.changes_state and k[0] not in self.breathing:
                        moved[v.index, sign, c] = len(paths)
                        paths.append({**paths[c], **self.shifted(k, v, sign, question)})
        coarse = self.solve(paths, question, target, COARSE_SPEEDS)
        return Stand(
            question=question, fine=fine, coarse=coarse, place=place, moved=moved, common=(*breathing, *self.model)
        )

    def bench(
        self,
        stand: Stand,
        context: Mapping[int, int],
        key: Key | None,
        spools: tuple[Array, Array] | None = None,
    ) -> Bench:
        """A bench on which one option is judged alone as configuration 1, the reference being 0.

        Parameters
        ----------
        stand : Stand
            Solved.
        context : mapping of int to int
            For what parts offer.
        key : Key or None
            The option; None for the engine alone.
        spools : (array, array) or None
            The turbocharger's own curve on the fine and on the coarse grid [N.m]; None where nothing is held.
        """
        c = 0 if key is None else stand.place.get(key, 0)
        at = (self._standing(context), c)
        found = self._benches.get(at) if spools is None else None
        if found is None:
            found = self._bench(stand, key if c else None, c, spools)
            if spools is None:
                self._benches[at] = found
        shared = self.shared(context, stand.question.setting)
        question = replace(stand.question, setting=replace(stand.question.setting, shared=shared))
        own = () if key is None else self.variations(key, stand.question)
        return replace(
            found,
            question=question,
            fine=replace(found.fine, question=question),
            coarse=replace(found.coarse, question=question),
            variations=tuple({v.index: v for v in (*stand.common, *own)}.values()),
        )

    def with_offers(self, bench: Bench, context: Mapping[int, int]) -> Bench:
        """A bench on which what parts offer to others varies with their ratings."""
        moving, moved = self.offers(context, self.setting(self.aimed(context)))
        together = {v.index: v for v in (*bench.variations, *moving)}
        return replace(bench, variations=tuple(together.values()), offered=moved)

    def _bench(self, stand: Stand, key: Key | None, c: int, spools: tuple[Array, Array] | None) -> Bench:
        """The bench of one configuration, for any option judged in it."""
        question = stand.question
        own = () if key is None else self.variations(key, question)
        columns = {v.index for v in (*stand.common, *own)}
        touched = [(k, at) for k, at in stand.moved.items() if k[2] in (0, c) and k[0] in columns]
        rows = [0, c, *(at for _, at in touched)]
        moved = {(v, sign, 0 if at == 0 else 1): n + 2 for n, ((v, sign, at), _) in enumerate(touched)}
        if c == 0:
            moved |= {(v, sign, 1): n for (v, sign, _), n in list(moved.items())}
        fine_spool, coarse_spool = spools or (
            np.full(stand.fine.engine.speed.size, np.inf),
            np.full(stand.coarse.engine.speed.size, np.inf),
        )
        return Bench(
            question=question,
            fine=read(some(stand.fine, [0, c]), question, own=False, spool=fine_spool),
            coarse=read(some(stand.coarse, rows), question, own=False, spool=coarse_spool),
            variations=(),
            draws=self.draws,
            configuration={},
            here=0,
            moved=moved,
        )


def _engine_part(feeds: Iterable[Mapping[str, float]]) -> dict[str, float]:
    """What of some feeds belongs to the engine itself."""
    return {k: v for fed in feeds for k, v in fed.items() if k in ENGINE_FEEDS}


def looks_around(subject: Subject, bench: Bench, configuration: int) -> bool:
    """True if a limit looks at what other parts offer."""
    noted = Noted(bench.question.setting.shared)
    subject.utilisation(bench.fine.state(configuration), replace(bench.question.setting, shared=noted))
    return bool(noted.names)


def free_of_spool(subject: Subject, bench: Bench) -> bool:
    """True if no torque below the one asked makes a limit tighter below the speed of the power than above it.

    The turbocharger's own curve can only lower the torque there. Where the utilisation at every lower torque stays
    under what the speed of the power and above ask, the curve changes nothing.
    """
    if held_by_torque(subject.rule):
        return True
    trials: list[tuple[Solution, int, dict[str, float] | None, Setting | None]] = [
        (bench.fine, 1, None, None),
        (bench.coarse, 1, None, None),
    ]
    for v in bench.variations:
        own = v.slot == subject.place.slot.name
        if own or (v.index, 1, 1) in bench.moved or (v.index, 1) in bench.offered:
            for sign in (1, -1):
                at = bench.moved.get((v.index, sign, 1), 1)
                trials.append((bench.coarse, at, v.factors(sign) if own else None, bench.offered.get((v.index, sign))))
    for solution, configuration, factors, setting in trials:
        u = solution.utilisation(subject, configuration, factors, setting=setting)
        counted = np.asarray(solution.counted, dtype=bool)
        if counted.all():
            continue
        lost = np.isnan(u[:, counted]).any(axis=-1)
        filled = np.where(np.isnan(u), -np.inf, u)
        below = np.maximum.accumulate(filled[:, ~counted].max(axis=-1))
        if (~lost & (below > filled[:, counted].max(axis=-1))).any():
            return False
    return True
