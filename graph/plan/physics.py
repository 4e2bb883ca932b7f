"""The model behind the search: the same states, limits and samples as a check, for many choices side by side."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping, Sequence
from copy import copy
from dataclasses import replace
from typing import Any

import numpy as np

from graph.check import COARSE_SPEEDS, ENGINE, check
from graph.limit import Control
from graph.model import Target
from graph.operation import SPEEDS
from graph.plan.alone import Noted, Row
from graph.plan.bond import Key
from graph.plan.car import Car
from graph.plan.mark import Mark
from graph.plan.reading import read, some
from graph.plan.stand import Stands
from graph.plan.state import State
from graph.plan.survival import NEARLY
from graph.plan.trait import Context
from graph.plan.wish import MarginPolicy
from graph.report import Report
from graph.solution import ask
from graph.subject import Subject

#: States of one target that are kept.
KEPT = 200
#: Share by which a limit must be passed to strike out a core at a glance [1]; the rest is left to the full solution.
CERTAIN = 1e-6
#: States solved together from which on their coarse grid is solved with them, for the turbocharger's own curve.
SEVERAL = 3


class Physics(Stands):
    """Verdicts on the options of one car for one target.

    The parameters are those of :class:`graph.plan.trait.Traits`.
    """

    def __init__(self, *given: Any, **named: Any) -> None:
        super().__init__(*given, **named)
        self._begin()

    def _begin(self) -> None:
        """Nothing found yet that depends on the power."""
        self.reports: dict[tuple[int, ...], Report] = {}
        self._refused: set[tuple[Any, ...]] = set()
        self._states: dict[tuple[Mark, ...], State] = {}
        self._alone: dict[tuple[Any, ...], tuple[bool | None, tuple[Row, ...]]] = {}

    def asked(self, target: Target, policy: MarginPolicy) -> Physics:
        """The same options at another power, sharing all that does not depend on it.

        Parameters
        ----------
        target : Target
            Like this one's but for its power.
        policy : MarginPolicy
            When a limit is clear.

        Returns
        -------
        Physics
            A new object.
        """
        other = copy(self)
        other.target, other.policy = target, policy
        other.least = int(np.ceil(policy.holds * self.samples - 1e-9))
        other._begin()
        return other

    def engine(self, context: Mapping[int, int]) -> bool:
        """True if the engine alone makes the target in a context, as often as the policy asks."""
        return self.engine_short(context) <= self.policy.cost

    def clear(self, context: Mapping[int, int], slot: int, option: int) -> bool:
        """False if a limit of an option, judged alone in a context, is not clear; True where that is still open."""
        return self.alone(context, (slot, option)) is not False

    def allowed_share(self, subject: Subject) -> float:
        """Largest share of samples in which a limit may be passed where it still counts as clear [1]."""
        return self.policy.cost if subject.rule.costs_power_only else self.policy.harm

    def alone(self, context: Mapping[int, int], key: Key) -> bool | None:
        """Whether an option is clear alone; None where the turbocharger's own curve has a say in it."""
        return self._verdict(context, key)[0]

    def unsure(self, context: Mapping[int, int], key: Key) -> tuple[Row, ...]:
        """Limits of an option in which the turbocharger's own curve has a say."""
        return self._verdict(context, key)[1]

    def _verdict(self, context: Mapping[int, int], key: Key) -> tuple[bool | None, tuple[Row, ...]]:
        at = (self.standing(context), self.around(context, key), key)
        if at not in self._alone:
            self._alone[at] = self._judged_at_target(context, key)
        return self._alone[at]

    def _judged_at_target(self, context: Mapping[int, int], key: Key) -> tuple[bool | None, tuple[Row, ...]]:
        place = self.place(key)
        if place.part is None or place.unknown is not None:
            return place.unknown is None, ()
        if (self.standing(context), key) in self._refused:
            return False, ()
        found = self.found_alone(context, key)
        if found.unknown:
            return False, ()
        power = self.target.power
        unsure = []
        for row in found.rows:
            allowed = self.allowed_share(row.subject)
            if row.open_at(power):
                if row.never(power, allowed, self.draws):
                    return False, ()
                unsure.append(row)
                continue
            share = row.exceeded(power, self.draws)
            if share is None or share > allowed:
                return False, ()
        return (None if unsure else True), tuple(unsure)

    def refuse(self, context: Mapping[int, int], key: Key) -> None:
        """Take an option as not clear on this fuel and breathing: a full check has found it so."""
        self._refused.add((self.standing(context), key))
        self._alone.clear()

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

    def judged_on(self) -> dict[int, int]:
        """The context in which a reason is told: the first fuel on which the engine makes the target, else the last."""
        return next(filter(self.engine, self.fuels()), self.fuels()[-1])

    def carries_alone(self, key: Key) -> float:
        """Lowest ceiling of an option judged alone, without spreads; 0 for one that is not known [W]."""
        place = self.place(key)
        if place.part is None or place.unknown is not None:
            return 0.0
        found = self.found_alone(self.judged_on(), key)
        return 0.0 if found.unknown else min((row.ceiling for row in found.rows), default=float("inf"))

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
        found = self.found_alone(context if context is not None else self.judged_on(), key)
        worst: tuple[float, str] | None = None
        for row in found.rows:
            share, limit = row.exceeded(self.target.power, self.draws), self.allowed_share(row.subject)
            if share is not None and share > limit and (worst is None or share > worst[0]):
                until = f", ceiling {row.ceiling / 1e3:.0f} kW" if np.isfinite(row.ceiling) else ""
                worst = (
                    share,
                    f"{place.part.id}, {row.subject.rule.name}: passed at {self.target.power / 1e3:.0f} kW with a "
                    f"chance of {share:.0%}{until}; {limit:.0%} is allowed",
                )
        if worst is None:
            return f"{place.part.id}: a limit of it is not known" if found.unknown else None
        return worst[1]

    def glance(self, cores: Sequence[Mapping[int, int]]) -> list[tuple[int, ...] | None]:
        """For some choices of the core, the slots whose parts fail the target there for certain; None if the engine does.

        Only the speed of the power and those above it are solved, and only the limits of the core's parts compared
        there: what fails at one speed fails.
        """
        found: list[tuple[int, ...] | None] = [()] * len(cores)
        groups: dict[tuple[Mark, ...], list[int]] = {}
        for n, core in enumerate(cores):
            groups.setdefault(self.standing(core), []).append(n)
        for members in groups.values():
            for n, failed in zip(members, self._glance([cores[n] for n in members]), strict=True):
                found[n] = failed
        return found

    def _glance(self, cores: Sequence[Mapping[int, int]]) -> list[tuple[int, ...] | None]:
        target = self.aimed(cores[0])
        setting = self.setting(target)
        question = ask(target, replace(setting, shared=self.shared(cores[0], setting)))
        question = replace(question, powers=np.array([target.power]), at_target=0)
        states = self.solve([self.here(c) for c in cores], question, target, -SPEEDS)
        solution = read(states, question, own=False)
        short = solution.capped_power < target.power * (NEARLY - CERTAIN)
        blamed: list[list[int]] = [[] for _ in cores]
        for s in (t for t in self.core if t not in self.late):
            chosen: dict[int, list[int]] = {}
            for n, core in enumerate(cores):
                chosen.setdefault(core[s], []).append(n)
            for option, rows in chosen.items():
                for subject in self.subjects(cores[0], (s, option), question.setting)[0]:
                    rule = subject.rule
                    if rule.no_ceiling is not None or rule.control is Control.SPARK or rule.needs:
                        continue
                    if self._neighbourly(subject, solution):
                        continue
                    u = solution.utilisation(subject, rows)
                    over = np.where(np.isnan(u), 0.0, u).max(axis=(-2, -1)) > 1.0 + CERTAIN
                    for n in np.array(rows)[over]:
                        blamed[n].append(s)
        return [None if failed else tuple(dict.fromkeys(found)) for failed, found in zip(short, blamed, strict=True)]

    def _neighbourly(self, subject: Subject, solution: Any) -> bool:
        """True if a limit may hear what neighbours tell or offer."""
        around = solution.question.setting
        heard, shared = Noted({}), Noted(around.shared)
        subject.utilisation(solution.state([0]), replace(around, linked=heard, shared=shared))
        return bool(heard.names or shared.names)

    def settle(self, cores: Sequence[Mapping[int, int]]) -> list[Car]:
        """Solve the engine's state for some choices of the core."""
        wanted = [tuple(self.alike(s, core[s]) for s in self.state) for core in cores]
        order: dict[Context, dict[tuple[Mark, ...], Mapping[int, int]]] = {}
        for state, core in zip(wanted, cores, strict=True):
            if state not in self._states:
                order.setdefault(tuple(core[s] for s in self.fuel), {})[state] = core
        for waiting in order.values():
            target = self.aimed(next(iter(waiting.values())))
            question = ask(target, self.setting(target))
            paths = [self.here(core) for core in waiting.values()]
            solved = self.solve(paths, question, target)
            if len(paths) >= SEVERAL:
                self.solve(paths, question, target, COARSE_SPEEDS)
            for n, (state, core) in enumerate(waiting.items()):
                self._states[state] = State(self, core, some(solved, [n]), question)
        cars = [Car(self._states[state], core) for state, core in zip(wanted, cores, strict=True)]
        for state in list(self._states)[: max(0, len(self._states) - KEPT)]:
            del self._states[state]
        return cars

    def confirm(self, selection: Sequence[int]) -> bool:
        """True if the full check of a complete choice finds everything in order by the policy."""
        chosen = dict(enumerate(selection))
        memory = self.ledger.memory((self.build.car, *(self.label(key) for key in enumerate(selection))))
        report = check(
            self.built(selection),
            self.aimed(chosen),
            self.kinds,
            samples=self.samples,
            seed=self.seed,
            memory=memory,
        )
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
