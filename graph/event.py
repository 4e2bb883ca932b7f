"""Events of a pull with their speed, confidence and evidence, and what a log cannot show."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from graph.trace import Pull

#: Shortfall of a pressure against its target that counts [1].
SHORT = 0.05
#: Slowest sampling that shows an event of some 50 ms, a state held for half a second, and one held for seconds [1/s].
FAST, MIDDLE, SLOW = 12.0, 2.0, 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """Something that the log shows.

    Parameters
    ----------
    kind : str
        What it is.
    confidence : float
        How far the log carries it [1].
    evidence : str
        The numbers.
    speed : float or None
        Engine speed at its worst [1/s].
    sign : str or None
        Key of the sign that it is in the network of faults.
    good : bool
        True where it says that something holds; then the sign is known to be away.
    """

    kind: str
    confidence: float
    evidence: str
    speed: float | None = None
    sign: str | None = None
    good: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Blind:
    """Something that the log cannot show, and why."""

    what: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Context:
    """What of the car a pull is judged by [SI].

    Parameters
    ----------
    boost_range : float or None
        Largest boost that the pressure sensor can report, gauge [Pa].
    exhaust_limit : float or None
        [K]
    injection_window : float or None
        Crank angle that injection may take [rad].
    """

    boost_range: float | None = None
    exhaust_limit: float | None = None
    injection_window: float | None = None


@dataclass(slots=True, kw_only=True)
class Judge:
    """Collects events of one pull, and what it cannot show.

    Parameters
    ----------
    pull : Pull
        The traces [SI].
    context : Context
        Limits of the car [SI].
    """

    pull: Pull
    context: Context
    events: list[Event] = field(default_factory=list)
    blind: list[Blind] = field(default_factory=list)

    def needs(self, what: str, channels: tuple[str, ...], rate: float) -> bool:
        """True if the log can show something; else say why not."""
        for name in channels:
            trace = self.pull.traces.get(name)
            if trace is None:
                self.blind.append(Blind(what=what, why=f"the log has no {name}"))
                return False
            if trace.rate is None and rate > SLOW:
                if rate >= FAST:
                    self.blind.append(Blind(what=what, why="the log has no time, its rate is not known"))
                    return False
            elif trace.rate is not None and trace.rate < 0.95 * rate:
                why = f"{name} comes {trace.rate:.1f} times a second, it takes {rate:g}"
                self.blind.append(Blind(what=what, why=why))
                return False
        return True

    def add(
        self,
        kind: str,
        confidence: float,
        evidence: str,
        speed: float | None = None,
        sign: str | None = None,
        good: bool = False,
    ) -> None:
        """Note an event; the parameters are those of :class:`Event`."""
        self.events.append(
            Event(
                kind=kind,
                confidence=round(min(max(confidence, 0.0), 0.99), 3),
                evidence=evidence,
                speed=None if speed is None else float(speed),
                sign=sign,
                good=good,
            )
        )


def certainty(excess: float, threshold: float, samples: int) -> float:
    """How far an excess over a threshold carries [1].

    Parameters
    ----------
    excess : float
        Largest value found [any unit].
    threshold : float
        From which it counts [same unit].
    samples : int
        Samples over the threshold [1].

    Returns
    -------
    float
        0.5 at the threshold, towards 1 far above it with many samples.
    """
    return (1.0 - 0.5 * math.exp(-(excess / threshold - 1.0))) * samples / (samples + 0.5)


def rpm(speed: float) -> str:
    """An engine speed [1/s] in words."""
    return f"{speed * 60.0:.0f} 1/min"
