"""Events of fuel and mixture in one pull: where pressure runs short, and on which side of the high-pressure pump."""

from __future__ import annotations

import math

import numpy as np

from graph.event import MIDDLE, SHORT, SLOW, Judge, certainty, rpm

#: Fall of the low-side pressure within a pull that counts, and the one under which it holds [1].
FALLS, HOLDS = 0.08, 0.05
#: Duty from which a tank pump has nothing left, and under which it has [1].
FULL_DUTY, SPARE_DUTY = 0.95, 0.90
#: Fall of the pump's voltage that counts [1], and case temperature at which controllers cut back [K].
SAGS, HOT_CASE = 0.06, 373.15
#: Lambda above its target that counts [1].
LEAN = 0.03


def judge_fuel(judge: Judge) -> None:
    """Look for events of fuel pressure, tank pump, mixture and injection window.

    Parameters
    ----------
    judge : Judge
        Takes the events.
    """
    short = _rail(judge)
    _low_side(judge, short)
    _voltage(judge)
    _mixture(judge)


def _rail(judge: Judge) -> bool:
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
    numbers = f"{value[worst] / 1e5:.0f} of {target[worst] / 1e5:.0f} bar at {rpm(speed[worst])}"
    sure = certainty(float(lack[worst]), SHORT, int((lack > SHORT).sum()))
    if top < 0.5 * lack[worst] and early >= 0.8 * lack[worst]:
        text = f"{numbers}, back to {top * 100:.0f} % short at the top: worst per revolution, not per hour"
        judge.add("rail pressure short at the torque peak", sure, text, speed[worst], "rail-low-at-torque-peak")
        judge.add(
            "rail pressure recovers at high speed",
            sure,
            f"{top * 100:.0f} % short above {rpm(high - 0.1 * (high - low))}",
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
            text = f"fully used from {rpm(valve[0][at_stop].min())} to {rpm(valve[0][at_stop].max())}"
            judge.add("high-pressure pump at its end stop", 0.9, text, float(valve[0][at_stop].min()))
    return True


def _low_side(judge: Judge, short: bool) -> None:
    pull = judge.pull
    falling = False
    if judge.needs("low-side fuel pressure", ("low-side pressure",), SLOW):
        found = pull.on_speed("low-side pressure")
        assert found is not None
        speed, value = found
        start = np.max(value[: max(2, value.size // 5)])
        fall = 1.0 - value / start
        worst = int(np.argmax(fall))
        numbers = f"from {start / 1e5:.1f} to {value[worst] / 1e5:.1f} bar at {rpm(speed[worst])}"
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
        numbers = f"duty up to {value[worst] * 100:.0f} % at {rpm(speed[worst])}"
        if value[worst] >= FULL_DUTY and (short or falling):
            judge.add("tank pump at full duty while pressure falls", 0.9, numbers, speed[worst], "tank-duty-high")
            judge.add("tank pump without reserve", 0.9, numbers, speed[worst], "tank-duty-spare", True)
        elif value[worst] < SPARE_DUTY and short and not falling:
            judge.add("tank pump has reserve", 0.9, numbers, speed[worst], "tank-duty-spare")
            judge.add("tank pump not at full duty", 0.9, numbers, speed[worst], "tank-duty-high", True)


def _voltage(judge: Judge) -> None:
    """A pump that gets less voltage than its duty asks: a hot controller where its case is known to be hot."""
    pull = judge.pull
    if not judge.needs("voltage at the tank pump", ("pump voltage", "tank duty"), SLOW):
        return
    volts, duty = pull.on_speed("pump voltage"), pull.on_speed("tank duty")
    assert volts is not None
    assert duty is not None
    first, least = float(volts[1][0]), int(np.argmin(volts[1]))
    if volts[1][least] >= (1.0 - SAGS) * first or duty[1][-1] < duty[1][0] - 0.02:
        return
    case = pull.on_speed("controller temperature")
    hot = case is not None and float(case[1].max()) >= HOT_CASE
    text = f"from {first:.1f} to {volts[1][least]:.1f} V at {rpm(volts[0][least])} while its duty does not fall"
    if hot and case is not None:
        text += f", case at {case[1].max() - 273.15:.0f} °C"
    sure = certainty(1.0 - float(volts[1][least]) / first, SAGS, int((volts[1] < (1.0 - SAGS) * first).sum()))
    kind, sign = ("pump controller cuts back", "controller-cuts-back") if hot else (
        "pump voltage sags", "voltage-low-at-pump"
    )  # fmt: skip
    judge.add(kind, sure, text, float(volts[0][least]), sign)


def _mixture(judge: Judge) -> None:
    pull = judge.pull
    if judge.needs("lean mixture", ("lambda", "lambda target"), MIDDLE):
        found = pull.pair("lambda", "lambda target")
        assert found is not None
        speed, value, target = found
        over = value - target
        worst = int(np.argmax(over))
        if over[worst] > LEAN:
            sure = certainty(float(over[worst]), LEAN, int((over > LEAN).sum()))
            text = f"lambda {value[worst]:.2f} for {target[worst]:.2f} at {rpm(speed[worst])}"
            judge.add("leaner than its target", sure, text, speed[worst], "lean-full-load")
        else:
            judge.add("mixture holds", 0.9, f"at most {over[worst]:+.2f} of lambda", None, "lean-full-load", True)
    window = judge.context.injection_window
    if judge.needs("injection window", ("injection time",), SLOW) and window is not None:
        timed = pull.on_speed("injection time")
        assert timed is not None
        used = timed[1] * timed[0] * 2.0 * math.pi / window
        worst = int(np.argmax(used))
        if used[worst] > 0.97:
            text = f"{used[worst] * 100:.0f} % of the window at {rpm(timed[0][worst])}"
            judge.add("injection at the end of its window", 0.9, text, float(timed[0][worst]))
