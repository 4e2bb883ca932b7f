"""The model behind the search: the same states, limits and samples as a check, for many choices side by side."""

from __future__ import annotations

import zlib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from graph.check import COARSE_SPEEDS, ENGINE, check
from graph.judge import MODEL, Bench, Variation, vary
from graph.limit import Control, Kind, Own
from graph.model import Array, Build, Fuel, Place, Setting, Target
from graph.operation import MODEL_SPREAD, REFERENCE, EngineMap, prepare, solve, stack_paths
from graph.plan.choice import Choices, Key
from graph.plan.reading import one, read, some
from graph.plan.record import MarginPolicy
from graph.plan.survival import NEARLY, exceeded_share, pack, passes, reaches
from graph.report import Report
from graph.sampling import SAMPLES, SEED
from graph.solution import Question, Solution, ask
from graph.subject import ENGINE_FEEDS, Anatomy, Subject, dissect, fed_by, sampled

Context = tuple[int, ...]
#: A fuel, a number of speeds and a path: what an engine state depends on besides platform and weather.
Solved = tuple[Fuel, int | None, tuple[tuple[str, float], ...]]
#: Engine states kept in store.
STORED = 3000


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


class Physics:
    """Verdicts on the options of one car for one target.

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
    solved : dict or None
        Store of engine states, shared between targets of one car and one day.
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
        solved: dict[Solved, Array] | None = None,
    ) -> None:
        self.solved: dict[Solved, Array] = {} if solved is None else solved
        self.choices, self.target, self.kinds, self.policy = choices, target, kinds, policy
        self.samples, self.seed = samples, seed
        self.least = int(np.ceil(policy.holds * samples - 1e-9))
        self.build = choices.build
        self.columns: dict[tuple[str, str, str], int] = {}
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
        self.core = (*self.context, *sorted(feeding - set(self.context)))
        self.reports: dict[tuple[int, ...], Report] = {}
        self.refused: set[tuple[Context, Key]] = set()
        self._stands: dict[Context, Stand] = {}
        self._alone: dict[tuple[Context, Key], list[tuple[Mapping[str, float | None], bool | None]]] = {}
        self._benches: dict[tuple[Context, int], Bench] = {}
        self._varied: dict[Key, tuple[Variation, ...]] = {}
        self._states: dict[Context, tuple[Solution, Question]] = {}

    def _draw(self) -> Array:
        """One column of draws for every uncertain rating of every option, in standard deviations."""
        found: list[Array] = []
        for options in self.choices.options:
            for option in options:
                for rating in option.part.ratings if option.part is not None else ():
                    key = (option.place.slot.name, option.part.id if option.part else "", rating.name)
                    if rating.spread > 0.0 and key not in self.columns:
                        self.columns[key] = len(found)
                        stream = np.random.default_rng([self.seed, zlib.crc32("|".join(key).encode())])
                        found.append(sampled(rating, stream.standard_normal(self.samples)))
        for field in MODEL_SPREAD:
            self.columns[MODEL, "", field] = len(found)
            stream = np.random.default_rng([self.seed, zlib.crc32(f"{MODEL}||{field}".encode())])
            found.append(stream.standard_normal(self.samples))
        return np.stack(found, axis=1) if found else np.zeros((self.samples, 0))

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
        return tuple(replace(v, index=self.columns[v.slot, place.part.id, v.rating]) for v in found if v.slot != MODEL)

    def shared(self, context: Mapping[int, int], setting: Setting) -> Mapping[str, float]:
        """What the offering parts of a context offer."""
        places = tuple(self.place((s, context[s])) for s in self.offering)
        return dissect(replace(self.build, places=places), self.kinds, setting).shared

    def subjects(self, context: Mapping[int, int], key: Key, setting: Setting) -> tuple[tuple[Subject, ...], bool]:
        """Limits of an option in a context, and whether anything about it is unknown."""
        place = self.place(key)
        around = tuple(self.place((s, context[s])) for s in self.offering if s != key[0])
        anatomy = dissect(replace(self.build, places=(*around, place)), self.kinds, setting)
        mine = tuple(s for s in anatomy.subjects if s.place.slot.name == place.slot.name)
        return mine, any(u.slot == place.slot.name for u in anatomy.unknown)

    def stand(self, context: Mapping[int, int]) -> Stand:
        """Solve the reference and every feeding option alone, for the fuel and the breathing of a context."""
        key = self._standing(context)
        if key not in self._stands:
            self._stands[key] = self._solve_stand(context)
        return self._stands[key]

    def _standing(self, context: Mapping[int, int]) -> Context:
        return tuple(context[s] for s in sorted({*self.fuel, *self.breathing}))

    def _solve_stand(self, context: Mapping[int, int]) -> Stand:
        target = self.aimed(context)
        question = ask(target, self.setting(target))
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
        return Stand(question=question, fine=fine, coarse=coarse, place=place, moved=moved, common=(*breathing, *self.model))

    def shifted(self, key: Key, v: Variation, sign: int, question: Question) -> dict[str, float]:
        """Path fields that an option feeds with one rating moved by one standard deviation [SI]."""
        place = self.place(key)
        return fed_by(place, self.kinds[place.slot.kind], question.setting, v.factors(sign))

    def solve(
        self, paths: Sequence[Mapping[str, float]], question: Question, target: Target, speeds: int | None = None
    ) -> EngineMap:
        """Engine states of some paths, each solved once for all targets that share the store."""
        wanted, platform = question.power_speed, self.build.platform
        engine = prepare(platform, power_speed=wanted) if speeds is None else prepare(platform, speeds, wanted)
        keys = [(target.fuel, speeds, tuple(sorted(p.items()))) for p in paths]
        missing = {k: p for k, p in zip(keys, paths, strict=True) if k not in self.solved}
        if missing:
            path = stack_paths(list(missing.values()))
            found = solve(engine, path, target.fuel, target.weather, target.latest_phasing)
            for k, row in zip(missing, found.states, strict=True):
                self.solved[k] = row
        rows = np.stack([self.solved[k] for k in keys])
        for k in list(self.solved)[: max(0, len(self.solved) - STORED)]:
            del self.solved[k]
        return EngineMap(
            engine=engine, states=rows, latest_phasing=target.latest_phasing, weather=target.weather
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
        shared = Noted(self.shared(context, stand.question.setting))
        question = replace(stand.question, setting=replace(stand.question.setting, shared=shared))
        own = () if key is None else self.variations(key, stand.question)
        return replace(
            found,
            question=question,
            fine=replace(found.fine, question=question),
            coarse=replace(found.coarse, question=question),
            variations=tuple({v.index: v for v in (*stand.common, *own)}.values()),
        )

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

    def engine(self, context: Mapping[int, int]) -> bool:
        """True if the engine alone makes the target in a context."""
        stand = self.stand(context)
        bench = self.bench(stand, context, None)
        made = bench.last_power(0, capped=True).sample(self.draws)[:, 0]
        return bool((made < self.target.power).mean() <= self.policy.cost)

    def clear(self, context: Mapping[int, int], slot: int, option: int) -> bool:
        """False if a limit of an option, judged alone in a context, is not clear; True where that is still open."""
        return self.alone(context, (slot, option)) is not False

    def alone(self, context: Mapping[int, int], key: Key) -> bool | None:
        """Whether an option is clear alone; None where the turbocharger's own curve has a say in it."""
        if (tuple(context[s] for s in self.context), key) in self.refused:
            return False
        known = self._alone.setdefault((self._standing(context), key), [])
        shared = self.shared(context, self.stand(context).question.setting)
        for seen, verdict in known:
            if all(shared.get(name) == value for name, value in seen.items()):
                return verdict
        verdict, looked_at = self.judged(context, key, None)
        known.append(({name: shared.get(name) for name in looked_at}, verdict))
        return verdict

    def judged(
        self, context: Mapping[int, int], key: Key, spools: tuple[Array, Array] | None
    ) -> tuple[bool | None, frozenset[str]]:
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
        looked_at : frozenset of str
            Names of what other parts offer that the verdict depends on.
        """
        place = self.place(key)
        if place.part is None or place.unknown is not None:
            return place.unknown is None, frozenset()
        kind = self.kinds[place.slot.kind]
        names = {name for rule in kind.limits for name in rule.needs}
        stand = self.stand(context)
        found, unknown = self.subjects(context, key, stand.question.setting)
        if unknown:
            return False, frozenset(names)
        bench = self.bench(stand, context, key, spools) if found else None
        sure, good = True, True
        for subject in found:
            if bench is None:
                break
            if spools is None and not _free_of_spool(subject, bench):
                sure = False
                continue
            share = exceeded_share(subject, bench, 1)
            if share is None or share > (self.policy.cost if subject.rule.costs_power_only else self.policy.harm):
                good = False
                break
        if bench is not None and isinstance(bench.question.setting.shared, Noted):
            names |= bench.question.setting.shared.names
        return (False if not good else True if sure else None), frozenset(names)

    def fuels(self) -> tuple[dict[int, int], ...]:
        """Contexts of every fuel allowed, the rest of each as on the car."""
        kept = dict.fromkeys(self.context, 0)
        if not self.fuel:
            return (kept,)
        slot = self.fuel[0]
        allowed = [i for i, o in enumerate(self.choices.options[slot]) if o.barred <= self.choices.relaxed]
        return tuple({**kept, slot: i} for i in allowed or [0])

    def made_alone(self, context: Mapping[int, int]) -> float:
        """What the engine alone makes at the boost cap, without spreads [W]."""
        stand = self.stand(context)
        return float(self.bench(stand, context, None).fine.capped_power[0])

    def shortfall(self, key: Key, context: Mapping[int, int] | None = None) -> str | None:
        """Why an option is not clear when judged alone, in words; None where it is.

        Parameters
        ----------
        key : Key
            The option.
        context : mapping of int to int or None
            Fuel, breathing and what parts offer; None for the likeliest: the last fuel allowed.
        """
        place = self.place(key)
        if place.part is None:
            return None
        if place.unknown is not None:
            return f"not known ({place.unknown})"
        around = context if context is not None else self.fuels()[-1]
        stand = self.stand(around)
        worst: tuple[float, str] | None = None
        subjects, unknown = self.subjects(around, key, stand.question.setting)
        bench = self.bench(stand, around, key)
        for subject in subjects:
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
        order = {}
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

    def here(self, core: Mapping[int, int], moved: Mapping[int, Mapping[str, float]] | None = None) -> dict[str, float]:
        """Path fields with the parts of a core in place."""
        fed = {str(s): (moved or {}).get(s, self.feeds[s, core[s]]) for s in sorted(core) if (s, core[s]) in self.feeds}
        return Anatomy(subjects=(), feeds=fed, unknown=(), shared={}).here()

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
                    self.refused.add((tuple(chosen[c] for c in self.context), (s, chosen[s])))
        return good


class Car:
    """A choice of the core with its engine state."""

    def __init__(self, physics: Physics, core: Mapping[int, int], fine: Solution, question: Question) -> None:
        self.physics, self.core = physics, core
        shared = physics.shared(core, question.setting)
        self.question = replace(question, setting=replace(question.setting, shared=shared))
        self.fine = replace(fine, question=self.question)
        self.power = float(fine.capped_power[0])
        self.engine = self.power >= physics.target.power * NEARLY
        self._bench: Bench | None = None
        self._allowed: dict[Key, bool] = {}
        self._survival: dict[Key, int] = {}
        self._ceiling: dict[Key, float] = {}
        self._engine_survival: int | None = None

    def ceiling(self, slot: int, option: int) -> float:
        """Lowest ceiling here of an option's limits, without spreads [W]."""
        key = (slot, option)
        if key not in self._ceiling:
            found, _ = self.physics.subjects(self.core, key, self.question.setting)
            flat = Bench(
                question=self.question,
                fine=self.fine,
                coarse=self.fine,
                variations=(),
                draws=self.physics.draws,
                configuration={},
                here=0,
                moved={},
            )
            self._ceiling[key] = min((reaches(s, flat, 0) for s in found), default=np.inf)
        return self._ceiling[key]

    def allowed(self, slot: int, option: int) -> bool:
        """True if every limit of an option is clear and carries the target in this car."""
        key = (slot, option)
        if key not in self._allowed:
            self._allowed[key] = self.ceiling(slot, option) >= self.physics.target.power * NEARLY and self._clear(key)
        return self._allowed[key]

    def _clear(self, key: Key) -> bool:
        verdict = self.physics.alone(self.core, key)
        if verdict is None:
            spools = (self.fine.spool, self.bench.coarse.spool)
            verdict, _ = self.physics.judged(self.core, key, spools)
        return bool(verdict)

    @property
    def bench(self) -> Bench:
        """The state with the spreads of the core's parts."""
        if self._bench is None:
            self._bench = self._solved()
        return self._bench

    def _solved(self) -> Bench:
        physics = self.physics
        paths = [physics.here(self.core)]
        moved: dict[tuple[int, int, int], int] = {}
        found: list[Variation] = list(physics.model)
        for v in physics.model:
            for sign in (1, -1):
                moved[v.index, sign, 0] = len(paths)
                paths.append(gained(paths[0], v, sign))
        for s in physics.core:
            key = (s, self.core[s])
            if key not in physics.feeds:
                continue
            for v in physics.variations(key, self.question):
                if v.changes_state:
                    found.append(v)
                    for sign in (1, -1):
                        moved[v.index, sign, 0] = len(paths)
                        paths.append(physics.here(self.core, {s: physics.shifted(key, v, sign, self.question)}))
        states = physics.solve(paths, self.question, self.question.target, COARSE_SPEEDS)
        spool = states.highest_torque(drive_only=True)[0][0]
        coarse = read(states, self.question, own=True, spool=spool)
        return Bench(
            question=self.question,
            fine=self.fine,
            coarse=coarse,
            variations=tuple(found),
            draws=physics.draws,
            configuration={},
            here=0,
            moved=moved,
        )

    @property
    def engine_survival(self) -> int:
        """Joint samples in which the engine makes the target, one bit each."""
        if self._engine_survival is None:
            made = self.bench.last_power(0, capped=True).sample(self.physics.draws)[:, 0]
            self._engine_survival = pack(made >= self.physics.target.power * NEARLY)
        return self._engine_survival

    def survival(self, slot: int, option: int) -> int:
        """Joint samples in which every limit of an option carries the target, one bit each."""
        key = (slot, option)
        if key not in self._survival:
            found, _ = self.physics.subjects(self.core, key, self.question.setting)
            own = self.physics.variations(key, self.question)
            bench = self.bench
            together = tuple({v.index: v for v in (*bench.variations, *own)}.values())
            mine = replace(bench, variations=together)
            flags = np.ones(self.physics.samples, dtype=bool)
            for subject in found:
                if subject.rule.no_ceiling is None and subject.rule.control is not Control.SPARK:
                    response, _ = mine.utilisation(subject, 0)
                    flags &= passes(response, mine.last_power(0), mine)
            self._survival[key] = pack(flags)
        return self._survival[key]


def gained(path: Mapping[str, float], variation: Variation, sign: int) -> dict[str, float]:
    """A path with one parameter of the model moved by one standard deviation."""
    field = variation.rating
    nominal = path.get(field, float(np.asarray(getattr(REFERENCE, field))))
    return {**path, field: nominal * variation.factors(sign)[field]}


def _engine_part(feeds: Iterable[Mapping[str, float]]) -> dict[str, float]:
    """What of some feeds belongs to the engine itself."""
    return {k: v for fed in feeds for k, v in fed.items() if k in ENGINE_FEEDS}


def _free_of_spool(subject: Subject, bench: Bench) -> bool:
    """True if no torque below the one asked makes a limit tighter below the speed of the power than above it.

    The turbocharger's own curve can only lower the torque there. Where the utilisation at every lower torque stays
    under what the speed of the power and above ask, the curve changes nothing.
    """
    for solution, configurations in (
        (bench.fine, [1]),
        (bench.coarse, sorted({1, *(at for (_, _, c), at in bench.moved.items() if c == 1)})),
    ):
        for sign in (0, 1, -1):
            for factors in _factor_sets(subject, bench, sign):
                u = solution.utilisation(subject, configurations, factors)
                counted = solution.counted
                if not counted.any() or counted.all():
                    continue
                above = np.where(np.isnan(u[..., counted]), -np.inf, u[..., counted]).max(axis=-1)
                below = np.where(np.isnan(u[..., ~counted]), -np.inf, u[..., ~counted]).max(axis=-1)
                lost = np.isnan(u[..., counted]).any(axis=-1)
                if (~lost & (np.maximum.accumulate(below, axis=-1) > above)).any():
                    return False
    return True


def _factor_sets(subject: Subject, bench: Bench, sign: int) -> list[dict[str, float] | None]:
    """Factors at which an option's own ratings are tried."""
    if sign == 0:
        return [None]
    return [v.factors(sign) for v in bench.variations if v.slot == subject.place.slot.name]
