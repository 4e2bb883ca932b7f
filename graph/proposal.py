"""The use case of a plan: one car with the book open, asked for the cheapest set for a target."""

from __future__ import annotations

import hashlib
import math
import time
from copy import copy
from dataclasses import dataclass, field, replace

from graph.check import check
from graph.errors import UsageError
from graph.hindsight import with_hindsight
from graph.kinds import discover
from graph.model import Build, Car, Fuel, Part, Target
from graph.plan.account import misses, proof, steps
from graph.plan.choice import Choices, gather
from graph.plan.conflict import conflict
from graph.plan.labour import Tariff
from graph.plan.ledger import Ledger
from graph.plan.oddity import oddities
from graph.plan.outcome import Outcome
from graph.plan.physics import Physics
from graph.plan.record import Because, Miss, Plan, Reason
from graph.plan.search import Search
from graph.plan.wish import BAD_DAY, FuelOffer, MarginPolicy, Shared, ShopTerms, Wishes
from graph.report import Report
from graph.service import (
    Request,
    View,
    aim,
    assemble,
    burned,
    find_record,
    fuel_names,
    known_car,
    refuse_out_of_range,
)

#: Seconds after which a search stops with its gap.
PATIENCE = 120.0
#: Stands on the price of every part where few parts are wished for [currency].
EACH = 1.0e6


@dataclass(frozen=True, slots=True, kw_only=True)
class Terms:
    """Everything of the shop that a plan depends on.

    Parameters
    ----------
    shop : ShopTerms
        Rates and tax.
    operations : tuple of Shared
        Strip-downs that jobs share.
    policy : MarginPolicy
        When a limit is clear.
    patience : float
        Longest search [s].
    """

    shop: ShopTerms = field(default_factory=ShopTerms)
    operations: tuple[Shared, ...] = ()
    policy: MarginPolicy = field(default_factory=MarginPolicy)
    patience: float = PATIENCE


@dataclass(frozen=True, slots=True, kw_only=True)
class Start:
    """Where a plan starts.

    Parameters
    ----------
    build : Build
        The car.
    parts : tuple of Part or None
        What may be bought; None for the whole book.
    fuel : Fuel or None
        What is in the tank; None for what the car is asked about.
    """

    build: Build
    parts: tuple[Part, ...] | None = None
    fuel: Fuel | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Found:
    """A plan and the car as it would be."""

    plan: Plan
    after: Start | None


class Bureau:
    """One car with the book open: answers plans for any power, sharing solved engine states.

    Parameters
    ----------
    view : View
        The book.
    car : str
        Id of the car.
    request : Request
        Power, boost, fuel, weather [SI]; without a fuel the fuel is a choice.
    terms : Terms
        Of the shop.
    wishes : Wishes
        Side conditions.
    """

    def __init__(self, view: View, car: str, request: Request, terms: Terms, wishes: Wishes) -> None:
        refuse_out_of_range(request)
        self.request, self.terms, self.wishes = request, terms, wishes
        self.car: Car = known_car(view.cars(), car, request)
        platform = find_record("platform", self.car.platform, view.platforms())
        self.catalogue = with_hindsight({p.id: p for p in view.parts()}, view.trials(), self.car, platform)
        self.parts = tuple(self.catalogue.values())
        self.build: Build = assemble(self.car, platform, self.catalogue, request.install, request.fuel)
        self.kinds = discover()
        self.tariff = Tariff(terms.shop, terms.operations)
        self.fuels = tuple(
            FuelOffer(part=p, fuel=burned(p.id, self.catalogue))
            for p in fuel_names(self.catalogue).values()
            if p.rating("motor octane") is not None
        )
        if wishes.bad_day:
            self.fuels = tuple(replace(o, fuel=_poor(o.fuel)) for o in self.fuels)
        self.fuel_fixed = request.fuel is not None
        self.ledger = Ledger()
        self._fingerprint: str | None = None
        if not self.parts:
            raise UsageError("the book holds no part; load the shop's sheets first")

    def target(self, power: float) -> Target:
        """The target at a power on the fuel asked, or on the car's own, on the day asked."""
        asked = replace(self.request, power=power)
        if not self.wishes.bad_day:
            return aim(asked, self.car, self.catalogue)
        hot = asked.ambient if asked.ambient is not None else BAD_DAY.temperature
        high = asked.altitude if asked.altitude is not None or asked.pressure is not None else BAD_DAY.altitude
        target = aim(replace(asked, ambient=hot, altitude=high), self.car, self.catalogue)
        return replace(target, fuel=_poor(target.fuel))

    def open(
        self, power: float, start: Start | None = None, policy: MarginPolicy | None = None
    ) -> tuple[Choices, Physics]:
        """Choices and model for a power."""
        target = self.target(power)
        if start is not None and start.fuel is not None:
            target = replace(target, fuel=start.fuel)
        factory = self.build.platform.constants["factory power"]
        shared = start is None and target.torque is None and power <= 2.0 * factory
        like = replace(target, power=factory), power > factory * (1.0 + 1e-9), self.fuel_fixed, self.wishes
        if shared and like in self.ledger.opened:
            known, physics = self.ledger.opened[like]
            return known, physics.asked(target, policy or self.terms.policy)
        parts = self.parts if start is None or start.parts is None else start.parts
        if self.wishes.fewest:
            parts = tuple(replace(p, price=p.price + EACH) if p.price is not None else p for p in parts)
        choices = gather(
            start.build if start is not None else self.build,
            parts,
            target.fuel,
            self.fuels,
            self.wishes,
            power=power,
            fuel_fixed=self.fuel_fixed,
        )
        physics = Physics(choices, target, self.kinds, policy or self.terms.policy, ledger=self.ledger)
        if shared:
            self.ledger.opened[like] = choices, physics
        return choices, physics

    def freed(self) -> Bureau:
        """The same bureau with the fuel as a choice; what it solves is shared."""
        other = copy(self)
        other.fuel_fixed = False
        return other

    @property
    def fingerprint(self) -> str:
        """The same for the same car, book, day, policy and wishes, whatever the power."""
        if self._fingerprint is None:
            told = repr((self.build, self.parts, replace(self.request, power=0.0)))
            self._fingerprint = hashlib.sha256(told.encode()).hexdigest()
        return f"{self._fingerprint} {self.terms} {self.wishes} {self.fuel_fixed}"

    def net(self, total: float | None) -> float:
        """Net price of a total with tax [currency]."""
        return math.inf if total is None else total / (1.0 + self.terms.shop.tax)

    def plan(
        self,
        power: float,
        start: Start | None = None,
        *,
        budget: float | None = None,
        explain: bool = True,
        policy: MarginPolicy | None = None,
    ) -> Found:
        """Plan for a power.

        Parameters
        ----------
        power : float
            [W]
        start : Start or None
            Where to start and from which parts; None for the car as it is and the whole book.
        budget : float or None
            Largest total with tax [currency].
        explain : bool
            False to leave out reasons, skip ceilings, the check before and the conflict.
        policy : MarginPolicy or None
            When a limit is clear; None for the shop's.

        Returns
        -------
        Found
            The plan and the car as it would be.
        """
        begun = time.monotonic()
        choices, physics = self.open(power, start, policy)
        search = Search(choices, physics, self.tariff)
        outcome = search.run(budget=self.net(budget), deadline=begun + self.terms.patience)
        plan = self._made(outcome, choices, physics, explain=explain, budget=budget)
        effort = {k: float(v) for k, v in outcome.effort.items()}
        plan = replace(plan, effort={**effort, "seconds": time.monotonic() - begun})
        if outcome.selection is None:
            return Found(plan=plan, after=None)
        return Found(plan=plan, after=Start(build=physics.built(outcome.selection), fuel=plan.target.fuel))

    def _made(
        self, outcome: Outcome, choices: Choices, physics: Physics, *, explain: bool, budget: float | None
    ) -> Plan:
        factor = 1.0 + self.terms.shop.tax
        before = None
        irreducible = True
        if explain:
            before = check(choices.build, physics.target, self.kinds)
        lacks = self._lacks(before, choices, physics) if before is not None else ()
        notes = oddities(choices) if explain else ()
        if outcome.selection is None:
            reasons: tuple[Reason, ...] = ()
            if budget is not None and math.isfinite(outcome.bound):
                least = outcome.bound * factor
                text = f"no more than {budget:.0f} is to be spent, and no set that does it costs less than {least:.0f}"
                reasons = (Reason(because=Because.EXCLUDES, text=text),)
            elif explain and outcome.ended:
                found = conflict(
                    choices,
                    physics,
                    self.tariff,
                    refuted=not outcome.effort["checks"],
                    deadline=time.monotonic() + 0.5 * self.terms.patience,
                )
                reasons, irreducible = found.reasons, found.irreducible
            if not outcome.ended:
                text = "the time for the search ran out before a set was found or excluded; give it more time"
                reasons = (Reason(because=Because.LIMIT, text=text),)
            bound = outcome.bound * factor if math.isfinite(outcome.bound) else 0.0
            return Plan(
                fuel_open=not self.fuel_fixed,
                lacks=lacks,
                target=physics.target,
                reachable=False,
                lower_bound=bound,
                proven=outcome.ended,
                before=before,
                conflict=reasons,
                irreducible=irreducible,
                notes=notes,
                policy=physics.policy,
                proof="No set of parts of this book that the budget buys satisfies the policy."
                if outcome.ended and math.isfinite(outcome.bound)
                else "No set of parts of this book satisfies the policy; every choice was excluded."
                if outcome.ended
                else "",
            )
        chosen = choices.bought(outcome.selection)
        cost = self.tariff.cost(chosen)
        bound = min(outcome.bound * factor, cost.total)
        gap = max(0.0, cost.total - bound)
        proven = outcome.ended and gap < 0.005
        found_steps = steps(outcome.selection, choices, physics, explain=explain)
        if self.wishes.fewest:
            cost = self.tariff.cost([self.catalogue.get(p.id, p) for p in chosen])
            found_steps = tuple(replace(s, price=s.price - EACH if s.price >= EACH else s.price) for s in found_steps)
            bound, gap = (cost.total, 0.0) if proven else (0.0, cost.total)
        after = physics.reports.get(tuple(outcome.selection))
        return Plan(
            target=physics.aimed(dict(enumerate(outcome.selection))),
            reachable=True,
            cost=cost,
            lower_bound=bound,
            gap=0.0 if proven else gap,
            proven=proven,
            steps=found_steps,
            shared_labour=self.tariff.shared(chosen),
            before=before,
            after=after,
            misses=misses(after, choices, self.kinds, self.terms.policy) if after is not None else (),
            lacks=lacks,
            notes=notes,
            policy=physics.policy,
            proof=proof(physics, self.terms.policy)
            if proven
            else "The search was stopped: no set can cost less than the lower bound.",
        )

    def _lacks(self, before: Report, choices: Choices, physics: Physics) -> tuple[Miss, ...]:
        """What a car that carries the target as it stands misses of the policy."""
        if before.carries < physics.target.power:
            return ()
        return misses(before, choices, self.kinds, physics.policy)


def _poor(fuel: Fuel) -> Fuel:
    """A fuel from a poor delivery."""
    return replace(
        fuel,
        name=f"{fuel.name} less {BAD_DAY.octane:g}",
        research_octane=fuel.research_octane - BAD_DAY.octane,
        motor_octane=fuel.motor_octane - BAD_DAY.octane,
    )
