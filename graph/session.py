"""Several pulls of one session: what gets worse from run to run, and how much of it each cause takes."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np

from graph.event import Blind, Event, certainty
from graph.fuel_event import HOT_CASE, SAGS
from graph.model import Array
from graph.physics import fuel as fuel_physics
from graph.trace import Series

#: Loss of power from the first to the last unchanged pull that counts [1].
WORSE = 0.03
#: Temperatures that differ by no more than this are the same state of heat [K].
SAME_HEAT = 4.0
#: Relative standard deviation of the power of one pull [1].
REPEATS = 0.01
CONTROLLER = "pump controller, heat"
HEAT = "charge and oil heat"


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """What one cause takes of the power lost over a session.

    Parameters
    ----------
    cause : str
        In words.
    power : float
        [W]
    low, high : float
        5th and 95th percentile from the repeatability of a pull [W].
    evidence : str
        How it was separated.
    """

    cause: str
    power: float
    low: float
    high: float
    evidence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionFindings:
    """What a session shows.

    Parameters
    ----------
    events : tuple of Event
        What changes from run to run.
    shares : tuple of Share
        Causes of the loss, the largest first; empty where nothing separates them.
    lost : float or None
        Power lost from the first to the last pull before a change [W].
    blind : tuple of Blind
        What the session cannot show.
    """

    events: tuple[Event, ...]
    shares: tuple[Share, ...]
    lost: float | None
    blind: tuple[Blind, ...]


def judge_session(series: Series) -> SessionFindings:
    """Judge a session of several pulls.

    Parameters
    ----------
    series : Series
        One value of each channel for each pull [SI].

    Returns
    -------
    SessionFindings
        Events, shares of the loss, blind spots.

    Notes
    -----
    A rest cools controller, charge and oil alike, so the power before and after a rest separates nothing. Only a pull
    in the same heat with one part changed does.
    """
    changed = next((k for k, text in enumerate(series.changes) if text and k > 0), len(series.changes))
    events: list[Event] = []
    blind: list[Blind] = []
    power = series.values.get("crank power", series.values.get("wheel power"))
    lost: float | None = None
    if power is None or np.isfinite(power[:changed]).sum() < 2:
        blind.append(Blind(what="loss of power from run to run", why="the session states no power for two pulls"))
    else:
        lost = float(power[0] - power[changed - 1])
        if lost > WORSE * power[0]:
            text = f"{power[0] / 1e3:.0f} kW in the first, {power[changed - 1] / 1e3:.0f} kW in pull {changed}"
            sure = certainty(lost / power[0], WORSE, changed)
            events.append(_event("worse from run to run", sure, text, "worse-when-hot"))
    events += _supply(series, changed, blind)
    events += _state(series, changed)
    shares = _shares(series, changed, power, lost, events, blind)
    return SessionFindings(events=tuple(events), shares=shares, lost=lost, blind=tuple(blind))


def _event(kind: str, confidence: float, evidence: str, sign: str | None = None, good: bool = False) -> Event:
    return Event(kind=kind, confidence=round(min(confidence, 0.99), 3), evidence=evidence, sign=sign, good=good)


def _ends(series: Series, channel: str, changed: int) -> tuple[float, float] | None:
    value = series.values.get(channel)
    if value is None:
        return None
    known = value[:changed][np.isfinite(value[:changed])]
    return (float(known[0]), float(known[-1])) if known.size > 1 else None


def _supply(series: Series, changed: int, blind: list[Blind]) -> list[Event]:
    events = []
    low = _ends(series, "low-side pressure", changed)
    duty = _ends(series, "tank duty", changed)
    volts = _ends(series, "pump voltage", changed)
    amps = _ends(series, "pump current", changed)
    case = _ends(series, "controller temperature", changed)
    if low is None:
        blind.append(Blind(what="tank pump side", why="the session has no low-side pressure"))
    elif low[1] < 0.92 * low[0]:
        text = f"from {low[0] / 1e5:.1f} to {low[1] / 1e5:.1f} bar over the session"
        events.append(
            _event("low-side pressure falls", certainty(1 - low[1] / low[0], 0.08, changed), text, "low-side-falls")
        )
    if duty is not None and duty[1] >= 0.95:
        text = f"asked {duty[0] * 100:.0f} % at first, {duty[1] * 100:.0f} % at last"
        events.append(_event("tank pump at full duty while pressure falls", 0.9, text, "tank-duty-high"))
    if volts is None or duty is None:
        blind.append(Blind(what="pump controller", why="the session has no pump voltage beside its duty"))
    elif volts[1] < (1.0 - SAGS) * volts[0] and duty[1] >= duty[0]:
        text = f"from {volts[0]:.1f} to {volts[1]:.1f} V while its duty rises to {duty[1] * 100:.0f} %"
        if amps is not None:
            text += f", current from {amps[0]:.1f} to {amps[1]:.1f} A: the pump is starved, not worn or blocked"
        if case is not None:
            text += f", case at {case[1] - 273.15:.0f} °C"
        sure = 0.95 if case is not None and case[1] >= HOT_CASE else 0.7
        events.append(_event("pump controller cuts back", sure, text, "controller-cuts-back"))
    rail = series.values.get("rail pressure"), series.values.get("rail target")
    if rail[0] is not None and rail[1] is not None:
        lack = 1.0 - rail[0][:changed] / rail[1][:changed]
        if np.nanmax(lack) > 0.05:
            worst = int(np.nanargmax(lack))
            text = (
                f"{rail[0][worst] / 1e5:.0f} of {rail[1][worst] / 1e5:.0f} bar in pull {worst + 1}, after the low side"
            )
            events.append(_event("rail pressure short", certainty(float(lack[worst]), 0.05, changed), text))
    return events


def _state(series: Series, changed: int) -> list[Event]:
    events = []
    charge = _ends(series, "charge temperature", changed)
    if charge is not None and charge[1] - charge[0] > 12.0:
        text = f"from {charge[0] - 273.15:.0f} to {charge[1] - 273.15:.0f} °C over the session"
        events.append(
            _event("charge temperature climbs from run to run", certainty(charge[1] - charge[0], 12.0, changed), text)
        )
    oil = _ends(series, "oil temperature", changed)
    if oil is not None and oil[1] > 393.15:
        text = f"from {oil[0] - 273.15:.0f} to {oil[1] - 273.15:.0f} °C"
        events.append(_event("oil hot", 0.8, text))
    mixture = series.values.get("lambda")
    if mixture is not None and np.nanmax(mixture[:changed]) > mixture[0] + 0.03:
        text = f"lambda from {mixture[0]:.2f} to {np.nanmax(mixture[:changed]):.2f}"
        events.append(_event("leaner from run to run", 0.9, text, "lean-full-load"))
    pulled = series.values.get("spark correction")
    if pulled is not None and np.nanmin(pulled) < -np.radians(1.5):
        text = f"up to {-np.degrees(np.nanmin(pulled)):.1f}° in the worst cylinder, grows with the charge temperature"
        events.append(_event("spark pulled", 0.8, text))
    ethanol = series.values.get("ethanol")
    if ethanol is not None and np.isfinite(ethanol).any():
        measured = float(np.nanmedian(ethanol))
        claimed = claimed_ethanol(series.notes)
        if claimed is not None and abs(claimed - measured) > 0.05:
            text = f"{measured * 100:.0f} % measured, {claimed * 100:.0f} % claimed"
            events.append(_event("ethanol content other than claimed", 0.95, text, "ethanol-off"))
    return events


def claimed_ethanol(notes: tuple[str, ...]) -> float | None:
    """Ethanol that somebody claims in words such as ``E85``.

    Parameters
    ----------
    notes : tuple of str
        Lines.

    Returns
    -------
    float or None
        By volume [1].

    Examples
    --------
    >>> claimed_ethanol(("fuel claimed: E85",))
    0.85
    """
    for note in notes:
        match = re.search(r"\bE(\d{1,3})\b", note)
        if match is not None and int(match[1]) <= 100:
            return int(match[1]) / 100.0
    return None


def ethanol_notes(measured: float, claimed: float | None) -> list[str]:
    """What the measured content of ethanol changes against the claimed one.

    Parameters
    ----------
    measured : float
        By volume [1].
    claimed : float or None
        By volume [1].

    Returns
    -------
    list of str
        Sentences.
    """
    base = fuel_physics.BASE_PETROL
    real = fuel_physics.blend(base, measured)
    notes = [f"fuel taken as E{measured * 100:.0f}, as measured: stoichiometric ratio {real.stoichiometric_ratio:.2f}"]
    if claimed is not None and abs(claimed - measured) > 0.05:
        said = fuel_physics.blend(base, claimed)
        factor = fuel_physics.volume_flow_factor(base, real) / fuel_physics.volume_flow_factor(base, said)
        notes.append(
            f"not E{claimed * 100:.0f} as claimed: it takes {abs(1.0 - factor) * 100:.0f} % "
            f"{'less' if factor < 1.0 else 'more'} fuel by volume and knocks "
            f"{'earlier' if measured < claimed else 'later'}"
        )
    return notes


def _shares(
    series: Series, changed: int, power: Array | None, lost: float | None, events: list[Event], blind: list[Blind]
) -> tuple[Share, ...]:
    if lost is None or power is None or lost <= WORSE * power[0]:
        return ()
    what = "how much each cause takes of the loss"
    if changed >= len(series.changes) or not np.isfinite(power[changed]):
        blind.append(Blind(what=what, why="no pull follows with one part changed in the same heat"))
        return ()
    for channel in ("charge temperature", "oil temperature"):
        value = series.values.get(channel)
        gap = np.nan if value is None else value[changed] - value[changed - 1]
        if not abs(gap) <= SAME_HEAT:
            found = "not noted" if np.isnan(gap) else f"{gap:+.0f} K"
            why = f"{channel} before and after the change differs ({found}): a rest cools every cause alike"
            blind.append(Blind(what=what, why=why))
            return ()
    gained, left = float(power[changed] - power[changed - 1]), float(power[0] - power[changed])
    spread = 1.645 * REPEATS * float(power[0]) * 2.0**0.5
    cuts = any(e.kind == "pump controller cuts back" for e in events)
    cause = CONTROLLER if cuts else f"what was changed: {series.changes[changed]}"
    text = (
        f"pull {changed + 1} with only this changed ({series.changes[changed]}) brings {gained / 1e3:.0f} of "
        f"{lost / 1e3:.0f} kW back, charge and oil as hot as before"
    )
    rest = f"{left / 1e3:.0f} of {lost / 1e3:.0f} kW stay lost while charge and oil stay hot"
    shares = [
        Share(cause=cause, power=gained, low=gained - spread, high=gained + spread, evidence=text),
        Share(cause=HEAT, power=left, low=left - spread, high=left + spread, evidence=rest),
    ]
    return tuple(sorted(shares, key=lambda s: -s.power))
