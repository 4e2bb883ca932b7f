"""The model behind the search: the same states, limits and samples as a check, for many choices side by side."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np

from graph.check import ENGINE, check
from graph.model import Array
from graph.plan.bond import Key
from graph.plan.car import Car
from graph.plan.reading import one, read
from graph.plan.stand import Stands, free_of_spool, looks_around
from graph.plan.survival import exceeded_share, reaches
from graph.plan.trait import Context
from graph.report import Report
from graph.solution import Question, Solution, ask


class Physics(Stands):
    """Verdicts on the options of one car for one target.

    The parameters are those of :class:`graph.plan.trait.Traits`.
    """

    def __init__(self, *given: Any, **named: Any) -> None:
        super().__init__(*given, **named)
        self.reports: dict[tuple[int, ...], Report] = {}
        self._alone: dict[tuple[Context, Key], dict[Context | None, bool | None]] = {}
        self._states: dict[Context, tuple[Solution, Question]] = {}

    def engine(self, context: Mapping[int, int]) -> bool:
        """True if the engine alone makes the target in a context, as often as the policy asks."""
        return self.engine_short(context) <= self.policy.cost

    def clear(self, context: Mapping[int, int], slot: int, option: int) -> bool:
        """False if a limit of an option, judged alone in a context, is not clear; True where that is still open."""
        return self.alone(context, (slot, option)) is not False

    def alone(self, context: Mapping[int, int], key: Key) -> bool | None:
        """Whether an option is clear alone; None where the turbocharger's own curve has a say in it."""
        around = tuple(context[s] for s in self.offering)
        known = self._alone.setdefault((self._standing(context), key), {})
        for seen in (None, around):
            if seen in known:
                return known[seen]
        verdict, looked = self.judged(context, key, None)
        known[around if looked else None] = verdict
        return verdict

    def refuse(self, context: Mapping[int, int], key: Key) -> None:
        """Take an option as not clear wherever what its verdict depends on is the same."""
        known = self._alone.setdefault((self._standing(context), key), {})
        known[None if None in known else tuple(context[s] for s in self.offering)] = False

    def judged(
        self, context: Mapping[int, int], key: Key, spools: tuple[Array, Array] | None
    ) -> tuple[bool | None, bool]:
        """Judge an option alone.

        Parameters
        ----------
        context : mapping of int to int
            Fuel, breathing and what parts offer.
        key : Key
            The option.
        spools : (array, array) or None
            The turbocharger's own curve on both grids [N.m]; None to hold nothing.

        Returns
        -------
        verdict : bool or None
            None where, with `spools` None, that curve has a say.
        looked : bool
            True if the verdict depends on what other parts offer.
        """
        place = self.place(key)
        if place.part is None or place.unknown is not None:
            return place.unknown is None, False
        stand = self.stand(context)
        found, unknown = self.subjects(context, key, stand.question.setting)
        looked = any(rule.needs for rule in self.kinds[place.slot.kind].limits)
        if unknown:
            return False, looked
        sure = True
        for subject in found:
            bench = self.bench(stand, context, key, spools)
            if looks_around(subject, bench, 1):
                looked, bench = True, self.with_offers(bench, context)
            if spools is None and not free_of_spool(subject, bench):
                sure = False
                continue
            share = exceeded_share(subject, bench, 1)
            if share is None or share > (self.policy.cost if subject.rule.costs_power_only else self.policy.harm):
                return False, looked
        return True if sure else None, looked

    def fuels(self) -> tuple[dict[int, int], ...]:
        """Contexts of every fuel allowed, the rest of each as on the car."""
        kept = dict.fromkeys(self.context, 0)
        if not self.fuel:
            return (kept,)
        slot = self.fuel[0]
        allowed = [i for i, o in enumerate(self.choices.options[slot]) if o.barred <= self.choices.relaxed]
        return tuple({**kept, slot: i} for i in allowed or [0])

    def engine_contexts(self) -> Iterator[dict[int, int]]:
        """Contexts of every fuel and every breathing allowed."""
        for context in self.fuels():
            for choice in itertools.product(
                *([i for i, o in enumerate(self.choices.options[s]) if not o.barred] for s in self.breathing)
            ):
                yield {**context, **dict(zip(self.breathing, choice, strict=True))}

    def shortfall(self, key: Key, context: Mapping[int, int] | None = None) -> str | None:
        """Why an option is not clear when judged alone, in words; None where it is.

        Parameters
        ----------
        key : Key
            The option.
        context : mapping of int to int or None
            Fuel, breathing and what parts offer; None for the first fuel on which the engine makes the target.
        """
        place = self.place(key)
        if place.part is None:
            return None
        if place.unknown is not None:
            return f"not known ({place.unknown})"
        around = context if context is not None else next(filter(self.engine, self.fuels()), self.fuels()[-1])
        stand = self.stand(around)
        worst: tuple[float, str] | None = None
        subjects, unknown = self.subjects(around, key, stand.question.setting)
        bench = self.bench(stand, around, key)
        for subject in subjects:
            if looks_around(subject, bench, 1):
                bench = self.with_offers(bench, around)
            share = exceeded_share(subject, bench, 1)
            limit = self.policy.cost if subject.rule.costs_power_only else self.policy.harm
            if share is not None and share > limit and (worst is None or share > worst[0]):
                ceiling = reaches(subject, bench, 1)
                until = f", ceiling {ceiling / 1e3:.0f} kW" if np.isfinite(ceiling) else ""
                worst = (
                    share,
                    f"{place.part.id}, {subject.rule.name}: passed at {self.target.power / 1e3:.0f} kW with a chance of "
                    f"{share:.0%}{until}; {limit:.0%} is allowed",
                )
        if worst is None:
            return f"{place.part.id}: a limit of it is not known" if unknown else None
        return worst[1]

    def settle(self, cores: Sequence[Mapping[int, int]]) -> list[Car]:
        """Solve the engine's state for some choices of the core."""
        order: dict[Context, dict[Context, Mapping[int, int]]] = {}
        for core in cores:
            state = tuple(core[s] for s in self.core if s not in self.offering or (s, core[s]) in self.feeds)
            if state not in self._states:
                order.setdefault(tuple(core[s] for s in self.fuel), {})[state] = core
        for waiting in order.values():
            target = self.aimed(next(iter(waiting.values())))
            question = ask(target, self.setting(target))
            paths = [self.here(core) for core in waiting.values()]
            solution = read(self.solve(paths, question, target), question, own=True)
            for n, state in enumerate(waiting):
                self._states[state] = (one(solution, n), question)
        cars = []
        for core in cores:
            state = tuple(core[s] for s in self.core if s not in self.offering or (s, core[s]) in self.feeds)
            cars.append(Car(self, core, *self._states[state]))
        return cars

    def confirm(self, selection: Sequence[int]) -> bool:
        """True if the full check of a complete choice finds everything in order by the policy."""
        chosen = dict(enumerate(selection))
        report = check(self.built(selection), self.aimed(chosen), self.kinds, samples=self.samples, seed=self.seed)
        self.reports[tuple(selection)] = report
        if report.reachable is not True or report.holds_probability < self.policy.holds - 1e-12:
            return False
        names = {name: s for s, name in enumerate(self.choices.names)}
        good = True
        for finding in report.findings:
            kind = self.kinds.get(self.build.places[names[finding.slot]].slot.kind) if finding.slot in names else None
            rule = next((r for r in kind.limits if r.name == finding.rule), None) if kind is not None else None
            limit = self.policy.cost if finding.slot == ENGINE or (rule and rule.costs_power_only) else self.policy.harm
            if finding.exceed_probability is None or finding.exceed_probability > limit:
                good = False
                if finding.slot in names and rule is not None:
                    s = names[finding.slot]
                    self.refuse(chosen, (s, chosen[s]))
        return good
