"""Solved engine states over configurations, manifold pressures and speeds, and operating points read from them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from graph.engine import Engine
from graph.model import Array, Cause, Operation, Weather

#: Manifold pressure that stands for "no cap" [Pa].
UNCAPPED = 1.0e9
#: What a state holds [SI].
STATE = (
    "torque",
    "manifold_pressure",
    "boost_pressure",
    "air_flow",
    "fuel_flow",
    "exhaust_flow",
    "charge_temperature",
    "compressor_inlet_pressure",
    "compressor_outlet_pressure",
    "compressor_outlet_temperature",
    "turbine_inlet_pressure",
    "turbine_outlet_pressure",
    "exhaust_temperature",
    "gate_flow",
    "turbine_flow",
    "phasing",
    "best_phasing",
    "peak_pressure",
    "spark_density",
    "coolant_heat",
    "oil_heat",
    "knock_phasing",
    "drive",
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class EngineMap:
    """Engine states over configurations, manifold pressures and speeds.

    Parameters
    ----------
    engine : Engine
        What was solved.
    states : array, shape (B, F, L, N)
        The fields of :data:`STATE` [SI].
    latest_phasing : float
        Latest phasing allowed [rad].
    weather : Weather
        The day.
    found : dict
        Largest torques that were asked for already.
    """

    engine: Engine
    states: Array
    latest_phasing: float
    weather: Weather
    found: dict[tuple[float, bool], tuple[Array, Array]] = field(default_factory=dict, init=False, repr=False)

    @property
    def torque(self) -> Array:
        """Crank torque, shape (B, L, N) [N.m]."""
        return self.state("torque")

    def state(self, name: str) -> Array:
        """One field of :data:`STATE`, shape (B, L, N) [SI]."""
        return np.asarray(self.states[:, STATE.index(name)])

    def only(self, configurations: Sequence[int]) -> EngineMap:
        """Some of the configurations."""
        return replace(self, states=self.states[list(configurations)])

    def highest_torque(self, boost_cap: float | None = None, *, drive_only: bool = False) -> tuple[Array, Array]:
        """Largest torque with an operating point at each speed.

        Parameters
        ----------
        boost_cap : float or None
            Gauge pressure in the manifold that may not be passed [Pa].
        drive_only : bool
            True to look only at whether the turbine can drive the compressor.

        Returns
        -------
        torque : array, shape (B, N)
            [N.m]
        cause : array of int, shape (B, N)
            Code of the :class:`~graph.model.Cause` that ends it.
        """
        cap = UNCAPPED if boost_cap is None else boost_cap + self.weather.pressure
        if (cap, drive_only) not in self.found:
            self.found[cap, drive_only] = self._highest(cap, drive_only)
        return self.found[cap, drive_only]

    def _highest(self, cap: float, drive_only: bool) -> tuple[Array, Array]:
        over = [(self.state("drive") - 1.0, Cause.DRIVE)]
        if not drive_only:
            pressure = self.state("manifold_pressure")[:1, :, :1]  # the same for all configurations and speeds
            over.append((self.state("phasing") - self.latest_phasing, Cause.PHASING))
            over.append(((pressure - cap) / 1e5, Cause.CAP))
        best = np.full((self.states.shape[0], self.states.shape[-1]), np.inf)
        cause = np.full(best.shape, Cause.RANGE.code)
        for beyond, why in over:
            level = _first_crossing(beyond)
            sooner = level < best
            cause = np.where(sooner, why.code, cause)
            best = np.minimum(best, level)
        levels = self.states.shape[2]
        best = np.minimum(best, levels - 1.0)
        rising = np.maximum.accumulate(self.torque, axis=1)
        index = np.clip(np.floor(best).astype(int), 0, levels - 2)[:, None, :]
        low = np.take_along_axis(rising, index, axis=1)[:, 0]
        share = best - index[:, 0]
        straight = (
            np.take_along_axis(self.torque, index, axis=1)[:, 0] * (1.0 - share)
            + share * np.take_along_axis(self.torque, index + 1, axis=1)[:, 0]
        )
        return np.maximum(low, straight), cause

    def at(self, torque: Array) -> tuple[Operation, Array]:
        """Operating points at wanted torques: the lowest manifold pressure that makes each.

        Parameters
        ----------
        torque : array, shape (B or 1, P, N)
            Wanted crank torque [N.m].

        Returns
        -------
        operation : Operation
            Shape (B, P, N); NaN where no operating point exists.
        knock : array, shape (B, P, N)
            True where knock sets the phasing.
        """
        batch, count, levels, speeds = self.states.shape
        wanted = np.broadcast_to(torque, (batch, *torque.shape[1:]))
        rising = np.maximum.accumulate(self.torque, axis=1)
        below = np.zeros(wanted.shape, dtype=np.int8)
        for level in range(levels):
            below += (rising[:, level, None, :] < wanted).view(np.int8)
        index = np.clip(below - 1, 0, levels - 2).astype(np.intp)
        place = np.arange(batch)[:, None, None] * (count * levels * speeds) + index * speeds + np.arange(speeds)
        values = self.states.ravel()
        plane = levels * speeds
        low, high = values.take(place), values[speeds:].take(place)
        span = high - low
        share = np.where(span > 1e-9, (wanted - low) / np.where(span > 1e-9, span, 1.0), 0.0)
        named: dict[str, Array] = {}
        for column, name in enumerate(STATE):
            low, found = values[column * plane :].take(place), values[column * plane + speeds :].take(place)
            found -= low
            found *= share
            found += low
            named[name] = found
        cause = np.zeros(wanted.shape, dtype=np.int8)
        cause[named["phasing"] > self.latest_phasing + 1e-9] = Cause.PHASING.code
        cause[named.pop("drive") > 1.0 + 1e-9] = Cause.DRIVE.code
        cause[below >= levels] = Cause.RANGE.code
        missing = cause != 0
        if missing.any():
            for values in named.values():
                np.copyto(values, np.nan, where=missing)
        named["torque"] = np.array(wanted)
        knock = named.pop("knock_phasing") >= named["phasing"] - 1e-9
        return Operation(speed=self.engine.speed, cause=cause, **named), knock & ~missing


def _first_crossing(beyond: Array) -> Array:
    """Fractional level, shape (B, N), at which `beyond` (B, L, N) first rises above zero; infinity if never."""
    positive = beyond > 0.0
    first = np.argmax(positive, axis=1)
    never = ~positive.any(axis=1)
    before = np.maximum(first - 1, 0)
    high = np.take_along_axis(beyond, first[:, None, :], axis=1)[:, 0]
    low = np.take_along_axis(beyond, before[:, None, :], axis=1)[:, 0]
    step = high - low
    share = np.where(first > 0, -low / np.where(step > 0.0, step, 1.0), 0.0)
    return np.where(never, np.inf, before + np.clip(share, 0.0, 1.0))
