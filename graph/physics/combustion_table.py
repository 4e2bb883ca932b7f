"""The tabulated closed cycle read by interpolation: phasing, efficiency, wall heat, peak pressure, knock."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from graph.model import Array
from graph.physics.cylinder import Geometry

#: Mean charge temperature of the table [K].
MEAN_TEMPERATURE = 350.0
#: Evenly spaced support points: trapped air over swept volume [kg/m3], phasing [rad].
DENSITIES = np.linspace(0.5, 4.7, 22)
PHASINGS = np.deg2rad(np.linspace(2.0, 38.0, 19))


#: A table with the differences to the next support point of its last axis.
Stepped = tuple[Array, Array]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CombustionTable:
    """Closed-cycle results over (speed, charge density, phasing) for one engine.

    Parameters
    ----------
    geometry : Geometry
        The cylinder.
    speed : array, shape (N,)
        Engine speeds of the rows [1/s].
    fields : tuple of six arrays, shape (N, D, C)
        Efficiency, wall share, logarithm of peak pressure, each followed by its change per kelvin.
    knock_phasing : array, shape (N, D, L)
        Phasing at which the logarithm of the knock integral (octane 100) equals a level [rad].
    knock_levels : array, shape (L,)
        Those levels.
    knock_slope, knock_bend : array, shape (N, D, L)
        Change of the logarithm of the knock integral at that phasing with charge temperature [1/K], and half the
        change of the change [1/K2].
    pressure_phasing : array, shape (N, D, L)
        Phasing at which the logarithm of the peak pressure equals a level [rad].
    pressure_levels : array, shape (L,)
        Those levels [ln Pa].
    best_phasing : array, shape (N, D)
        Phasing of most work [rad].
    """

    geometry: Geometry
    speed: Array
    fields: tuple[Array, ...]
    knock_phasing: Array
    knock_levels: Array
    knock_slope: Array
    knock_bend: Array
    pressure_phasing: Array
    pressure_levels: Array
    best_phasing: Array

    def best(self, density: Array) -> Array:
        """Phasing of most work [rad] for a charge density [kg/m3], last axis speed."""
        place, share = self._place(density)
        return _straight((self.best_phasing, _step(self.best_phasing)), place, share)

    def knock_limited(self, density: Array, temperature: Array, level: Array) -> Array:
        """Earliest phasing without knock.

        Parameters
        ----------
        density : array, last axis speed
            Trapped air over swept volume [kg/m3].
        temperature : array
            Charge temperature when the intake valve closes [K].
        level : array
            Logarithm of the largest knock integral that the fuel stands, referred to octane number 100 [1].

        Returns
        -------
        array
            Phasing [rad]; extended in a straight line beyond the table.
        """
        place, share = self._place(density)
        k, within = weights(self.knock_levels, level)
        at_level = place * self.knock_levels.size + k
        slope, bend = (_crossed((t, _step(t)), at_level, share, within) for t in (self.knock_slope, self.knock_bend))
        k, within = weights(self.knock_levels, _stood(level, temperature - MEAN_TEMPERATURE, slope, bend))
        stepped = self.knock_phasing, _step(self.knock_phasing)
        return _crossed(stepped, place * self.knock_levels.size + k, share, within)

    def read(self, density: Array, temperature: Array, phasing: Array) -> tuple[Array, Array, Array]:
        """Efficiency [1], wall share [1] and mean peak pressure [Pa] at a phasing [rad]."""
        place, share = self._place(density)
        c, within = weights(PHASINGS, phasing)
        fields = [(f, _step(f)) for f in self.fields]
        pairs = (fields[i : i + 2] for i in (0, 2, 4))
        at, away = place * PHASINGS.size + c, temperature - MEAN_TEMPERATURE
        efficiency, wall, peak = (_warmed(pair, at, share, within, away) for pair in pairs)
        return efficiency, wall, np.exp(peak)

    def _place(self, density: Array) -> tuple[NDArray[np.intp], Array]:
        """Flattened index of each speed's lower density, and the share of the upper one."""
        d, share = weights(DENSITIES, density)
        return np.arange(self.speed.size) * DENSITIES.size + d, share


class Reading:
    """A table read again and again for charges of the same speeds, knock levels and peak pressures.

    Parameters
    ----------
    table : CombustionTable
        Of the engine.
    speed_row : array of int, shape (S,)
        For each of the S states of a configuration the row of its speed.
    level : array, shape (1 or B, N)
        Logarithm of the largest knock integral that the fuel stands [1].
    peak_pressure : array, shape (1 or B, 1)
        Mean peak pressure that may not be passed [Pa].

    Notes
    -----
    What depends on knock level and peak pressure alone is read from the table once; what is left to do for each charge
    runs over its density. The numbers are those of the table's own methods.
    """

    def __init__(self, table: CombustionTable, speed_row: NDArray[np.intp], level: Array, peak_pressure: Array) -> None:
        self.table, self.row, self.level = table, speed_row * DENSITIES.size, level[:, speed_row]
        slope, bend = _at_level((table.knock_slope, table.knock_bend), table.knock_levels, level)
        wanted = np.log(np.broadcast_to(peak_pressure, (peak_pressure.shape[0], table.speed.size)))
        (pressure,) = _at_level((table.pressure_phasing,), table.pressure_levels, wanted)
        self.slope, self.bend, self.pressure = ((t, _step(t)) for t in (slope, bend, pressure))
        self.levelled = _offset(slope), _offset(pressure)
        self.best, self.knock, *rest = _stepped(table)
        self.kept, self.efficiency, self.peak = rest[:2], rest[2:4], rest[4:]

    def burn(self, density: Array, temperature: Array) -> tuple[Array, Array, Array, Array]:
        """How charges burn.

        Parameters
        ----------
        density : array, shape (B, S)
            Trapped air over swept volume [kg/m3].
        temperature : array, shape (B, S)
            Charge temperature when the intake valve closes [K].

        Returns
        -------
        best, knock, phasing, kept : array, shape (B, S)
            Phasing of most work, earliest without knock, and the one used [rad]; share of the released heat that leaves
            as work or to the walls [1].
        """
        d, share = weights(DENSITIES, density)
        place = self.row + d
        best = _straight(self.best, place, share)
        away = temperature - MEAN_TEMPERATURE
        at_level = place + self.levelled[0]
        wanted = _stood(self.level, away, _straight(self.slope, at_level, share), _straight(self.bend, at_level, share))
        k, within = weights(self.table.knock_levels, wanted)
        knock = _crossed(self.knock, place * self.table.knock_levels.size + k, share, within)
        phasing = np.maximum(np.maximum(best, knock), _straight(self.pressure, place + self.levelled[1], share))
        c, within = weights(PHASINGS, phasing)
        kept = _warmed(self.kept, place * PHASINGS.size + c, share, within, away)
        return best, knock, phasing, kept

    def read(self, density: Array, temperature: Array, phasing: Array) -> tuple[Array, Array]:
        """Efficiency [1] and mean peak pressure [Pa] at a phasing [rad], shape (B, S)."""
        d, share = weights(DENSITIES, density)
        c, within = weights(PHASINGS, phasing)
        place, away = (self.row + d) * PHASINGS.size + c, temperature - MEAN_TEMPERATURE
        efficiency, peak = (_warmed(pair, place, share, within, away) for pair in (self.efficiency, self.peak))
        return efficiency, np.exp(peak)


@lru_cache(maxsize=32)
def _stepped(table: CombustionTable) -> tuple[Stepped, ...]:
    """What is read of a table whatever the fuel: best phasing, knock, heat kept, efficiency, peak, each with its slope."""
    efficiency, its_slope, wall, wall_slope, peak, peak_slope = table.fields
    kept = efficiency + wall, its_slope + wall_slope
    read = (table.best_phasing, table.knock_phasing, *kept, efficiency, its_slope, peak, peak_slope)
    return tuple((t, _step(t)) for t in read)


def _stood(level: Array, away: Array, slope: Array, bend: Array) -> Array:
    """Level of the knock integral at the table's mean temperature that stands for a level so many kelvins away."""
    return np.asarray(level - away * (slope + away * bend))


def _offset(table: Array) -> NDArray[np.intp]:
    """Where each configuration's part of a flattened table of shape (B, N, D) begins, shape (B, 1)."""
    return np.asarray(np.arange(table.shape[0])[:, None] * (table.shape[1] * table.shape[2]))


def _at_level(tables: tuple[Array, ...], levels: Array, wanted: Array) -> list[Array]:
    """Tables of shape (N, D, L) at a level for each configuration and speed (B, N), shape (B, N, D)."""
    k, share = weights(levels, wanted)
    rows = np.arange(wanted.shape[1])
    share = share[..., None]
    return [np.asarray(t[rows, :, k] * (1.0 - share) + t[rows, :, k + 1] * share) for t in tables]


def weights(nodes: Array, at: Array) -> tuple[NDArray[np.intp], Array]:
    """Where values lie among evenly spaced support points, extended in a line beyond both ends.

    Parameters
    ----------
    nodes : array, shape (K,)
        Evenly spaced, rising, in the unit of `at` [any].
    at : array
        Values to place [any].

    Returns
    -------
    index : array of int
        Lower of the two support points around each value [1].
    share : array
        Weight of the upper one [1]; below 0 and above 1 beyond the ends.

    References
    ----------
    Linear interpolation (any textbook of numerical methods).

    Examples
    --------
    >>> index, share = weights(np.array([1.0, 2.0, 3.0]), np.array([1.25, 3.5]))
    >>> index.tolist(), share.tolist()
    ([0, 1], [0.25, 1.5])
    """
    place = np.asarray((at - nodes[0]) / (nodes[1] - nodes[0]))
    lower = place.astype(np.intp).clip(0, nodes.size - 2)
    return lower, np.asarray(place - lower)


def _step(table: Array) -> Array:
    """Difference to the next support point of the last axis, 0 at the last."""
    return np.diff(table, axis=-1, append=table[..., -1:])


def _straight(stepped: Stepped, place: NDArray[np.intp], share: Array) -> Array:
    """A table with its steps along the last axis, from the flattened lower index and the share of the upper one."""
    table, step = stepped
    return np.asarray(table.take(place) + share * step.take(place))


def _crossed(stepped: Stepped, place: NDArray[np.intp], share: Array, within: Array) -> Array:
    """A table of shape (N, D, K) between its four nearest points.

    `place` is the flattened index of the lowest of them, `share` goes along the density, `within` along the last axis.
    """
    low = _straight(stepped, place, within)
    high = _straight(stepped, place + stepped[0].shape[-1], within)
    return np.asarray(low + share * (high - low))


def _warmed(pair: Sequence[Stepped], place: NDArray[np.intp], share: Array, within: Array, away: Array) -> Array:
    """A field of shape (N, D, C), with its change per kelvin times the kelvins away from the table's mean."""
    value, slope = (_crossed(stepped, place, share, within) for stepped in pair)
    return np.asarray(value + slope * away)
