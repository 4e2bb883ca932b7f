"""Records of a measured pull: one trace for each channel, each with its own time stamps, all in SI units."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

import numpy as np

from graph.model import Array
from graph.quantity import Quantity

#: Every channel that the program knows. Names with ``#`` exist once per cylinder: ``spark correction 1``.
CHANNELS: Mapping[str, Quantity] = MappingProxyType(
    {
        "engine speed": Quantity.ROTATIONAL_SPEED,
        "boost": Quantity.GAUGE_PRESSURE,
        "boost target": Quantity.GAUGE_PRESSURE,
        "rail pressure": Quantity.GAUGE_PRESSURE,
        "rail target": Quantity.GAUGE_PRESSURE,
        "low-side pressure": Quantity.GAUGE_PRESSURE,
        "tank duty": Quantity.RATIO,
        "pump valve duty": Quantity.RATIO,
        "pump voltage": Quantity.VOLTAGE,
        "pump current": Quantity.CURRENT,
        "controller temperature": Quantity.TEMPERATURE,
        "battery voltage": Quantity.VOLTAGE,
        "port share": Quantity.RATIO,
        "lambda": Quantity.RATIO,
        "lambda target": Quantity.RATIO,
        "trim": Quantity.RATIO,
        "spark advance": Quantity.ANGLE,
        "spark correction": Quantity.ANGLE,
        "spark correction #": Quantity.ANGLE,
        "misfires": Quantity.COUNT,
        "misfires #": Quantity.COUNT,
        "injection time": Quantity.DURATION,
        "injection end": Quantity.ANGLE,
        "charge temperature": Quantity.TEMPERATURE,
        "exhaust temperature": Quantity.TEMPERATURE,
        "coolant temperature": Quantity.TEMPERATURE,
        "oil temperature": Quantity.TEMPERATURE,
        "gearbox temperature": Quantity.TEMPERATURE,
        "air flow": Quantity.MASS_FLOW,
        "gate duty": Quantity.RATIO,
        "throttle": Quantity.RATIO,
        "pedal": Quantity.RATIO,
        "ethanol": Quantity.RATIO,
        "road speed": Quantity.RATIO,
        "roller speed": Quantity.RATIO,
        "wheel power": Quantity.POWER,
        "crank power": Quantity.POWER,
        "wheel torque": Quantity.TORQUE,
        "crank torque": Quantity.TORQUE,
        "back pressure": Quantity.GAUGE_PRESSURE,
    }
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Trace:
    """One channel of one pull.

    Parameters
    ----------
    channel : str
        Of :data:`CHANNELS`, with the cylinder's number in place of ``#``.
    time : array, shape (N,)
        Time stamps, rising [s]; the sample's number where the log has no time.
    value : array, shape (N,)
        [SI unit of the channel's quantity]
    rate : float or None
        Samples a second [1/s]; None where the log has no time.
    saturated : bool
        True where the channel stands at its largest value while the engine asks for more.
    source : str
        File and column.
    """

    channel: str
    time: Array
    value: Array
    rate: float | None = None
    saturated: bool = False
    source: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pull:
    """One run at full load.

    Parameters
    ----------
    traces : mapping of str to Trace
        By channel.
    ambient_pressure, ambient_temperature : float or None
        Of the day [Pa], [K], where the log states them.
    crank_spread : float
        Half width of the interval about a crank power in the log [1].
    notes : tuple of str
        What stands in the log besides the channels.
    """

    traces: Mapping[str, Trace]
    ambient_pressure: float | None = None
    ambient_temperature: float | None = None
    crank_spread: float = 0.05
    notes: tuple[str, ...] = ()

    def on_speed(self, channel: str) -> tuple[Array, Array] | None:
        """A channel over engine speed, each sample at its own time stamp.

        Parameters
        ----------
        channel : str
            Its name.

        Returns
        -------
        tuple of array or None
            Engine speed [1/s] and value [SI], shape (N,), samples without a number left out; None where the log
            lacks the channel or the engine speed.
        """
        trace, speed = self.traces.get(channel), self.traces.get("engine speed")
        if trace is None or speed is None:
            return None
        known = np.isfinite(speed.value)
        inside = np.isfinite(trace.value)
        if known.sum() < 2 or inside.sum() < 2:
            return None
        at = np.interp(trace.time[inside], speed.time[known], speed.value[known])
        return at, trace.value[inside]

    def pair(self, channel: str, target: str) -> tuple[Array, Array, Array] | None:
        """A channel and its target on the channel's own samples.

        Parameters
        ----------
        channel, target : str
            Names.

        Returns
        -------
        tuple of array or None
            Engine speed [1/s], value and target [SI], shape (N,).
        """
        own, other = self.on_speed(channel), self.traces.get(target)
        if own is None or other is None:
            return None
        known = np.isfinite(other.value)
        if known.sum() < 2:
            return None
        trace = self.traces[channel]
        time = trace.time[np.isfinite(trace.value)]
        return own[0], own[1], np.interp(time, other.time[known], other.value[known])

    def cylinders(self, channel: str) -> dict[int, Trace]:
        """Traces of a channel that exists once per cylinder, by cylinder."""
        found = {}
        for name, trace in self.traces.items():
            base, _, number = name.rpartition(" ")
            if base == channel and number.isdigit():
                found[int(number)] = trace
        return found


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Series:
    """Several pulls of one session, one value of each channel for each pull.

    Parameters
    ----------
    values : mapping of str to array, shape (P,)
        By channel, the worst value of the pull [SI]; NaN where nothing was noted.
    start : array, shape (P,)
        Start of each pull [s].
    changes : tuple of str, length P
        What was changed before each pull; empty for nothing.
    notes : tuple of str
        What stands in the log besides the channels.
    ambient_temperature : float or None
        [K]
    """

    values: Mapping[str, Array]
    start: Array
    changes: tuple[str, ...]
    notes: tuple[str, ...] = ()
    ambient_temperature: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """What a log gave.

    Parameters
    ----------
    pull : Pull or None
        One run over time.
    series : Series or None
        One line per run.
    missing : tuple of str
        Channels that the log lacks.
    assumed : tuple of str
        Sentences about what was taken for granted.
    """

    pull: Pull | None = None
    series: Series | None = None
    missing: tuple[str, ...] = ()
    assumed: tuple[str, ...] = field(default=())
