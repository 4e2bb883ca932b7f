"""What a pull shows of the limits of the parts on the car: reached, or carried without reaching it."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection
from dataclasses import dataclass

import numpy as np

from graph.capacity import Trial
from graph.event import Event
from graph.hindsight import scalar
from graph.measured import Measured
from graph.model import Build, Part, Target
from graph.quantity import Quantity
from graph.report import Report
from graph.separation import RAIL_SHORT
from graph.trace import Pull

#: Relative standard deviations of what a log measures (assumption): fuel from air and lambda, air, boost, time [1].
FUEL_SPREAD, AIR_SPREAD, BOOST_SPREAD, TIME_SPREAD, TORQUE_SPREAD = 0.04, 0.03, 0.02, 0.02, 0.03
#: A load this far under a rating, in its own spread, says nothing about it.
FAR_BELOW = 4.0
TORQUE_PLACES = ("rods", "gears", "packs", "clutch")
BOOST_PLACES = ("charge pipe", "throttle", "intake manifold")
SHORT_OF_BOOST = ("boost short of its request", "boost fades at high speed")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sight:
    """A pull and the part that it is looked through for."""

    pull: Pull
    build: Build
    target: Target
    kinds: frozenset[str]
    torque: Measured | None
    model: Report | None
    air_ratio: float | None
    slot: str
    part: Part

    def stated(self, rating: str, default: float = 0.0) -> float:
        """A plain rating of the part [SI]."""
        found = self.part.rating(rating)
        return float(found.value) if found is not None and isinstance(found.value, float) else default


@dataclass(frozen=True, slots=True, kw_only=True)
class _Load:
    """What was asked of one rating: demand and capacity in one unit [SI]."""

    demand: float
    capacity: float
    reached: bool
    spread: float
    text: str


def trials_of(
    pull: Pull,
    build: Build,
    target: Target,
    events: Collection[Event],
    *,
    torque: Measured | None = None,
    model: Report | None = None,
    air_ratio: float | None = None,
    source: str = "",
    date: str | None = None,
) -> tuple[Trial, ...]:
    """Find what a pull shows of the limits of a car's parts.

    Parameters
    ----------
    pull : Pull
        The traces [SI].
    build : Build
        The car, with the ratings as stated in its book.
    target : Target
        For its fuel and weather [SI].
    events : collection of Event
        Of the same pull.
    torque : Measured or None
        Largest crank torque [N.m].
    model : Report or None
        A check at the measured power, for what the log has no channel for.
    air_ratio : float or None
        Measured air over the model's [1].
    source, date : str
        Name of the log, ISO date.

    Returns
    -------
    tuple of Trial
        Limits that were reached first; loads far under a rating are left out.

    Notes
    -----
    A part only claimed keeps no number. A load that broke nothing is a lower bound; nothing is said about wear.
    """
    kinds = frozenset(e.kind for e in events)
    found: list[Trial] = []
    for slot, rating, _, _, judged in _RULES:
        place = build.place(slot)
        if place is None or place.part is None or (stated := place.part.rating(rating)) is None:
            continue
        load = judged(
            _Sight(
                pull=pull,
                build=build,
                target=target,
                kinds=kinds,
                torque=torque,
                model=model,
                air_ratio=air_ratio,
                slot=slot,
                part=place.part,
            )
        )
        if load is None or not (load.demand > 0.0 and load.capacity > 0.0):
            continue
        far = math.log(load.demand / load.capacity) < -FAR_BELOW * max(stated.spread, load.spread, 0.02)
        if far and not load.reached:
            continue
        found.append(
            Trial(
                car=build.car,
                slot=slot,
                kind=place.slot.kind,
                rating=rating,
                part=None if place.unknown is not None else place.part.id,
                reached=load.reached,
                demand=load.demand,
                capacity=load.capacity,
                rated=scalar(stated),
                spread=load.spread,
                source=source,
                date=date,
                text=load.text,
            )
        )
    return tuple(sorted(found, key=lambda t: not t.reached))


def _fuel(seen: _Sight) -> tuple[np.ndarray, np.ndarray] | None:
    """Engine speed [1/s] and fuel flow from air and mixture [kg/s]."""
    air, mixture = seen.pull.on_speed("air flow"), seen.pull.on_speed("lambda")
    if air is None or mixture is None or seen.pull.traces["air flow"].saturated:
        return None
    order = np.argsort(mixture[0], kind="stable")
    lam = np.interp(air[0], mixture[0][order], mixture[1][order])
    return air[0], air[1] / (lam * seen.target.fuel.stoichiometric_ratio)


def _at(found: tuple[np.ndarray, np.ndarray], speed: float) -> float:
    order = np.argsort(found[0], kind="stable")
    return float(np.interp(speed, found[0][order], found[1][order]))


def _high_pressure_pump(seen: _Sight) -> _Load | None:
    """Fuel delivered for each stroke; the port injectors' share is not known from a log, so such a car is left out."""
    fuel, lobes = _fuel(seen), seen.build.platform.constants.get("pump lobes")
    port = seen.build.place("port injection")
    if fuel is None or lobes is None or (port is not None and port.part is not None):
        return None
    strokes = fuel[1] / seen.target.fuel.density / (lobes * fuel[0] / 2.0)
    capacity = seen.stated("displacement") * seen.stated("efficiency", 0.85)
    valve, rail = seen.pull.on_speed("pump valve duty"), seen.pull.pair("rail pressure", "rail target")
    if rail is not None and valve is not None and any(k in seen.kinds for k in RAIL_SHORT):
        worst = float(rail[0][int(np.argmax(1.0 - rail[1] / rail[2]))])
        delivered = _at((fuel[0], strokes), worst)
        if _at(valve, worst) < 0.99:
            return None
        text = (
            f"{delivered * 1e6:.3f} cm³ a stroke at {worst * 60.0:.0f} 1/min from air, lambda and stoichiometric ratio; "
            "the pump fully used and the rail short: it delivers this and not more, whatever its label says"
        )
        return _Load(demand=delivered, capacity=capacity, reached=True, spread=FUEL_SPREAD, text=text)
    if "rail pressure holds" not in seen.kinds:
        return None
    most = int(np.argmax(strokes))
    text = f"{strokes[most] * 1e6:.3f} cm³ a stroke at {fuel[0][most] * 60.0:.0f} 1/min with the rail at its target"
    return _Load(demand=float(strokes[most]), capacity=capacity, reached=False, spread=FUEL_SPREAD, text=text)


def _tank_pump(seen: _Sight) -> _Load | None:
    fuel = _fuel(seen)
    row = next((f for f in seen.model.findings if f.slot == "tank pump"), None) if seen.model is not None else None
    if fuel is None or row is None or row.capacity is None:
        return None
    flow = fuel[1] / seen.target.fuel.density + seen.build.platform.constants.get("jet pump flow", 0.0)
    falls = "low-side pressure falls" in seen.kinds
    if falls:
        sags = {"pump voltage sags", "pump controller cuts back"} & seen.kinds
        if sags or "tank pump at full duty while pressure falls" not in seen.kinds:
            return None  # short of voltage or of duty: no measure of the pump
    elif "low-side pressure holds" not in seen.kinds:
        return None
    most = float(flow.max())
    how = "at full duty, the pressure falling" if falls else "with its pressure held"
    text = f"{most * 3.6e6:.0f} L/h {how}, jet pump counted"
    return _Load(demand=most, capacity=row.capacity, reached=falls, spread=FUEL_SPREAD, text=text)


def _injectors(seen: _Sight) -> _Load | None:
    timed, window = seen.pull.on_speed("injection time"), seen.build.platform.constants.get("injection window")
    if timed is None or window is None:
        return None
    used = timed[1] * timed[0] * 2.0 * math.pi / window
    most = int(np.argmax(used))
    reached = "injection at the end of its window" in seen.kinds and "leaner than its target" in seen.kinds
    text = f"{used[most] * 100.0:.0f} % of the injection window used at {timed[0][most] * 60.0:.0f} 1/min"
    return _Load(demand=float(used[most]), capacity=1.0, reached=reached, spread=TIME_SPREAD, text=text)


def _compressor(seen: _Sight) -> _Load | None:
    row = next((f for f in seen.model.findings if f.rating == "choke flow"), None) if seen.model is not None else None
    if row is None or row.demand is None or row.capacity is None or seen.air_ratio is None:
        return None
    ratio = row.demand / row.capacity * seen.air_ratio
    text = f"{ratio * 100.0:.0f} % of its choke flow passed, from the measured air"
    return _Load(demand=row.demand * seen.air_ratio, capacity=row.capacity, reached=False, spread=0.05, text=text)


def _air_flow_meter(seen: _Sight) -> _Load | None:
    air = seen.pull.on_speed("air flow")
    if air is None:
        return None
    top, flat = float(air[1].max()), seen.pull.traces["air flow"].saturated
    text = f"{top * 1e3:.0f} g/s {'where the signal stands still' if flat else 'reported and rising'}"
    return _Load(
        demand=top, capacity=seen.stated("full scale"), reached=flat, spread=0.01 if flat else 0.005, text=text
    )


def _pressure_sensor(seen: _Sight) -> _Load | None:
    boost = seen.pull.on_speed("boost")
    if boost is None:
        return None
    top = float(boost[1].max()) + seen.target.weather.pressure
    flat = seen.pull.traces["boost"].saturated
    text = f"{top / 1e5:.2f} bar absolute {'where the signal stands still' if flat else 'reported'}"
    return _Load(demand=top, capacity=seen.stated("full scale"), reached=flat, spread=0.01, text=text)


def _boost(seen: _Sight) -> _Load | None:
    boost = seen.pull.on_speed("boost")
    if boost is None or any(k in seen.kinds for k in SHORT_OF_BOOST):
        return None
    top = float(boost[1].max())
    text = f"{top / 1e5:.2f} bar carried in this pull without a fall of boost"
    return _Load(demand=top, capacity=seen.stated("boost"), reached=False, spread=BOOST_SPREAD, text=text)


def _torque(seen: _Sight) -> _Load | None:
    if seen.torque is None:
        return None
    wide = math.log(seen.torque.high / seen.torque.low) / (2.0 * 1.645) if seen.torque.low > 0.0 else TORQUE_SPREAD
    slips = "drive slips" in seen.kinds and seen.slot in ("clutch", "packs")
    text = f"{seen.torque.value:.0f} N·m {'where the drive slips' if slips else 'carried in this pull'}"
    return _Load(
        demand=seen.torque.value,
        capacity=seen.stated("torque"),
        reached=slips,
        spread=min(max(wide, 0.01), 0.2),
        text=text,
    )


_RULES: tuple[tuple[str, str, str, Quantity, Callable[[_Sight], _Load | None]], ...] = (
    ("high-pressure pump", "displacement", "fuel delivered for each stroke", Quantity.VOLUME, _high_pressure_pump),
    ("tank pump", "flow", "fuel delivered", Quantity.VOLUME_FLOW, _tank_pump),
    ("injectors", "static flow", "share of the injection window", Quantity.RATIO, _injectors),
    ("compressor", "choke flow", "corrected air passed", Quantity.MASS_FLOW, _compressor),
    ("air-flow meter", "full scale", "air reported", Quantity.MASS_FLOW, _air_flow_meter),
    ("pressure sensor", "full scale", "pressure reported", Quantity.ABSOLUTE_PRESSURE, _pressure_sensor),
    *((slot, "boost", "boost carried", Quantity.GAUGE_PRESSURE, _boost) for slot in BOOST_PLACES),
    *((slot, "torque", "torque carried", Quantity.TORQUE, _torque) for slot in TORQUE_PLACES),
)


def demand_of(trial: Trial) -> tuple[str, Quantity]:
    """What a trial's demand is, in words, and its quantity.

    Parameters
    ----------
    trial : Trial
        Of :func:`trials_of`.

    Returns
    -------
    what : str
        In words.
    quantity : Quantity
        Of the demand.
    """
    return next(
        (what, quantity) for slot, rating, what, quantity, _ in _RULES if (slot, rating) == (trial.slot, trial.rating)
    )
