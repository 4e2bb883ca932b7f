"""The roller gate: may a car be loaded, what blocks it, and when the run is stopped.

Nothing that was not looked at counts as fine. The figures are expert judgement; a shop sets its own.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

#: What must have been looked at and found fine before a car is loaded.
CHECKS: Mapping[str, str] = MappingProxyType(
    {
        "oil": "oil level and smell",
        "coolant": "coolant level",
        "brakes": "brake fluid, pads and pedal",
        "leaks": "fuel and oil leaks, looked for with the engine running",
        "tyres": "tyre condition, pressure and speed rating",
        "straps": "straps and their anchor points",
        "extraction": "exhaust extraction and carbon monoxide alarm",
    }
)
#: Work that lifts a block again.
REPAIRS: Mapping[str, str] = MappingProxyType(
    {"oil change": "oil and filter changed", "leak repair": "leak repaired and looked at again"}
)
#: Check -> the work after which what was not fine is mended.
_MENDED: Mapping[str, str] = MappingProxyType({"leaks": "leak repair", "oil": "oil change"})
_DILUTED = frozenset({"oil-level-up", "fuel-in-oil"})
#: Signs that forbid a run until they are settled, and why.
_FORBIDDING: Mapping[str, str] = MappingProxyType(
    {
        "metal-in-oil": "metal in the oil: find its source before any load",
        "coolant-hot-or-lost": "coolant lost or hot: find the cause before any load",
        "coolant-pressurised": "the coolant is under combustion pressure: no load",
        "piston-marked": "a piston or bore is marked: no load",
        "shaft-worn": "the turbocharger's shaft is worn: no load",
        "pump-seat-bad": "the high-pressure pump is badly seated: refit it before any load",
        "follower-marked": "follower or lobe is worn: renew it before any load",
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Condition:
    """What is known of the car when it stands before the rollers.

    Parameters
    ----------
    signs : tuple of str
        Keys of signs seen to be there.
    absent : tuple of str
        Keys of signs seen not to be there.
    checked : tuple of str
        Of :data:`CHECKS`: looked at and fine.
    faulty : tuple of str
        Of :data:`CHECKS`: looked at and not fine.
    repaired : tuple of str
        Of :data:`REPAIRS`: done and recorded.
    limits : mapping of str to float
        What this car's stop criteria are taken from [SI]: ``rail target``, ``exhaust temperature``, ``torque``,
        ``torque speed``.
    claimed : tuple of str
        Places whose part is only claimed.
    ethanol_unknown : bool
        True where the fuel was claimed and not measured.
    """

    signs: tuple[str, ...] = ()
    absent: tuple[str, ...] = ()
    checked: tuple[str, ...] = ()
    faulty: tuple[str, ...] = ()
    repaired: tuple[str, ...] = ()
    limits: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    claimed: tuple[str, ...] = ()
    ethanol_unknown: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Gate:
    """The answer.

    Parameters
    ----------
    go : bool
        True only with every check made and nothing that blocks.
    blocked_by : tuple of str
        Sentences; dangers first, then what was not looked at.
    stop_criteria : tuple of str
        To be agreed before the run.
    cautions : tuple of str
        To be read before the work that they belong to.
    dangers, not_fine, not_looked_at : tuple of str
        What blocks, by key: a sign or ``fuel-in-oil``; of :data:`CHECKS` what was found not fine, and what is still to
        be looked at.
    """

    go: bool
    blocked_by: tuple[str, ...]
    stop_criteria: tuple[str, ...]
    cautions: tuple[str, ...]
    dangers: tuple[str, ...] = ()
    not_fine: tuple[str, ...] = ()
    not_looked_at: tuple[str, ...] = ()


def roller_gate(condition: Condition) -> Gate:
    """Decide whether a car may be loaded.

    Parameters
    ----------
    condition : Condition
        What is known [SI].

    Returns
    -------
    Gate
        Unknown never counts as fine.

    References
    ----------
    Stop criteria and checks: expert judgement of a workshop, from memory; oil laboratories name ignition in the
    crankcase as the danger of diluted oil.
    """
    diluted = _DILUTED & set(condition.signs)
    in_oil = bool(diluted) and "oil change" not in condition.repaired
    forbidding = tuple(sign for sign in _FORBIDDING if sign in condition.signs)
    mended = {check for check, work in _MENDED.items() if work in condition.repaired}
    not_fine = tuple(check for check in condition.faulty if check not in mended)
    settled = {*condition.checked, *condition.faulty}
    if diluted or "oil-level-up" in condition.absent:
        settled.add("oil")
    not_looked_at = tuple(check for check in CHECKS if check not in settled)
    blocked = [
        *(["fuel in the oil: no load until oil and filter are changed and the change is recorded"] if in_oil else []),
        *(_FORBIDDING[sign] for sign in forbidding),
        *(f"not fine: {CHECKS[check]}" for check in not_fine),
        *(f"not looked at yet: {CHECKS[check]}" for check in not_looked_at),
    ]
    return Gate(
        go=not blocked,
        blocked_by=tuple(blocked),
        dangers=(*(("fuel-in-oil",) if in_oil else ()), *forbidding),
        not_fine=not_fine,
        not_looked_at=not_looked_at,
        stop_criteria=_stops(condition),
        cautions=_cautions(condition, diluted),
    )


def _stops(condition: Condition) -> tuple[str, ...]:
    limits = condition.limits
    rail, exhaust = limits.get("rail target"), limits.get("exhaust temperature")
    stops = [
        "lambda leaner than its target by more than 0.05 for 0.3 s",
        "rail pressure more than 15 % under its target"
        + (f" (under {0.85 * rail / 1e5:.0f} bar of {rail / 1e5:.0f} bar)" if rail else ""),
        "low-side fuel pressure under 4 bar",
        f"exhaust temperature over {exhaust - 273.15:.0f} °C" if exhaust else "exhaust temperature over its limit",
        "spark pulled by more than 6° on any cylinder",
        "any misfire that repeats, any new noise, smoke or smell of fuel",
    ]
    torque, speed = limits.get("torque"), limits.get("torque speed")
    if torque and speed:
        unproved = ", ".join(condition.claimed)
        stops.append(
            f"more than {torque:.0f} N·m below {speed * 60.0:.0f} 1/min: {unproved} only claimed, "
            "taken as factory parts until seen"
        )
    return tuple(stops)


def _cautions(condition: Condition, diluted: Collection[str]) -> tuple[str, ...]:
    said = [
        "Rollers: straps tight, nobody in line with the car, a stop word agreed, extraction running.",
        "Rail: bleed it as the maker says and prove it with sensor and gauge before opening; cold engine, rag, eye and "
        "hand protection, no flame, extinguisher at hand. A jet passes through gloves.",
        "Fuel under the skin is an emergency even without pain: hospital at once, say high-pressure fuel injection.",
    ]
    if diluted:
        said.insert(0, "Diluted oil: look at the level again after the first run; ask for the state of the bearings.")
    if condition.ethanol_unknown:
        said.append("Fuel: its ethanol content is claimed and not measured; measure it before the mixture is judged.")
    return tuple(said)
