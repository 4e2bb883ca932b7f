"""Every option judged alone, once for all powers: what it carries in each sample, for a fuel and a breathing."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from graph.check import COARSE_SPEEDS
from graph.judge import Bench
from graph.model import Array
from graph.operation import EngineMap
from graph.plan.alone import OPEN, Alone, Noted, judged_alone, looks_around
from graph.plan.bond import Key
from graph.plan.mark import Mark
from graph.plan.reading import read
from graph.plan.trait import Traits
from graph.sampling import THIN
from graph.solution import Question, ask, pick
from graph.subject import ENGINE_FEEDS
from graph.variation import Variation, gained

#: Feeding options of which the engine states alone are kept side by side.
KEPT_ALONE = 64


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lone:
    """Engine states of the reference and of one option alone, on both grids, with those to either side in every spread.

    Parameters
    ----------
    fine, coarse : EngineMap
        Configuration 0 is the reference, 1 the option; the coarse grid holds the moved ones as well.
    moved : dict
        Configuration of each spread, sign and configuration that it moves.
    spreads : tuple of Variation
        Of the model and of the breathing.
    """

    fine: EngineMap
    coarse: EngineMap
    moved: Mapping[tuple[int, int, int], int]
    spreads: tuple[Variation, ...]


class Stands(Traits):
    """Benches on which options are judged alone."""

    def __init__(self, *given: Any, **named: Any) -> None:
        super().__init__(*given, **named)
        self._benches: dict[tuple[Mark, ...], Bench] = {}
        self._lone: dict[tuple[tuple[Mark, ...], Key | None], Lone] = {}
        self._questions: dict[tuple[Mark, ...], Question] = {}
        self._heard: dict[Key, tuple[int, ...]] = {}
        self._listening: dict[Key, bool] = {}
        self._hearing: dict[Key, bool] = {}

    def standing(self, context: Mapping[int, int]) -> tuple[Mark, ...]:
        """Fuel and breathing of a context."""
        return tuple(self.alike(s, context[s]) for s in sorted({*self.fuel, *self.breathing}))

    def labelled(self, context: Mapping[int, int]) -> tuple[Any, ...]:
        """Fuel and breathing of a context by what they say, with what else the powers depend on."""
        target = self.target
        ratio = None if target.torque is None else target.torque / target.power
        top = max(target.power, 2.0 * self.build.platform.constants["factory power"])
        return self.aimed(context).fuel, ratio, top, self.samples, self.standing(context)

    def yardstick(self, context: Mapping[int, int]) -> Question:
        """A question on the fuel of a context with powers that are the same for every target."""
        key = self.standing(context)
        if key not in self._questions:
            target = self.aimed(context)
            factory = self.build.platform.constants["factory power"]
            power = 0.5 * factory if target.power <= 2.0 * factory else target.power
            torque = None if target.torque is None else target.torque * power / target.power
            asked = replace(target, power=power, torque=torque)
            question = ask(asked, self.setting(asked))
            chosen = np.unique(np.append(np.arange(0, question.powers.size, THIN), question.powers.size - 1))
            self._questions[key] = replace(question, powers=question.powers[chosen], at_target=0)
        return self._questions[key]

    def made(self, context: Mapping[int, int]) -> tuple[Array, float]:
        """What the engine alone makes at the boost cap in each sample, and without spreads [W]."""
        key = (*self.labelled(context), self.target.boost_cap)
        if key not in self.ledger.made:
            bench = self.bench(context, None)
            found = np.sort(bench.last_power(0, capped=True).sample(self.draws)[:, 0])
            self.ledger.made[key] = found, float(bench.fine.capped_power[0])
        held: tuple[Array, float] = self.ledger.made[key]
        return held

    def engine_short(self, context: Mapping[int, int]) -> float:
        """Share of samples in which the engine alone makes less than the target [1]."""
        found, _ = self.made(context)
        return float(np.searchsorted(found, self.target.power, side="left")) / found.size

    def made_alone(self, context: Mapping[int, int]) -> float:
        """What the engine alone makes at the boost cap, without spreads [W]."""
        return self.made(context)[1]

    def found_alone(self, context: Mapping[int, int], key: Key) -> Alone:
        """An option judged alone in a context."""
        if key[0] in self.offering:
            context = {**context, key[0]: key[1]}
        at = (*self.labelled(context), self.label(key), *self.around(context, key))
        if at not in self.ledger.alone:
            self.ledger.alone[at] = self._judged(context, key)
        held: Alone = self.ledger.alone[at]
        return held

    def hears(self, slot: int, option: int) -> bool:
        """True if what an option carries depends on what a part offers, another one or itself."""
        key = (slot, option)
        if key not in self._hearing:
            own = slot in self.offering and not self._names(key).isdisjoint(self._offers_of(slot))
            self._hearing[key] = own or bool(self._offering(key))
        return self._hearing[key]

    def around(self, context: Mapping[int, int], key: Key) -> tuple[Mark, ...]:
        """What other parts of a context offer to the limits of an option."""
        return tuple(self.alike(s, context[s]) for s in self._offering(key))

    def listens(self, key: Key) -> bool:
        """True if a limit of an option looks at what other parts offer, or hears what its neighbours tell."""
        if key not in self._listening:
            kind = self.kinds[self.place(key).slot.kind]
            self._listening[key] = any(rule.needs for rule in kind.limits) or any(map(any, self._looked_at(key)))
        return self._listening[key]

    def _offering(self, key: Key) -> tuple[int, ...]:
        """Other slots of which the limits of an option hear what they offer."""
        if key not in self._heard:
            names = self._names(key)
            self._heard[key] = tuple(
                s for s in self.offering if s != key[0] and not names.isdisjoint(self._offers_of(s))
            )
        return self._heard[key]

    def _offers_of(self, slot: int) -> frozenset[str]:
        return frozenset(feed.parameter for feed in self.kinds[self.build.places[slot].slot.kind].offers)

    def _names(self, key: Key) -> set[str]:
        """Names of what others offer that the limits of an option look at."""
        kind = self.kinds[self.place(key).slot.kind]
        names = {name for rule in kind.limits for name in rule.needs}
        return names.union(*(shared for shared, _ in self._looked_at(key)))

    def _looked_at(self, key: Key) -> list[tuple[set[str], set[str]]]:
        """For each limit of an option what it looks at of what others offer and tell."""
        if self.place(key).part is None:
            return []
        context = {**dict.fromkeys(self.context, 0), **({key[0]: key[1]} if key[0] in self.offering else {})}
        bench = self.bench(context, None)
        state = pick(bench.fine.operation, (0, slice(0, 1)))
        found = []
        for subject in self.subjects(context, key, bench.question.setting)[0]:
            shared, linked = Noted(bench.question.setting.shared), Noted(OPEN)
            subject.utilisation(state, replace(bench.question.setting, shared=shared, linked=linked))
            found.append((shared.names, linked.names))
        return found

    def _judged(self, context: Mapping[int, int], key: Key) -> Alone:
        question = self.yardstick(context)
        subjects, unknown = self.subjects(context, key, question.setting)
        rows = []
        bench = self.bench(context, key)
        for subject in subjects:
            around = looks_around(subject, bench, 1)
            rows.append(judged_alone(subject, self.with_offers(bench, context) if around else bench))
        return Alone(rows=tuple(rows), unknown=unknown)

    def bench(
        self, context: Mapping[int, int], key: Key | None, question: Question | None = None, spool: Any = None
    ) -> Bench:
        """A bench on which one option is judged alone as configuration 1, the reference being 0.

        Parameters
        ----------
        context : mapping of int to int
            Fuel, breathing and what parts offer.
        key : Key or None
            The option; None for the engine alone.
        question : Question or None
            With the powers to judge at; None for those of every target.
        spool : (array, array) or None
            The turbocharger's own curve on the fine and on the coarse grid [N.m]; None where nothing is held.
        """
        feeding = key is not None and bool(set(self.feeds.get(key, {})) - ENGINE_FEEDS) and key[0] not in self.breathing
        asked = question or self.yardstick(context)
        at = self.standing(context)
        kept = question is None and not feeding
        found = self._benches.get(at) if kept else None
        if found is None:
            found = self._bench(context, key if feeding else None, asked, spool)
            if kept:
                self._benches[at] = found
        shared = self.shared(context, asked.setting)
        together = replace(asked, setting=replace(asked.setting, shared=shared, linked={}))
        own = () if key is None else self.variations(key, asked)
        return replace(
            found,
            question=together,
            fine=replace(found.fine, question=together),
            coarse=replace(found.coarse, question=together),
            variations=tuple({v.index: v for v in (*found.variations, *own)}.values()),
        )

    def with_offers(self, bench: Bench, context: Mapping[int, int]) -> Bench:
        """A bench on which what parts offer to others varies with their ratings."""
        moving, moved = self.offers(context, self.setting(self.aimed(context)))
        together = {v.index: v for v in (*bench.variations, *moving)}
        return replace(bench, variations=tuple(together.values()), offered=moved)

    def _bench(self, context: Mapping[int, int], key: Key | None, question: Question, spool: Any) -> Bench:
        """The reference and one feeding option alone, each with its spreads, read at the powers of a question."""
        at = (self.standing(context), key)
        lone = self._lone.pop(at, None) or self._solved_alone(context, key, question)
        self._lone[at] = lone
        for old in list(self._lone)[: max(0, len(self._lone) - KEPT_ALONE)]:
            del self._lone[old]
        free = [np.full(states.engine.speed.size, np.inf) for states in (lone.fine, lone.coarse)]
        fine_spool, coarse_spool = spool or free
        return Bench(
            question=question,
            fine=read(lone.fine, question, own=False, spool=fine_spool),
            coarse=read(lone.coarse, question, own=False, spool=coarse_spool),
            variations=lone.spreads,
            draws=self.draws,
            configuration={},
            here=-1,
            moved=lone.moved,
        )

    def _solved_alone(self, context: Mapping[int, int], key: Key | None, question: Question) -> Lone:
        target = self.aimed(context)
        breathing = [(s, context[s]) for s in self.breathing]
        base = _engine_part(self.feeds.get(k, {}) for k in breathing)
        own = base if key is None else {**base, **self.feeds[key]}
        stated = (base, own)
        paths: list[Mapping[str, float]] = [self.known(p) for p in stated]
        moved: dict[tuple[int, int, int], int] = {}
        common: list[Variation] = [*self.model]
        for sign in (1, -1):
            for v in self.model:
                for c in (0, 1):
                    moved[v.index, sign, c] = len(paths)
                    paths.append(gained(paths[c], v, sign))
            for k in breathing:
                for v in (v for v in self.variations(k, question) if v.changes_state):
                    common.append(v)
                    part = _engine_part([self.shifted(k, v, sign, question)])
                    for c in (0, 1):
                        moved[v.index, sign, c] = len(paths)
                        paths.append(self.known({**stated[c], **part}))
            for v in () if key is None else self.variations(key, question):
                if v.changes_state:
                    moved[v.index, sign, 1] = len(paths)
                    paths.append(self.known({**own, **self.shifted(key, v, sign, question)}))  # type: ignore[arg-type]
        return Lone(
            fine=self.solve(paths[:2], question, target),
            coarse=self.solve(paths, question, target, COARSE_SPEEDS),
            moved=moved,
            spreads=tuple({v.index: v for v in common}.values()),
        )


def _engine_part(feeds: Iterable[Mapping[str, float]]) -> dict[str, float]:
    """What of some feeds belongs to the engine itself."""
    return {k: v for fed in feeds for k, v in fed.items() if k in ENGINE_FEEDS}
