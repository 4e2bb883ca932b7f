"""Events of spark, boost, heat and measuring range in one pull."""

from __future__ import annotations

import math

import numpy as np

from graph.event import FAST, MIDDLE, SHORT, SLOW, Blind, Judge, certainty, rpm
from graph.follow import followed
from graph.model import Array

#: Spark pulled that counts on every cylinder, and on single ones [rad].
PULLED_ALL, PULLED_SOME = math.radians(1.0), math.radians(1.5)
#: Rise of the charge temperature within a pull that counts [K].
HEATS = 25.0
#: Closing of the throttle under a full pedal that counts [1].
CLOSES = 0.10
#: Rise of a ratio of speeds within a pull that counts as slip [1].
SLIPS = 0.03


def judge_load(judge: Judge) -> None:
    """Look for events of spark, misfire, boost, heat and range.

    Parameters
    ----------
    judge : Judge
        Takes the events.
    """
    _spark(judge)
    _misfires(judge)
    _boost(judge)
    _heat(judge)
    _ranges(judge)
    _intervention(judge)
    _slip(judge)


def _spark(judge: Judge) -> None:
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
        judge.add(
            "spark pulled on all cylinders",
            certainty(worst[first], PULLED_SOME, 9),
            text,
            speed[at],
            "spark-pulled-all",
        )
    else:
        kind = "spark pulled on some cylinders"
        judge.add(kind, certainty(worst[first], PULLED_SOME, 9), text, speed[at], "spark-pulled-some")


def _sorted(found: tuple[Array, Array]) -> tuple[Array, Array]:
    order = np.argsort(found[0], kind="stable")
    return found[0][order], found[1][order]


def _misfires(judge: Judge) -> None:
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
        text = f"{', '.join(parts)} from {rpm(first)} on"
        judge.add("misfires", total / (total + 1.0), text, first, "misfire-high-boost")
    else:
        judge.add("no misfire counted", 0.9, "the counters stand still", None, "misfire-high-boost", True)


def _boost(judge: Judge) -> None:
    pull = judge.pull
    if not judge.needs("boost against its request", ("boost", "boost target"), SLOW):
        return
    found = pull.pair("boost", "boost target")
    assert found is not None
    speed, value, target = found
    reached = np.flatnonzero(value >= 0.97 * target)
    if reached.size == 0:
        worst = int(np.argmax(target - value))
        text = f"{value[worst] / 1e5:.2f} of {target[worst] / 1e5:.2f} bar at {rpm(speed[worst])}, never reached"
        judge.add("boost short of its request", 0.9, text, speed[worst], "boost-short")
        return
    after = slice(int(reached[0]), None)
    lack = (1.0 - value / np.maximum(target, 1e4))[after]
    worst = int(np.argmax(lack))
    numbers = f"{value[after][worst] / 1e5:.2f} of {target[after][worst] / 1e5:.2f} bar at {rpm(speed[after][worst])}"
    if lack[worst] > SHORT:
        fades = speed[after][worst] > speed.min() + 0.7 * (speed.max() - speed.min())
        kind, sign = ("boost fades at high speed", "boost-fades-at-top") if fades else (
            "boost short of its request", "boost-short"
        )  # fmt: skip
        judge.add(
            kind, certainty(float(lack[worst]), SHORT, int((lack > SHORT).sum())), numbers, speed[after][worst], sign
        )
    else:
        text = f"at most {max(lack[worst], 0.0) * 100:.0f} % short once reached"
        judge.add("boost holds its request", 0.9, text, None, "boost-short", True)
    most = int(np.argmin(lack))
    if -lack[most] > SHORT:
        text = f"{value[after][most] / 1e5:.2f} for {target[after][most] / 1e5:.2f} bar at {rpm(speed[after][most])}"
        judge.add(
            "boost above its request", certainty(-float(lack[most]), SHORT, 9), text, speed[after][most], "boost-over"
        )


def _heat(judge: Judge) -> None:
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
    judge.needs("back pressure", ("back pressure",), SLOW)


def _ranges(judge: Judge) -> None:
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


def _intervention(judge: Judge) -> None:
    """Throttle that closes under a full pedal: the torque model or a limiter steps in."""
    pull = judge.pull
    if not judge.needs("torque intervention", ("throttle", "pedal"), MIDDLE):
        return
    found = pull.pair("throttle", "pedal")
    if found is None:
        return
    speed, value, pedal = found
    full = pedal >= 0.95 * pedal.max()
    if not full.any():
        return
    fall = np.where(full, 1.0 - value / value[full].max(), 0.0)
    worst = int(np.argmax(fall))
    if fall[worst] > CLOSES:
        sure = certainty(float(fall[worst]), CLOSES, int((fall > CLOSES).sum()))
        text = f"throttle at {value[worst] * 100:.0f} % under a full pedal at {rpm(speed[worst])}"
        judge.add("throttle closes without command", sure, text, speed[worst], "throttle-closes")
    else:
        judge.add("throttle follows the pedal", 0.9, "open as far as the pedal asks", None, "throttle-closes", True)


def _slip(judge: Judge) -> None:
    """Ratios of speeds that must not change in one gear: engine to wheel is the drive, wheel to roller the tyre."""
    pull = judge.pull
    wheel, roller = pull.on_speed("road speed"), pull.on_speed("roller speed")
    if wheel is None and roller is None:
        judge.blind.append(Blind(what="slip of drive and tyres", why="the log has neither road speed nor roller speed"))
        return
    drive = wheel if wheel is not None else roller
    assert drive is not None
    if wheel is not None and roller is not None:
        order = np.argsort(roller[0], kind="stable")
        found = _rise(wheel[0], wheel[1] / np.maximum(np.interp(wheel[0], roller[0][order], roller[1][order]), 0.1))
        if found is not None:
            judge.add("tyres slip on the rollers", found[1], found[0], found[2], "speed-without-drive")
    what = "drive slips" if wheel is not None else "drive or tyres slip"
    found = _rise(drive[0], drive[0] / np.maximum(drive[1], 0.1))
    if found is not None:
        judge.add(what, found[1], found[0], found[2], "speed-without-drive")
    elif not any(e.sign == "speed-without-drive" for e in judge.events):
        text = f"the ratio of speeds changes by less than {SLIPS * 100:.0f} %"
        judge.add("no slip", 0.9, text, None, "speed-without-drive", True)


def _rise(speed: Array, ratio: Array) -> tuple[str, float, float] | None:
    """Rise of a ratio over its median in the first quarter of the pull."""
    first = np.argsort(speed, kind="stable")[: max(3, speed.size // 4)]
    over = ratio / float(np.median(ratio[first])) - 1.0
    worst = int(np.argmax(over))
    if over[worst] <= SLIPS:
        return None
    sure = certainty(float(over[worst]), SLIPS, int((over > SLIPS).sum()))
    return (
        f"the ratio of speeds rises by {over[worst] * 100:.0f} % until {rpm(speed[worst])}",
        sure,
        float(speed[worst]),
    )
