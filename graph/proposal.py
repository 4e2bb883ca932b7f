"""The use cases around plans: the cheapest set for a target, money against power, budget and stages."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace

from graph.check import check
from graph.errors import UsageError
from graph.kinds import discover
from graph.model import Array, Belief, Build, Car, Installed, Part, Place, Target
from graph.plan.account import carries, chance, steps
from graph.plan.choice import Choices, gather
from graph.plan.conflict import conflict
from graph.plan.labour import Tariff
from graph.plan.physics import Physics, Solved
from graph.plan.record import (
    FuelOffer,
    MarginPolicy,
    Path,
    Plan,
    Point,
    Reason,
    Because,
    Shared,
    ShopTerms,
    Wishes,
)
from graph.plan.search import Outcome, Search
from graph.service import Request, View, aim, assemble, burned, fuel_names

#: Seconds after which a search stops with its gap.
PATIENCE = 120.0
#: Powers of a frontier, and of a budget, lie on this grid [W].
STRIDE = 10.0e3
PROOF = (
    "No set of parts of this book costs less, judged part by part: for every choice of fuel and of the parts that "
    "decide the engine's state, in order of the least they can cost, the state was solved and every limit compared "
    "with {samples} joint samples; no limit was taken to rise or fall with anything. The set found passed the full check."
)


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
        from graph.service import _find, _refuse_out_of_range

        _refuse_out_of_range(request)
        self.request, self.terms, self.wishes = request, terms, wishes
        self.parts = view.parts()
        self.catalogue = {p.id: p for p in self.parts}
        self.car: Car = _find("car", car, view.cars())
        platform = _find("platform", self.car.platform, view.platforms())
        self.build: Build = assemble(self.car, platform, self.catalogue, request.install, request.fuel)
        self.kinds = discover()
        self.tariff = Tariff(terms.shop, terms.operations)
        self.fuels = tuple(
            FuelOffer(part=p, fuel=burned(p.id, self.catalogue))
            for p in fuel_names(self.catalogue).values()
            if p.rating("motor octane") is not None
        )
        self.solved: dict[Solved, Array] = {}
        if not self.parts:
            raise UsageError("the book holds no part; load the shop's sheets first")

    def target(self, power: float) -> Target:
        """The target at a power on the fuel asked, or on the car's own."""
        return aim(replace(self.request, power=power), self.car, self.catalogue)

    def open(self, power: float, build: Build | None = None) -> tuple[Choices, Physics]:
        """Choices and model for a power."""
        target = self.target(power)
        choices = gather(
            build or self.build,
            self.parts,
            target.fuel,
            self.fuels,
            self.wishes,
            power=power,
            fuel_fixed=self.request.fuel is not None,
        )
        return choices, Physics(choices, target, self.kinds, self.terms.policy, solved=self.solved)

    def net(self, total: float | None) -> float:
        """Net price of a total with tax [currency]."""
        return math.inf if total is None else total / (1.0 + self.terms.shop.tax)

    def plan(
        self, power: float, build: Build | None = None, *, budget: float | None = None, explain: bool = True
    ) -> tuple[Plan, Build | None]:
        """Plan for a power.

        Parameters
        ----------
        power : float
            [W]
        build : Build or None
            Where to start; None for the car as it is.
        budget : float or None
            Largest total with tax [currency].
        explain : bool
            False to leave out reasons, skip ceilings, the check before and the conflict.

        Returns
        -------
        plan : Plan
            The answer.
        finished : Build or None
            The car as it would be.
        """
        started = time.monotonic()
        choices, physics = self.open(power, build)
        search = Search(choices, physics, self.tariff)
        outcome = search.run(budget=self.net(budget), deadline=started + self.terms.patience)
        plan = self._made(outcome, choices, physics, explain=explain, budget=budget)
        effort = {**{k: float(v) for k, v in outcome.effort.items()}, "seconds": time.monotonic() - started}
        return replace(plan, effort=effort), (
            physics.built(outcome.selection) if outcome.selection is not None else None
        )

    def _made(
        self, outcome: Outcome, choices: Choices, physics: Physics, *, explain: bool, budget: float | None
    ) -> Plan:
        factor = 1.0 + self.terms.shop.tax
        before = None
        if explain:
            before = check(choices.build, physics.target, self.kinds)
        if outcome.selection is None:
            reasons: tuple[Reason, ...] = ()
            if explain and outcome.ended:
                until = time.monotonic() + self.terms.patience
                reasons = conflict(choices, physics, self.tariff, budget=self.net(budget), deadline=until)
            if not outcome.ended:
                text = "the time for the search ran out before a set was found or excluded"
                reasons = (Reason(because=Because.LIMIT, text=text),)
            bound = outcome.bound * factor if math.isfinite(outcome.bound) else 0.0
            return Plan(
                target=physics.target,
                reachable=False,
                lower_bound=bound,
                proven=outcome.ended,
                before=before,
                conflict=reasons,
                policy=self.terms.policy,
                proof="No set of parts of this book satisfies the policy; every choice was excluded."
                if outcome.ended
                else "",
            )
        chosen = choices.bought(outcome.selection)
        cost = self.tariff.cost(chosen)
        bound = min(outcome.bound * factor, cost.total)
        gap = max(0.0, cost.total - bound)
        proven = outcome.ended and gap < 0.005
        return Plan(
            target=physics.aimed(dict(enumerate(outcome.selection))),
            reachable=True,
            cost=cost,
            lower_bound=bound,
            gap=0.0 if proven else gap,
            proven=proven,
            steps=steps(outcome.selection, choices, physics, explain=explain),
            shared_labour=self.tariff.shared(chosen),
            before=before,
            after=physics.reports.get(tuple(outcome.selection)),
            policy=self.terms.policy,
            proof=PROOF.format(samples=physics.samples)
            if proven
            else "The search was stopped: no set can cost less than the lower bound.",
        )
