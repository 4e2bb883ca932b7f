"""Breakdown: where the power between what a car makes at the boost cap and a target went.

Each cause is taken away in the model on its own, and the engine is brought into balance again. The gains do not add
up: less charge heat also gives knock room, less back pressure gives both. So beside each gain stands what the same
cause costs once all the others are gone, and the difference between their sum and taking all away at once is given
as the interaction.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import Enum

import numpy as np

from graph.check import examine
from graph.judge import cause_text
from graph.limit import Kind
from graph.model import Array, Build, Target
from graph.operation import REFERENCE, Engine, prepare
from graph.solution import Question, Solution, solve_paths

#: Engine speeds on which the relaxations are solved.
SPEEDS = 30
#: Air-fuel equivalence ratios of which the best is taken where the mixture is set free [1].
MIXTURES = (0.78, 0.82, 0.86, 0.90, 0.95, 1.00)
#: Effectiveness that stands for charge air at ambient temperature [1].
IDEAL_COOLER = 0.9999
#: Added to the octane index where knock is taken away [1].
NO_KNOCK = 1000.0


class Loss(Enum):
    """A cause that costs power: name, what taking it away means, and a sentence on what it is."""

    BREATHING = (
        "breathing",
        "intake valves clean, breathing as the platform's own curve",
        "deposits on the intake valves and what else lowers the filling",
    )
    CHARGE_TEMPERATURE = (
        "charge temperature",
        "charge air at ambient temperature",
        "thinner and hotter charge: less air at the cap, and less room before knock",
    )
    KNOCK = (
        "knock",
        "a fuel that never knocks; peak pressure is still respected",
        "late combustion, or boost that the phasing does not allow",
    )
    BACK_PRESSURE = (
        "back pressure",
        "pressure before the turbine 1.05 times the manifold pressure, the exhaust as in the reference state",
        "pumping, residual gas and lost filling; the turbine's power to drive the compressor too",
    )
    FRICTION = (
        "friction",
        "no rubbing friction at all; no work on the engine reaches that",
        "bearings, rings, valve drive and pumps",
    )
    MIXTURE = (
        "mixture",
        f"the best of one mixture for all speeds from {MIXTURES[0]:.2f} to {MIXTURES[-1]:.2f}, "
        "heat of parts disregarded",
        "richer than best power to cool the exhaust, or leaner than knock would like",
    )

    def __init__(self, label: str, relaxed: str, text: str) -> None:
        self.label = label
        self.relaxed = relaxed
        self.text = text


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """What one cause costs.

    Parameters
    ----------
    loss : Loss
        The cause.
    alone : float
        Power gained if it alone is taken away [W].
    last : float
        Power lost if it alone remains and every other is taken away [W].
    power : float
        Power without it [W].
    ended_by : str
        What ends the power then.
    """

    loss: Loss
    alone: float
    last: float
    power: float
    ended_by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Breakdown:
    """Where the power went: shortfall = sum of the shares alone + interaction + remainder.

    Parameters
    ----------
    target : float
        Power asked [W].
    makes : float
        Power at the boost cap with the car's own parts, hard limits of parts not counted [W].
    ended_by : str
        What ends it.
    boost_cap : float
        Gauge pressure kept throughout [Pa].
    cap_given : bool
        False where none was asked and the boost that the car reaches stands for it.
    shares : tuple of Share
        Largest first.
    together : float
        Power with all causes taken away at once [W].
    together_ended_by : str
        What ends it then.
    interaction : float
        Together less what the car makes, less the sum of the shares: positive where the causes hide each other [W].
    remainder : float
        Target less `together`: what no cause explains (displacement, speed, boost cap, losses of inlet and charge
        path); negative where all of it would pass the target [W].
    """

    target: float
    makes: float
    ended_by: str
    boost_cap: float
    cap_given: bool
    shares: tuple[Share, ...]
    together: float
    together_ended_by: str
    interaction: float
    remainder: float

    @property
    def shortfall(self) -> float:
        """Target less what the car makes; zero or below where the target is within reach [W]."""
        return self.target - self.makes

    @property
    def note(self) -> str:
        """How to read the shares."""
        if abs(self.interaction) < 0.5e3:
            return "The shares happen to add up here; in general they do not."
        word = "more" if self.interaction > 0.0 else "less"
        return (
            "The shares do not add up: taken away together the causes give "
            f"{abs(self.interaction) / 1e3:.0f} kW {word} than one by one."
        )


def breakdown(build: Build, target: Target, kinds: Mapping[str, Kind]) -> Breakdown:
    """Ask where the power between what a car makes and a target went.

    Parameters
    ----------
    build : Build
        The car with its parts.
    target : Target
        Power, boost cap, fuel, weather [SI].
    kinds : mapping of str to Kind
        Part kinds by name.

    Returns
    -------
    Breakdown
        Powers at the speed of the power, held from there up [W].

    Raises
    ------
    MissingRecord
        The platform lacks a constant.

    References
    ----------
    One-at-a-time and total effects of a model's inputs: Saltelli et al., Global Sensitivity Analysis, 2008, ch. 1
    (from memory); here each cause is moved between two stated states.
    """
    anatomy, question = examine(build, target, kinds)
    engine = prepare(build.platform, speeds=SPEEDS, power_speed=question.power_speed)
    own = anatomy.here()
    cap = target.boost_cap
    if cap is None:
        cap = _reached(solve_paths(engine, [own], question, [0]))
        question = replace(question, target=replace(target, boost_cap=cap))
    every = tuple(Loss)
    cases: list[tuple[Loss, ...]] = [(), every]
    cases += [(loss,) for loss in every]
    cases += [tuple(other for other in every if other is not loss) for loss in every]
    power, cause = _powers(engine, own, question, cases)
    makes, together = power[0], power[1]
    count = len(every)
    shares = [
        Share(
            loss=loss,
            alone=power[2 + i] - makes,
            last=together - power[2 + count + i],
            power=power[2 + i],
            ended_by=cause_text(cause[2 + i]),
        )
        for i, loss in enumerate(every)
    ]
    return Breakdown(
        target=target.power,
        makes=makes,
        ended_by=cause_text(cause[0]),
        boost_cap=cap,
        cap_given=target.boost_cap is not None,
        shares=tuple(sorted(shares, key=lambda s: -s.alone)),
        together=together,
        together_ended_by=cause_text(cause[1]),
        interaction=together - makes - sum(s.alone for s in shares),
        remainder=target.power - together,
    )


def relaxed(own: Mapping[str, float], losses: Sequence[Loss]) -> dict[str, float]:
    """Path fields with some causes taken away.

    Parameters
    ----------
    own : mapping of str to float
        Fields that the car's own parts feed [SI].
    losses : sequence of Loss
        Causes to take away; the mixture is no field of the path and is left alone.

    Returns
    -------
    dict of str to float
        [SI]; a car that is better than the relaxed state keeps what it has.
    """
    path = dict(own)
    if Loss.BREATHING in losses:
        path["breathing"] = max(1.0, path.get("breathing", 1.0))
    if Loss.CHARGE_TEMPERATURE in losses:
        path |= {"cooler_effectiveness": IDEAL_COOLER, "cooler_exponent": 0.0}
    if Loss.KNOCK in losses:
        path["octane_shift"] = NO_KNOCK
    if Loss.BACK_PRESSURE in losses:
        path["turbine_given"] = 0.0
        for name in ("catalyst_loss", "silencer_loss"):
            adequate = float(np.asarray(getattr(REFERENCE, name)))
            path[name] = min(path.get(name, adequate), adequate)
    if Loss.FRICTION in losses:
        path["friction_gain"] = 0.0
    return path


def _powers(
    engine: Engine, own: Mapping[str, float], question: Question, cases: Sequence[tuple[Loss, ...]]
) -> tuple[list[float], list[int]]:
    """Power at the cap and what ends it for each set of causes taken away; all solved in one batch."""
    paths: list[dict[str, float]] = []
    mixtures: list[Array] = []
    owner: list[int] = []
    for number, losses in enumerate(cases):
        free = [np.full_like(engine.mixture, m) for m in MIXTURES] if Loss.MIXTURE in losses else []
        for mixture in [engine.mixture, *free]:
            paths.append(relaxed(own, losses))
            mixtures.append(mixture)
            owner.append(number)
    batch = replace(engine, mixture=np.stack(mixtures)[:, None, :])
    found = solve_paths(batch, paths, question, [0])
    belongs = np.asarray(owner)
    power: list[float] = []
    cause: list[int] = []
    for number in range(len(cases)):
        rows = np.flatnonzero(belongs == number)
        best = rows[int(np.argmax(found.capped_power[rows]))]
        power.append(float(found.capped_power[best]))
        cause.append(int(found.capped_cause[best]))
    return power, cause


def _reached(solution: Solution) -> float:
    """Boost at the power that the car makes without a cap, gauge [Pa]."""
    question = solution.question
    curve = solution.curve(float(solution.capped_power[0]) * (1.0 - 1e-6), 0)
    index = int(np.argmin(np.abs(curve.speed - question.power_speed)))
    return float(curve.manifold_pressure[index] - question.target.weather.pressure)
