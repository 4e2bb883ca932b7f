"""What several plans of one car answer together: stages, and what is not known."""

from __future__ import annotations

import math
from dataclasses import dataclass

from graph.plan.record import Plan


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Path:
    """Plans one after the other.

    Parameters
    ----------
    plans : tuple of Plan
        For rising powers; each starts from the car that the one before leaves. Where a stage has no plan it is the
        last one here.
    total : float
        All together with tax; infinity where a stage has no plan [currency].
    thrown_away : tuple of str
        Parts bought in a stage and taken out again in a later one.
    alone : tuple of float
        For each stage the least total of going to its power at once from the car as it is [currency].
    regret : float
        What the cheapest first stage would cost more in the end than this path; infinity where no stage could follow it
        [currency].
    nearest : Path or None
        Where there is no path by the policy: the one under the first wider policy that has one.
    instead : Path or None
        Where there is no path by the policy: the one to the highest last power that the policy allows.
    """

    plans: tuple[Plan, ...]
    total: float
    thrown_away: tuple[str, ...] = ()
    alone: tuple[float, ...] = ()
    regret: float = 0.0
    nearest: Path | None = None
    instead: Path | None = None

    @property
    def first(self) -> Plan:
        """The first stage."""
        return self.plans[0]

    @property
    def second(self) -> Plan:
        """The last stage."""
        return self.plans[-1]

    @property
    def direct(self) -> float:
        """Total of going to the last power at once: no path costs less [currency]."""
        return self.alone[-1] if self.alone else math.inf

    @property
    def regrets(self) -> tuple[float, ...]:
        """For each stage: what was paid so far above the cheapest way to its power alone [currency].

        The first is the regret of a customer who stops after stage one, the last that of one who goes all the way.
        """
        paid, found = 0.0, []
        for plan, least in zip(self.plans, self.alone, strict=False):
            paid += plan.cost.total if plan.cost is not None else math.inf
            found.append(max(0.0, paid - least) if math.isfinite(paid) else math.inf)
        return tuple(found)

    @property
    def drivable(self) -> tuple[bool, ...]:
        """For each stage: True if the full check of the car as that stage leaves it finds every limit in order."""
        return tuple(p.after is not None and p.after.reachable is True and not p.misses for p in self.plans)


@dataclass(frozen=True, slots=True, kw_only=True)
class Missing:
    """Something not known about a car or a book, and what a plan would cost if it turned out good or bad.

    Parameters
    ----------
    slot : str
        Where.
    part : str or None
        Number of the part, if it is one of the book whose rating is missing.
    what : str
        What is not known.
    meant : str
        What good means.
    total : float
        Of the plan as long as it is not known, with tax; infinity where there is none [currency].
    good, bad : float or None
        Total if it turns out good, and bad; infinity where no plan is left, None where the time ran out [currency].
    """

    slot: str
    part: str | None
    what: str
    meant: str
    total: float
    good: float | None
    bad: float | None

    @property
    def worth(self) -> float:
        """What is saved at best by knowing it; infinity where it makes a plan possible [currency]."""
        least = min((t for t in (self.good, self.bad) if t is not None), default=math.inf)
        return max(0.0, self.total - least) if math.isfinite(least) else 0.0
