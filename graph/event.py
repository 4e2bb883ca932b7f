"""What happened in one pull: events with their speed, confidence and evidence, and what the log cannot show."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

import numpy as np

from graph.follow import followed
from graph.model import Array
from graph.trace import Pull

#: Shortfall of a pressure against its target that counts [1].
SHORT = 0.05
#: Fall of the low-side pressure within a pull that counts, and the one under which it holds [1].
FALLS, HOLDS = 0.08, 0.05
#: Duty from which a tank pump has nothing left, and under which it has [1].
FULL_DUTY, SPARE_DUTY = 0.95, 0.90
#: Lambda above its target that counts [1].
LEAN = 0.03
#: Spark pulled that counts on every cylinder, and on single ones [rad].
PULLED_ALL, PULLED_SOME = math.radians(1.0), math.radians(1.5)
#: Rise of the charge temperature within a pull that counts [K].
HEATS = 25.0
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
class _Judge:
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
            elif trace.rate is not None and trace.rate < rate:
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


def find_events(pull: Pull, context: Context) -> tuple[tuple[Event, ...], tuple[Blind, ...]]:
    """Judge one pull.

    Parameters
    ----------
    pull : Pull
        The traces [SI].
    context : Context
        Limits of the car [SI].

    Returns
    -------
    events : tuple of Event
        In the order of fuel, mixture, spark, air, heat.
    blind : tuple of Blind
        What the log cannot show.

    References
    ----------
    Thresholds: expert judgement of a workshop, from memory; a shop checks them against its own cars. The rates follow
    from sampling: an event shorter than the gap between two samples may fall between them.
    """
    judge = _Judge(pull=pull, context=context)
    if "engine speed" not in pull.traces:
        return (), (Blind(what="everything over engine speed", why="the log has no engine speed"),)
    short = _rail(judge)
    _low_side(judge, short)
    _mixture(judge)
    _spark(judge)
    _misfires(judge)
    _boost(judge)
    _heat(judge)
    _ranges(judge)
    return tuple(judge.events), tuple(judge.blind)


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


def _rpm(speed: float) -> str:
    return f"{speed * 60.0:.0f} 1/min"


def _rail(judge: _Judge) -> bool:
    pull = judge.pull
    if not judge.needs("rail pressure against its target", ("rail pressure", "rail target"), SLOW):
        return False
    found = pull.pair("rail pressure", "rail target")
    if found is None:
        return False
    speed, value, target = found
    lack = 1.0 - value / target
    worst = int(np.argmax(lack))
    if lack[worst] <= SHORT:
        for sign in ("rail-low-at-torque-peak", "rail-low-at-high-speed"):
            judge.add("rail pressure holds", 0.9, f"never more than {lack[worst] * 100:.0f} % short", None, sign, True)
        return False
    low, high = speed.min(), speed.max()
    top = lack[speed >= high - 0.1 * (high - low)].mean()
    early = lack[speed <= low + 0.6 * (high - low)].max()
    numbers = f"{value[worst] / 1e5:.0f} of {target[worst] / 1e5:.0f} bar at {_rpm(speed[worst])}"
    sure = certainty(float(lack[worst]), SHORT, int((lack > SHORT).sum()))
    if top < 0.5 * lack[worst] and early >= 0.8 * lack[worst]:
        text = f"{numbers}, back to {top * 100:.0f} % short at the top: worst per revolution, not per hour"
        judge.add("rail pressure short at the torque peak", sure, text, speed[worst], "rail-low-at-torque-peak")
        judge.add(
            "rail pressure recovers at high speed",
            sure,
            f"{top * 100:.0f} % short above {_rpm(high - 0.1 * (high - low))}",
            high,
            "rail-low-at-high-speed",
            True,
        )
    elif early < 0.5 * lack[worst]:
        text = f"{numbers}, {early * 100:.0f} % at most in the lower part: grows with power"
        judge.add("rail pressure short at high speed only", sure, text, speed[worst], "rail-low-at-high-speed")
    else:
        judge.add("rail pressure short over the range", sure, numbers, speed[worst], "rail-low-at-torque-peak")
    valve = pull.on_speed("pump valve duty")
    if valve is not None:
        at_stop = valve[1] >= 0.99
        if at_stop.any():
            text = f"fully used from {_rpm(valve[0][at_stop].min())} to {_rpm(valve[0][at_stop].max())}"
            judge.add("high-pressure pump at its end stop", 0.9, text, float(valve[0][at_stop].min()))
    return True


def _low_side(judge: _Judge, short: bool) -> None:
    pull = judge.pull
    falling = False
    if judge.needs("low-side fuel pressure", ("low-side pressure",), SLOW):
        found = pull.on_speed("low-side pressure")
        assert found is not None
        speed, value = found
        start = np.max(value[: max(2, value.size // 5)])
        fall = 1.0 - value / start
        worst = int(np.argmax(fall))
        numbers = f"from {start / 1e5:.1f} to {value[worst] / 1e5:.1f} bar at {_rpm(speed[worst])}"
        if fall[worst] > FALLS:
            falling = True
            sure = certainty(float(fall[worst]), FALLS, int((fall > FALLS).sum()))
            judge.add("low-side pressure falls", sure, numbers, speed[worst], "low-side-falls")
        elif fall[worst] < HOLDS:
            judge.add("low-side pressure holds", 0.95, numbers, speed[worst], "low-side-falls", True)
    if judge.needs("reserve of the tank pump", ("tank duty",), SLOW):
        found = pull.on_speed("tank duty")
        assert found is not None
        speed, value = found
        worst = int(np.argmax(value))
        numbers = f"duty up to {value[worst] * 100:.0f} % at {_rpm(speed[worst])}"
        if value[worst] >= FULL_DUTY and (short or falling):
            judge.add("tank pump at full duty while pressure falls", 0.9, numbers, speed[worst], "tank-duty-high")
            judge.add("tank pump without reserve", 0.9, numbers, speed[worst], "tank-duty-spare", True)
        elif value[worst] < SPARE_DUTY and short and not falling:
            judge.add("tank pump has reserve", 0.9, numbers, speed[worst], "tank-duty-spare")
            judge.add("tank pump not at full duty", 0.9, numbers, speed[worst], "tank-duty-high", True)


def _mixture(judge: _Judge) -> None:
    pull = judge.pull
    if judge.needs("lean mixture", ("lambda", "lambda target"), MIDDLE):
        found = pull.pair("lambda", "lambda target")
        assert found is not None
        speed, value, target = found
        over = value - target
        worst = int(np.argmax(over))
        if over[worst] > LEAN:
            sure = certainty(float(over[worst]), LEAN, int((over > LEAN).sum()))
            text = f"lambda {value[worst]:.2f} for {target[worst]:.2f} at {_rpm(speed[worst])}"
            judge.add("leaner than its target", sure, text, speed[worst], "lean-full-load")
        else:
            judge.add("mixture holds", 0.9, f"at most {over[worst]:+.2f} of lambda", None, "lean-full-load", True)
    window = judge.context.injection_window
    if judge.needs("injection window", ("injection time",), SLOW) and window is not None:
        found = pull.on_speed("injection time")
        assert found is not None
        used = found[1] * found[0] * 2.0 * math.pi / window
        worst = int(np.argmax(used))
        if used[worst] > 0.97:
            text = f"{used[worst] * 100:.0f} % of the window at {_rpm(found[0][worst])}"
            judge.add("injection at the end of its window", 0.9, text, float(found[0][worst]))


def _spark(judge: _Judge) -> None:
    pull = judge.pull
    per = pull.cylinders("spark correction")
    single = pull.traces.get("spark correction")
    names = tuple(t.channel for t in per.values()) or (("spark correction",) if single is not None else ())
    if not names:
        judge.blind.append(Blind(what="knock: spark pulled", why="the log has no spark correction"))
        return
    if not judge.needs("knock: spark pulled", names, FAST):
        return
    pulled: dict[int, tuple[Array, Array]] = {}
    for number, trace in (per or {0: pull.traces["spark correction"]}).items():
        found = pull.on_speed(trace.channel)
        if found is not None:
            pulled[number] = (found[0], -found[1])
    worst = {n: float(v.max()) for n, (_, v) in pulled.items()}
    if not worst or max(worst.values()) < PULLED_SOME:
        for sign in ("spark-pulled-all", "spark-pulled-some"):
            judge.add("spark not pulled", 0.9, "less than 1.5° on every cylinder", None, sign, True)
        return
    first = max(worst, key=lambda n: worst[n])
    speed, value = pulled[first]
    at = int(np.argmax(value))
    numbers = ", ".join(f"cylinder {n} {math.degrees(w):.1f}°" for n, w in sorted(worst.items()) if n) or (
        f"{math.degrees(worst[first]):.1f}°"
    )
    follows = followed(pull, np.mean([np.interp(speed, *_sorted(p)) for p in pulled.values()], axis=0), speed)
    text = f"up to {numbers}" + (f"; follows {follows}" if follows else "")
    if min(worst.values()) >= PULLED_ALL or per == {}:
        judge.add("spark pulled on all cylinders", certainty(worst[first], PULLED_SOME, 9), text, speed[at], "spark-pulled-all")
    else:
        kind = "spark pulled on some cylinders"
        judge.add(kind, certainty(worst[first], PULLED_SOME, 9), text, speed[at], "spark-pulled-some")


def _sorted(found: tuple[Array, Array]) -> tuple[Array, Array]:
    order = np.argsort(found[0], kind="stable")
    return found[0][order], found[1][order]


def _misfires(judge: _Judge) -> None:
    pull = judge.pull
    counts = pull.cylinders("misfires") or ({0: pull.traces["misfires"]} if "misfires" in pull.traces else {})
    if not counts:
        judge.blind.append(Blind(what="misfires", why="the log has no misfire counter"))
        return
    total, parts, first = 0.0, [], math.inf
    for number, trace in sorted(counts.items()):
        found = pull.on_speed(trace.channel)
        if found is None:
            continue
        speed, value = found
        steps = np.diff(value)
        grows = bool((steps >= 0).all())
        count = float(value[-1] - value[0]) if grows else float(value.sum())
        if count > 0:
            total += count
            parts.append(f"cylinder {number}: {count:.0f}" if number else f"{count:.0f}")
            began = speed[int(np.argmax(steps > 0)) + 1] if grows else speed[int(np.argmax(value > 0))]
            first = min(first, float(began))
    if total > 0:
        text = f"{', '.join(parts)} from {_rpm(first)} on"
        judge.add("misfires", total / (total + 1.0), text, first, "misfire-high-boost")
    else:
        judge.add("no misfire counted", 0.9, "the counters stand still", None, "misfire-high-boost", True)


def _boost(judge: _Judge) -> None:
    pull = judge.pull
    if not judge.needs("boost against its request", ("boost", "boost target"), SLOW):
        return
    found = pull.pair("boost", "boost target")
    assert found is not None
    speed, value, target = found
    reached = np.flatnonzero(value >= 0.97 * target)
    if reached.size == 0:
        worst = int(np.argmax(target - value))
        text = f"{value[worst] / 1e5:.2f} of {target[worst] / 1e5:.2f} bar at {_rpm(speed[worst])}, never reached"
        judge.add("boost short of its request", 0.9, text, speed[worst], "boost-short")
        return
    after = slice(int(reached[0]), None)
    lack = (1.0 - value / np.maximum(target, 1e4))[after]
    worst = int(np.argmax(lack))
    numbers = f"{value[after][worst] / 1e5:.2f} of {target[after][worst] / 1e5:.2f} bar at {_rpm(speed[after][worst])}"
    if lack[worst] > SHORT:
        fades = speed[after][worst] > speed.min() + 0.7 * (speed.max() - speed.min())
        kind, sign = ("boost fades at high speed", "boost-fades-at-top") if fades else (
            "boost short of its request", "boost-short"
        )  # fmt: skip
        judge.add(kind, certainty(float(lack[worst]), SHORT, int((lack > SHORT).sum())), numbers, speed[after][worst], sign)
    else:
        text = f"at most {max(lack[worst], 0.0) * 100:.0f} % short once reached"
        judge.add("boost holds its request", 0.9, text, None, "boost-short", True)
    most = int(np.argmin(lack))
    if -lack[most] > SHORT:
        text = f"{value[after][most] / 1e5:.2f} for {target[after][most] / 1e5:.2f} bar at {_rpm(speed[after][most])}"
        judge.add("boost above its request", certainty(-float(lack[most]), SHORT, 9), text, speed[after][most], "boost-over")


def _heat(judge: _Judge) -> None:
    pull = judge.pull
    if judge.needs("charge temperature", ("charge temperature",), SLOW):
        found = pull.on_speed("charge temperature")
        assert found is not None
        speed, value = found
        rise = float(value.max() - value[0])
        text = f"from {value[0] - 273.15:.0f} to {value.max() - 273.15:.0f} °C within the pull"
        if rise > HEATS:
            top = speed[int(np.argmax(value))]
            judge.add("charge temperature climbs fast", certainty(rise, HEATS, 9), text, top, "charge-heats-fast")
        else:
            judge.add("charge temperature holds", 0.8, text, None, "charge-heats-fast", True)
    limit = judge.context.exhaust_limit
    if judge.needs("exhaust temperature", ("exhaust temperature",), SLOW) and limit is not None:
        found = pull.on_speed("exhaust temperature")
        assert found is not None
        worst = int(np.argmax(found[1]))
        if found[1][worst] > limit:
            text = f"{found[1][worst] - 273.15:.0f} °C for {limit - 273.15:.0f} °C; the probe lags in a short pull"
            judge.add("exhaust hotter than its limit", 0.9, text, float(found[0][worst]), "exhaust-hot")
    if not judge.needs("back pressure", ("back pressure",), SLOW):
        return


def _ranges(judge: _Judge) -> None:
    pull = judge.pull
    for trace in pull.traces.values():
        if trace.saturated:
            found = pull.on_speed(trace.channel)
            at = None if found is None else float(found[0][int(np.argmax(found[1]))])
            judge.add("channel at the end of its range", 0.8, f"{trace.channel} stands still at its largest value", at)
    end, found = judge.context.boost_range, pull.on_speed("boost")
    if end is not None and found is not None and found[1].max() > 0.985 * end:
        text = f"{found[1].max() / 1e5:.2f} bar of {end / 1e5:.2f} bar that the sensor can report"
        judge.add("channel at the end of its range", 0.95, text, float(found[0][int(np.argmax(found[1]))]))


#: Events of one pull that say where fuel runs short.
FUEL_EVENTS: Mapping[str, str] = MappingProxyType(
    {
        "low-side pressure falls": "supply",
        "low-side pressure holds": "supply holds",
        "tank pump at full duty while pressure falls": "duty full",
        "tank pump has reserve": "duty spare",
        "high-pressure pump at its end stop": "end stop",
        "rail pressure short at the torque peak": "rail short",
        "rail pressure short at high speed only": "rail short",
        "rail pressure short over the range": "rail short",
    }
)
