"""What the options of a car feed, how uncertain they are, and the engine states that they lead to."""

from __future__ import annotations

import zlib
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType

import numpy as np

from graph.limit import Kind, Own
from graph.model import Array, Build, Place, Setting, Target
from graph.operation import SPEEDS, Engine, EngineMap, prepare, solve, stack_paths
from graph.plan.bond import Key
from graph.plan.choice import Choices
from graph.plan.ledger import Ledger
from graph.plan.mark import Column, Mark, column, said
from graph.plan.wish import MarginPolicy
from graph.sampling import SAMPLES, SEED
from graph.solution import Question, ask
from graph.subject import ENGINE_FEEDS, Anatomy, Subject, dissect, fed_by, linked_by, sampled
from graph.variation import MODEL, Variation, offered, parameters, vary

Context = tuple[int, ...]


class Traits:
    """The options of one car for one target.

    Parameters
    ----------
    choices : Choices
        Slots and options.
    target : Target
        What is asked; its fuel is replaced by the one chosen.
    kinds : mapping of str to Kind
        Part kinds by name.
    policy : MarginPolicy
        When a limit is clear.
    samples, seed : int
        Of the joint samples; each rating of each part keeps its draws in every build.
    ledger : Ledger or None
        What was found already, shared between targets of one car, one book and one day.
    """

    def __init__(
        self,
        choices: Choices,
        target: Target,
        kinds: Mapping[str, Kind],
        policy: MarginPolicy,
        *,
        samples: int = SAMPLES,
        seed: int = SEED,
        ledger: Ledger | None = None,
    ) -> None:
        self.ledger = Ledger() if ledger is None else ledger
        self.choices, self.target, self.kinds, self.policy = choices, target, kinds, policy
        self.samples, self.seed = samples, seed
        self.least = int(np.ceil(policy.holds * samples - 1e-9))
        self.build = choices.build
        self.columns = self.ledger.columns
        self.draws = self._draw()
        self.model = self._model()
        self.feeds: dict[Key, dict[str, float]] = {}
        setting = self.setting(self.target)
        for s, found in enumerate(choices.options):
            for i, option in enumerate(found):
                fed = fed_by(option.place, kinds[option.place.slot.kind], setting)
                if fed:
                    self.feeds[s, i] = fed
        feeding = {s for s, _ in self.feeds}
        self.breathing = tuple(sorted({s for (s, _), fed in self.feeds.items() if set(fed) & ENGINE_FEEDS}))
        self.fuel = tuple(s for s, found in enumerate(choices.options) if any(o.fuel is not None for o in found))
        offering = (s for s, p in enumerate(self.build.places) if kinds[p.slot.kind].offers)
        self.offering = tuple(offering)
        self.context = tuple(sorted({*self.fuel, *self.breathing, *self.offering}))
        linking = {s for s, p in enumerate(self.build.places) if kinds[p.slot.kind].links}
        self.linking = tuple(sorted(linking))
        self.state = tuple(sorted(feeding | set(self.fuel)))
        self.core = (*self.context, *(s for s in sorted(feeding) if s not in self.context))
        self.late = tuple(s for s in self.offering if s not in self.state)
        self._shared: dict[tuple[object, ...], Mapping[str, float]] = {}
        self._offers: dict[tuple[object, ...], tuple[tuple[Variation, ...], Mapping[tuple[int, int], Setting]]] = {}
        self._subjects: dict[tuple[object, ...], tuple[tuple[Subject, ...], bool]] = {}
        self._varied: dict[Key, tuple[Variation, ...]] = {}
        self._linked: dict[Key, Mapping[str, float]] = {}
        self._marks: dict[Key, Mark] = {}
        self._grids: dict[tuple[int | None, float], Engine] = {}

    def _draw(self) -> Array:
        """One column of draws for every uncertain rating of every slot, in standard deviations.

        Parts that may take one another's place share it: only one of them is ever on the car.
        """
        known, found = self.ledger.draws, list[Array]()

        def stream(key: Column) -> Array:
            self.columns[key] = len(self.columns)
            seed = [self.seed, zlib.crc32("|".join(key).encode())]
            return np.random.default_rng(seed).standard_normal(self.samples)

        for options in self.choices.options:
            for option in options:
                for rating in option.part.ratings if option.part is not None else ():
                    key = column(option.place.slot.name, rating)
                    if rating.spread > 0.0 and key not in self.columns:
                        found.append(sampled(rating, stream(key)))
        model = ((MODEL, "", name) for name in parameters(self.choices.build.learnt))
        found += [stream(key) for key in model if key not in self.columns]
        if found or known is None:
            fresh = np.stack(found, axis=1) if found else np.zeros((self.samples, 0))
            known = fresh if known is None else np.hstack([known, fresh])
        self.ledger.draws = known
        return known

    def _model(self) -> tuple[Variation, ...]:
        """Uncertain parameters of the model, with their columns among the draws."""
        question = ask(self.target, self.setting(self.target))
        nothing = Anatomy(subjects=(), feeds={}, unknown=(), shared={})
        found = vary(nothing, replace(self.build, places=()), self.kinds, question)
        return tuple(replace(v, index=self.columns[MODEL, "", v.rating]) for v in found)

    def setting(self, target: Target) -> Setting:
        """Constants of a question, nothing shared yet."""
        return Setting(
            platform=self.build.platform,
            fuel=target.fuel,
            weather=target.weather,
            duration=target.duration,
            distance=self.build.distance or 0.0,
        )

    def place(self, key: Key) -> Place:
        """The slot with an option in it."""
        return self.choices.options[key[0]][key[1]].place

    def aimed(self, chosen: Mapping[int, int]) -> Target:
        """The target on the fuel chosen."""
        for s in self.fuel:
            fuel = self.choices.options[s][chosen[s]].fuel
            if fuel is not None:
                return replace(self.target, fuel=fuel)
        return self.target

    def built(self, selection: Sequence[int]) -> Build:
        """The car with a complete selection in place."""
        return replace(self.build, places=tuple(self.place(key) for key in enumerate(selection)))

    def variations(self, key: Key, question: Question) -> tuple[Variation, ...]:
        """Uncertain ratings of an option, with their columns among the draws."""
        if key not in self._varied:
            self._varied[key] = self._vary(key, question)
        return self._varied[key]

    def _vary(self, key: Key, question: Question) -> tuple[Variation, ...]:
        place = self.place(key)
        if place.part is None:
            return ()
        kind = self.kinds[place.slot.kind]
        own = Own(part=place.part, kind=kind, count=place.slot.count)
        rules = tuple(Subject(place=place, kind=kind, rule=rule, own=own) for rule in kind.limits)
        every = Anatomy(subjects=rules, feeds={}, unknown=(), shared={})
        found = vary(every, replace(self.build, places=(place,)), self.kinds, question)
        ratings = {r.name: r for r in place.part.ratings}
        return tuple(
            replace(v, index=self.columns[column(v.slot, ratings[v.rating])]) for v in found if v.slot != MODEL
        )

    def shared(self, context: Mapping[int, int], setting: Setting) -> Mapping[str, float]:
        """What the offering parts of a context offer."""
        key = (setting.fuel, *(self.alike(s, context[s]) for s in self.offering))
        if key not in self._shared:
            places = tuple(self.place((s, context[s])) for s in self.offering)
            self._shared[key] = dissect(replace(self.build, places=places), self.kinds, setting).shared
        return self._shared[key]

    def offers(
        self, context: Mapping[int, int], setting: Setting
    ) -> tuple[tuple[Variation, ...], Mapping[tuple[int, int], Setting]]:
        """Uncertain ratings that move what parts offer to others, and the settings in which they are moved."""
        key = (setting.fuel, *(self.alike(s, context[s]) for s in self.offering))
        if key not in self._offers:
            keys = [(s, context[s]) for s in self.offering]
            build = replace(self.build, places=tuple(self.place(k) for k in keys))
            question = ask(self.aimed(context), setting)
            found = tuple(v for k in keys for v in self.variations(k, question))
            moved = offered(found, build, self.kinds, replace(setting, shared=self.shared(context, setting)))
            self._offers[key] = tuple(v for v in found if (v.index, 1) in moved), moved
        return self._offers[key]

    def subjects(self, context: Mapping[int, int], key: Key, setting: Setting) -> tuple[tuple[Subject, ...], bool]:
        """Limits of an option in a context, and whether anything about it is unknown."""
        at = (key, *(self.alike(s, context[s]) for s in self.offering if s != key[0]))
        if at not in self._subjects:
            place = self.place(key)
            around = tuple(self.place((s, context[s])) for s in self.offering if s != key[0])
            anatomy = dissect(replace(self.build, places=(*around, place)), self.kinds, setting)
            mine = tuple(s for s in anatomy.subjects if s.place.slot.name == place.slot.name)
            self._subjects[at] = mine, any(u.slot == place.slot.name for u in anatomy.unknown)
        return self._subjects[at]

    def shifted(self, key: Key, v: Variation, sign: int, question: Question) -> dict[str, float]:
        """Path fields that an option feeds with one rating moved by one standard deviation [SI]."""
        place = self.place(key)
        fed = fed_by(place, self.kinds[place.slot.kind], question.setting, v.factors(sign))
        return fed if self.build.learnt is None else self.build.learnt.steady(fed, self.feeds.get(key, {}))

    def known(self, path: dict[str, float]) -> dict[str, float]:
        """A configuration with what the car's own dyno records taught of its engine [SI]."""
        return path if self.build.learnt is None else self.build.learnt.applied(path)

    def solve(
        self, paths: Sequence[Mapping[str, float]], question: Question, target: Target, speeds: int | None = None
    ) -> EngineMap:
        """Engine states of some paths, each solved once for all targets that share the store.

        A negative number of speeds stands for those of that grid from the speed of the power up.
        """
        wanted, platform = question.power_speed, self.build.platform
        count = SPEEDS if speeds is None else abs(speeds)
        engine = self._grids.get((speeds, wanted))
        if engine is None:
            engine = prepare(platform, count, wanted)
            if speeds is not None and speeds < 0:
                engine = top_of(engine, wanted)
            self._grids[speeds, wanted] = engine
        keys = [(target.fuel, speeds, tuple(sorted(p.items()))) for p in paths]
        rows = {k: self.ledger.solved[k] for k in keys if k in self.ledger.solved}
        missing = {k: p for k, p in zip(keys, paths, strict=True) if k not in rows}
        if missing:
            path = stack_paths(list(missing.values()))
            found = solve(engine, path, target.fuel, target.weather, target.latest_phasing)
            for k, row in zip(missing, found.states, strict=True):
                rows[k] = row
                self.ledger.keep(k, row)
        states = np.stack([rows[k] for k in keys])
        return EngineMap(engine=engine, states=states, latest_phasing=target.latest_phasing, weather=target.weather)

    def linked(self, core: Mapping[int, int], setting: Setting) -> Mapping[str, float]:
        """What the parts of a core tell their neighbours [SI]."""
        told: dict[str, float] = {}
        for s in self.linking:
            key = (s, core[s])
            if key not in self._linked:
                place = self.place(key)
                self._linked[key] = linked_by(place, self.kinds[place.slot.kind], setting)
            told.update(self._linked[key])
        return MappingProxyType(told)

    def alike(self, slot: int, option: int) -> Mark:
        """What an option feeds, offers and tells, with its spreads; for a fuel the fuel.

        Parameters
        ----------
        slot, option : int
            The option.

        Returns
        -------
        int
            The same for options between which the engine's state and the limits of other parts know no difference.
        """
        key = (slot, option)
        if key not in self._marks:
            self._marks[key] = self.ledger.marks.setdefault(self._said(key), len(self.ledger.marks))
        return self._marks[key]

    def _said(self, key: Key) -> Hashable:
        place, setting = self.place(key), self.setting(self.target)
        kind = self.kinds[place.slot.kind]
        speaks = key in self.feeds or kind.offers or kind.links
        spreads = self.variations(key, ask(self.target, setting)) if speaks else ()
        fuel = self.choices.options[key[0]][key[1]].fuel
        return said(place, kind, setting, self.feeds.get(key, {}), fuel, spreads)

    def label(self, key: Key) -> tuple[str, str | None, str | None]:
        """What an option is, whatever its place in a list: slot, part, why it is not known."""
        place = self.place(key)
        return place.slot.name, place.part.id if place.part is not None else None, place.unknown

    def here(self, core: Mapping[int, int], moved: Mapping[int, Mapping[str, float]] | None = None) -> dict[str, float]:
        """Path fields with the parts of a core in place."""
        fed = {str(s): (moved or {}).get(s, self.feeds[s, core[s]]) for s in sorted(core) if (s, core[s]) in self.feeds}
        return Anatomy(subjects=(), feeds=fed, unknown=(), shared={}, learnt=self.build.learnt).here()


def top_of(engine: Engine, power_speed: float) -> Engine:
    """An engine at the speed of the power and above only."""
    at = np.flatnonzero(engine.speed >= power_speed * (1.0 - 1e-9))
    table = engine.table
    return replace(
        engine,
        speed=engine.speed[at],
        volumetric_efficiency=engine.volumetric_efficiency[at],
        mixture=engine.mixture[at],
        table=replace(
            table,
            speed=table.speed[at],
            fields=tuple(f[at] for f in table.fields),
            knock_phasing=table.knock_phasing[at],
            knock_slope=table.knock_slope[at],
            pressure_phasing=table.pressure_phasing[at],
            best_phasing=table.best_phasing[at],
        ),
    )
