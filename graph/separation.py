"""Where fuel runs short: tank-pump side, high-pressure side or the controller's heat; never two words for one thing."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from graph.event import Event

HIGH_SIDE = "high-pressure side"
TANK_SIDE = "tank-pump side"
CONTROLLER_HEAT = "pump controller, heat"
NONE_SEEN = "no fuel shortage seen"
UNDECIDED = "fuel shortage, side not decided"
RAIL_SHORT = ("rail pressure short at the torque peak", "rail pressure short at high speed only",
              "rail pressure short over the range", "rail pressure short")  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Separation:
    """A verdict on the fuel side.

    Parameters
    ----------
    cause : str
        One of the names of this module.
    confidence : float
        [1]
    reasons : tuple of str
        Events that speak for it.
    ruled_out : tuple of str
        Other sides, each with the reason.
    """

    cause: str
    confidence: float
    reasons: tuple[str, ...] = ()
    ruled_out: tuple[str, ...] = ()


def separate(events: Iterable[Event]) -> Separation:
    """Tell the tank-pump side from the high-pressure side and from a controller that cuts back.

    Parameters
    ----------
    events : iterable of Event
        Of a pull or a session.

    Returns
    -------
    Separation
        The supply is judged first: a starved high-pressure pump is short too, the other way round never.

    References
    ----------
    Order and weights: expert judgement, from memory. A cam-driven pump delivers per revolution, so its shortage is
    worst where torque is highest; a tank pump delivers per hour, so its shortage is worst where power is highest.
    """
    found = {e.kind: e for e in events}

    def said(*kinds: str) -> tuple[str, ...]:
        return tuple(f"{k}: {found[k].evidence}" for k in kinds if k in found)

    short = any(k in found for k in RAIL_SHORT)
    spare, full = "tank pump has reserve" in found, "tank pump at full duty while pressure falls" in found
    holds = "low-side pressure holds" in found
    if "low-side pressure falls" in found:
        sure = found["low-side pressure falls"].confidence
        reasons = said("low-side pressure falls", "tank pump at full duty while pressure falls", *RAIL_SHORT)
        out = (f"{HIGH_SIDE}: its supply falls first",)
        if "pump controller cuts back" in found:
            return Separation(
                cause=CONTROLLER_HEAT,
                confidence=min(sure, found["pump controller cuts back"].confidence),
                reasons=(*said("pump controller cuts back", "worse from run to run"), *reasons),
                ruled_out=(*out, f"{TANK_SIDE}: the pump is starved of voltage, its current falls with it"),
            )
        return Separation(
            cause=TANK_SIDE,
            confidence=sure * (0.95 if full else 0.6 if spare else 0.75),
            reasons=reasons,
            ruled_out=out,
        )
    if not short:
        known = holds or "rail pressure holds" in found
        reasons = said("rail pressure holds", "low-side pressure holds")
        return Separation(cause=NONE_SEEN, confidence=0.9 if known else 0.3, reasons=reasons)
    sure = max(found[k].confidence for k in RAIL_SHORT if k in found)
    reasons = said(
        *RAIL_SHORT, "low-side pressure holds", "tank pump has reserve", "high-pressure pump at its end stop"
    )
    if holds or spare:
        weight = 0.97 if holds and spare else 0.9 if holds else 0.7
        others = tuple(f"{TANK_SIDE}: {reason}" for reason in said("low-side pressure holds", "tank pump has reserve"))
        return Separation(cause=HIGH_SIDE, confidence=sure * weight, reasons=reasons, ruled_out=others)
    if full:
        return Separation(cause=TANK_SIDE, confidence=sure * 0.6, reasons=reasons)
    return Separation(cause=UNDECIDED, confidence=0.5, reasons=reasons)
