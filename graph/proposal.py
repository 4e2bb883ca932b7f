"""The use cases around plans: the cheapest set for a target, money against power, budget and stages."""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from dataclasses import dataclass, field, replace

from graph.check import check
from graph.errors import UsageError
from graph.kinds import discover
from graph.model import Array, Build, Car, Fuel, Part, Target
from graph.plan.account import steps
from graph.plan.choice import Choices, gather
from graph.plan.conflict import conflict
from graph.plan.labour import Tariff
from graph.plan.physics import Physics
from graph.plan.record import (
    Because,
    FuelOffer,
    MarginPolicy,
    Path,
    Plan,
    Point,
    Reason,
    Shared,
    ShopTerms,
    Wishes,
)
from graph.plan.search import Outcome, Search
from graph.plan.trait import Solved
from graph.service import Request, View, _find, _refuse_out_of_range, aim, assemble, burned, fuel_names

#: Seconds after which a search stops with its gap.
PATIENCE = 120.0
#: Powers of a frontier, and of a budget, lie on this grid [W].
STRIDE = 10.0e3
BUDGET_STRIDE = 5.0e3
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

    def open(self, power: float, start: Start | None = None) -> tuple[Choices, Physics]:
        """Choices and model for a power."""
        target = self.target(power)
        if start is not None and start.fuel is not None:
            target = replace(target, fuel=start.fuel)
        choices = gather(
            start.build if start is not None else self.build,
            self.parts if start is None or start.parts is None else start.parts,
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
        self, power: float, start: Start | None = None, *, budget: float | None = None, explain: bool = True
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

        Returns
        -------
        Found
            The plan and the car as it would be.
        """
        begun = time.monotonic()
        choices, physics = self.open(power, start)
        search = Search(choices, physics, self.tariff)
        outcome = search.run(budget=self.net(budget), deadline=begun + self.terms.patience)
        plan = self._made(outcome, choices, physics, explain=explain, budget=budget)
        effort = {**{k: float(v) for k, v in outcome.effort.items()}, "seconds": time.monotonic() - begun}
        plan = replace(plan, effort=effort)
        if outcome.selection is None:
            return Found(plan=plan, after=None)
        return Found(plan=plan, after=Start(build=physics.built(outcome.selection), fuel=plan.target.fuel))

    def affordable(self, power: float, budget: float) -> Plan:
        """Plan for a power within a budget; where it is too small, with the highest power that it buys.

        Parameters
        ----------
        power : float
            [W]
        budget : float
            Largest total with tax [currency].

        Returns
        -------
        Plan
            Its `instead` lies on a grid of powers below the one asked.
        """
        plan = self.plan(power, budget=budget).plan
        if plan.reachable:
            return plan
        lower = math.ceil(power / BUDGET_STRIDE - 1.0) * BUDGET_STRIDE
        least = 0.5 * self.build.platform.constants["factory power"]
        while lower >= least:
            instead = self.plan(lower, budget=budget, explain=False).plan
            if instead.reachable:
                return replace(plan, instead=self.plan(lower, budget=budget).plan)
            lower -= BUDGET_STRIDE
        return plan

    def frontier(self, stride: float = STRIDE, progress: Callable[[Point], None] | None = None) -> tuple[Point, ...]:
        """Money against power: for each power on a grid the cheapest plan, without those that a higher power beats.

        Parameters
        ----------
        stride : float
            Step of the powers [W].
        progress : callable or None
            Called with every point found.

        Returns
        -------
        tuple of Point
            Rising in power and in money; each is checked in full and none is inferred from another.
        """
        found: list[Point] = []
        constants = self.build.platform.constants
        power = math.ceil(constants["factory power"] / stride) * stride
        while power <= 2.0 * constants["factory power"]:
            _, physics = self.open(power)
            if not any(physics.engine(context) for context in physics.engine_contexts()):
                break
            plan = self.plan(power, budget=self.wishes.budget, explain=False).plan
            if plan.reachable and plan.cost is not None and plan.after is not None:
                point = Point(
                    power=power,
                    total=plan.cost.total,
                    parts=tuple(step.install for step in plan.steps),
                    fuel=plan.target.fuel.name,
                    holds_probability=plan.after.holds_probability,
                    proven=plan.proven,
                    carries=plan.after.carries,
                )
                found.append(point)
                if progress is not None:
                    progress(point)
            power += stride
        return tuple(p for n, p in enumerate(found) if all(q.total > p.total + 0.005 for q in found[n + 1 :]))

    def stages(self, first: float, second: float) -> Path:
        """Two stages, so that as little as possible is bought twice.

        Two paths are compared: the cheapest first stage with whatever follows, and a first stage from parts of the
        cheapest direct way to the second power. No path costs less than the direct way.

        Parameters
        ----------
        first, second : float
            Powers [W].

        Returns
        -------
        Path
            The cheaper one.

        Raises
        ------
        UsageError
            The second power is not above the first.
        """
        if second <= first:
            raise UsageError("the second stage must ask for more power than the first")
        direct = self.plan(second)
        greedy = self._path(self.plan(first), second)
        paths = [greedy]
        if direct.plan.reachable and direct.after is not None:
            wanted = {step.install for step in direct.plan.steps}
            only = tuple(p for p in self.parts if p.id in wanted)
            paths.append(self._path(self.plan(first, Start(build=self.build, parts=only)), second))
        best = min(paths, key=lambda p: (p.total, len(p.thrown_away)))
        known = math.isfinite(greedy.total)
        return replace(
            best,
            direct=direct.plan.cost.total if direct.plan.cost is not None else math.inf,
            regret=max(0.0, greedy.total - best.total) if known else 0.0,
        )

    def _path(self, begun: Found, power: float) -> Path:
        nothing = Path(first=begun.plan, second=begun.plan, total=math.inf, thrown_away=(), direct=math.inf, regret=0.0)
        if begun.after is None or begun.plan.cost is None:
            return nothing
        ended = self.plan(power, begun.after).plan
        if ended.cost is None:
            return replace(nothing, second=ended)
        bought = {step.install for step in begun.plan.steps}
        return replace(
            nothing,
            second=ended,
            total=begun.plan.cost.total + ended.cost.total,
            thrown_away=tuple(step.remove for step in ended.steps if step.remove in bought and step.remove is not None),
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
