"""The closed cycle tabulated once per engine, and read by interpolation: phasing, efficiency, peak pressure, knock.

The cycle itself (:mod:`graph.physics.cycle`) costs too much to run inside an iteration. Its table runs over engine
speed, charge density and phasing; charge temperature enters by its change about a mean. The interpolation error against
the cycle is tested.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from graph.model import Array
from graph.physics.burn import burn_start
from graph.physics.combustion_table import DENSITIES, MEAN_TEMPERATURE, PHASINGS, CombustionTable, weights
from graph.physics.cycle import Cycle, closed_cycle
from graph.physics.cylinder import Geometry, cylinder_volume

#: Half width of the table in charge temperature [K].
TEMPERATURE_STEP = 30.0
#: Fuel heat per mass of air for which the table is made [J/kg]; other fuels scale work and wall heat with it.
TABLE_HEAT = 2.957e6
SPEED_NODES = 9
LEVELS = 48


def tabulate(geometry: Geometry, speed: Array) -> CombustionTable:
    """Run the closed cycle over the support points and arrange it for reading.

    Parameters
    ----------
    geometry : Geometry
        Cylinder [m], [1].
    speed : array, shape (N,)
        Engine speeds wanted [1/s], rising.

    Returns
    -------
    CombustionTable
        With one row per speed [SI].

    References
    ----------
    Tabulated from :func:`graph.physics.cycle.closed_cycle`; error against it inside the support points (tested): below
    0.5 % in efficiency, 2 % in peak pressure, and in knock-limited phasing 0.5 degrees rms and 2 at most from 10
    degrees on; nearer to the optimum, where work is flat, 3 at most.

    Examples
    --------
    >>> g = Geometry(bore=0.0825, stroke=0.0928, rod=0.144, compression_ratio=9.7)
    >>> table = tabulate(g, np.array([50.0, 75.0, 100.0]))
    >>> bool(4.0 < np.rad2deg(table.best(np.array([1.2, 1.2, 1.2]))[1]) < 11.0)
    True
    """
    count = SPEED_NODES if speed.size > 1 else 1
    nodes = np.linspace(speed[0], speed[-1], count)
    cold, mean, hot = results = _cycles(geometry, float(speed[0]), float(speed[-1]), count)
    span = 2.0 * TEMPERATURE_STEP
    fields = (
        mean.efficiency,
        (hot.efficiency - cold.efficiency) / span,
        mean.wall_share,
        (hot.wall_share - cold.wall_share) / span,
        np.log(mean.peak_pressure),
        (np.log(hot.peak_pressure) - np.log(cold.peak_pressure)) / span,
    )
    knock_levels = np.linspace(-6.0, 2.0, LEVELS)
    chilly, middle, heated = (np.log(c.knock_integral) for c in results)
    knock_phasing = _crossing(middle, knock_levels)
    slope = _at_phasing((heated - chilly) / span, knock_phasing)
    bend = _at_phasing((heated + chilly - 2.0 * middle) / (2.0 * TEMPERATURE_STEP**2), knock_phasing)
    pressure = np.log(mean.peak_pressure)
    pressure_levels = np.linspace(np.log(2.0e6), np.log(3.0e7), LEVELS)
    best = _best(mean.efficiency)
    return CombustionTable(
        geometry=geometry,
        speed=speed,
        fields=tuple(np.ascontiguousarray(_to_speed(nodes, speed, f)) for f in fields),
        knock_phasing=_to_speed(nodes, speed, knock_phasing),
        knock_levels=knock_levels,
        knock_slope=_to_speed(nodes, speed, slope),
        knock_bend=_to_speed(nodes, speed, bend),
        pressure_phasing=_to_speed(nodes, speed, _crossing(pressure, pressure_levels)),
        pressure_levels=pressure_levels,
        best_phasing=_to_speed(nodes, speed, best),
    )


@lru_cache(maxsize=8)
def _cycles(geometry: Geometry, first: float, last: float, count: int) -> tuple[Cycle, ...]:
    """The cycle over the support points for a colder, the mean and a hotter charge; speed grids of one engine share it."""
    nodes = np.linspace(first, last, count)[:, None, None]
    return tuple(
        closed_cycle(geometry, nodes, DENSITIES[:, None], MEAN_TEMPERATURE + shift, PHASINGS, heat_per_air=TABLE_HEAT)
        for shift in (-TEMPERATURE_STEP, 0.0, TEMPERATURE_STEP)
    )


def _to_speed(nodes: Array, speed: Array, table: Array) -> Array:
    """Interpolate the first axis from the nodes to the wanted speeds, straight between neighbours."""
    if nodes.size == 1:
        return np.asarray(np.broadcast_to(table, (speed.size, *table.shape[1:])))
    index = np.clip(np.searchsorted(nodes, speed) - 1, 0, nodes.size - 2)
    share = ((speed - nodes[index]) / (nodes[index + 1] - nodes[index])).reshape(-1, *([1] * (table.ndim - 1)))
    return np.asarray(table[index] * (1.0 - share) + table[index + 1] * share)


def _crossing(values: Array, levels: Array) -> Array:
    """Phasing at which each falling row of `values` (last axis phasing) equals each level, extended in lines."""
    rows = values.reshape(-1, values.shape[-1])
    found = np.empty((rows.shape[0], levels.size))
    for i, row in enumerate(rows):
        falling = np.minimum.accumulate(row - 1e-9 * np.arange(row.size))[::-1]
        phasing = PHASINGS[::-1]
        line = np.interp(levels, falling, phasing)
        first = (phasing[1] - phasing[0]) / (falling[1] - falling[0])
        last = (phasing[-1] - phasing[-2]) / (falling[-1] - falling[-2])
        line = np.where(levels < falling[0], phasing[0] + first * (levels - falling[0]), line)
        found[i] = np.where(levels > falling[-1], phasing[-1] + last * (levels - falling[-1]), line)
    held = np.clip(found, np.deg2rad(-20.0), np.deg2rad(80.0))
    return np.asarray(held.reshape(*values.shape[:-1], levels.size))


def _at_phasing(values: Array, phasing: Array) -> Array:
    """Each row of `values` (last axis phasing) at the phasings of the same row, held at both ends."""
    index, share = weights(PHASINGS, np.clip(phasing, PHASINGS[0], PHASINGS[-1]))
    low, high = (np.take_along_axis(values, index + k, axis=-1) for k in (0, 1))
    return np.asarray(low + share * (high - low))


def _best(efficiency: Array) -> Array:
    """Phasing of the largest efficiency by a parabola through the best node and its neighbours."""
    top = np.clip(np.argmax(efficiency, axis=-1), 1, PHASINGS.size - 2)[..., None]
    y0, y1, y2 = (np.take_along_axis(efficiency, top + k, axis=-1)[..., 0] for k in (-1, 0, 1))
    x0, x1, x2 = (PHASINGS[top[..., 0] + k] for k in (-1, 0, 1))
    numerator = (x1 - x0) ** 2 * (y1 - y2) - (x1 - x2) ** 2 * (y1 - y0)
    denominator = (x1 - x0) * (y1 - y2) - (x1 - x2) * (y1 - y0)
    vertex = np.where(
        np.abs(denominator) > 1e-15, x1 - 0.5 * numerator / np.where(denominator == 0, 1, denominator), x1
    )
    return np.asarray(np.clip(vertex, PHASINGS[0], x2))


def knock_level(
    octane: Array | float, speed: Array, mixture: Array, knock_factor: Array | float, speed_exponent: Array | float
) -> Array:
    """Logarithm of the largest knock integral, referred to octane number 100, that a fuel stands.

    Parameters
    ----------
    octane : array
        Octane index of the fuel in this engine [1].
    speed : array
        Engine speed [1/s].
    mixture : array
        Air-fuel equivalence ratio lambda [1].
    knock_factor : array
        Calibration of the level: factor on the delay, 1 without a dyno run [1].
    speed_exponent : array
        Calibration over speed: the delay is scaled by (100/speed) to this power [1].

    Returns
    -------
    array
        Level for :meth:`CombustionTable.knock_limited` [1].

    References
    ----------
    Delay proportional to octane^3.402 (Douaud and Eyzat, SAE 780080). Mixture: knock is worst 5 % rich and about two
    octane numbers better per unit of air-fuel ratio away from it (Russ, SAE 960497, abstract), at 14.3 kg/kg.
    Scaling over speed: the correlation has no cool-flame chemistry and overstates knock at low speed (assumption,
    exponent 0.5 to 1.0).

    Examples
    --------
    >>> round(float(knock_level(100.0, np.array(100.0), np.array(0.95), 1.0, 0.8)), 6)
    0.0
    """
    helped = np.asarray(octane) + 2.0 * 14.3 * np.abs(mixture - 0.95)
    return np.asarray(
        3.402 * np.log(helped / 100.0) + np.log(knock_factor) + speed_exponent * np.log(100.0 / np.asarray(speed))
    )


def spark_density(geometry: Geometry, mass_density: Array, phasing: Array, speed: Array) -> Array:
    """Density of the charge in the cylinder at the spark.

    Parameters
    ----------
    geometry : Geometry
        Cylinder [m], [1].
    mass_density : array
        Trapped mass (air, fuel, residual) over swept volume [kg/m3].
    phasing : array
        Angle of half-burned charge after top dead centre [rad].
    speed : array
        Engine speed [1/s].

    Returns
    -------
    array
        Density [kg/m3].

    References
    ----------
    Conservation of mass; the spark is taken at the start of burn.

    Examples
    --------
    >>> g = Geometry(bore=0.0825, stroke=0.0928, rod=0.144, compression_ratio=9.7)
    >>> density = spark_density(g, np.array(2.5), np.array(np.deg2rad(8.0)), np.array(100.0))
    >>> bool(15.0 < density < 22.0)
    True
    """
    volume = cylinder_volume(geometry, burn_start(phasing, speed))
    return np.asarray(mass_density * geometry.swept_volume / volume)
