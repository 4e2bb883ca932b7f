"""The cylinder: its volume over the crank angle, the heat to its walls, and the work outside the closed part."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from graph.model import Array

#: Wall temperature [K] and factor on the Woschni coefficient with temperature exponent -0.55 (assumptions).
WALL_TEMPERATURE = 440.0
WALL_FACTOR = 1.2


@dataclass(frozen=True, slots=True, kw_only=True)
class Geometry:
    """Cylinder geometry: bore, stroke, rod length [m] and compression ratio [1]."""

    bore: float
    stroke: float
    rod: float
    compression_ratio: float

    @property
    def swept_volume(self) -> float:
        """Swept volume of one cylinder [m3]."""
        return float(np.pi / 4.0 * self.bore**2 * self.stroke)


def cylinder_volume(geometry: Geometry, angle: Array | float) -> Array:
    """Volume above the piston.

    Parameters
    ----------
    geometry : Geometry
        Cylinder [m], [1].
    angle : array
        Crank angle after top dead centre [rad].

    Returns
    -------
    array
        Volume [m3].

    References
    ----------
    J. B. Heywood, Internal Combustion Engine Fundamentals, 1988, eq. 2.4 to 2.6 (from memory).

    Examples
    --------
    >>> g = Geometry(bore=0.0825, stroke=0.0928, rod=0.144, compression_ratio=9.7)
    >>> round(float(cylinder_volume(g, np.pi) / cylinder_volume(g, 0.0)), 6)
    9.7
    """
    crank = geometry.stroke / 2.0
    clearance = geometry.swept_volume / (geometry.compression_ratio - 1.0)
    lift = geometry.rod + crank - crank * np.cos(angle) - np.sqrt(geometry.rod**2 - (crank * np.sin(angle)) ** 2)
    return np.asarray(clearance + np.pi / 4.0 * geometry.bore**2 * lift)


def wall_heat(geometry: Geometry, volume: float, pressure: Array, temperature: Array, velocity: Array) -> Array:
    """Heat flow from the gas to the walls after Woschni, before the factor on it.

    Parameters
    ----------
    geometry : Geometry
        Cylinder [m], [1].
    volume : float
        Of the gas [m3].
    pressure, temperature : array
        Of the gas [Pa], [K].
    velocity : array
        Of the gas at the walls [m/s].

    Returns
    -------
    array
        [W]

    References
    ----------
    Heywood 1988, eq. 12.19 (secondary): 3.26 B^-0.2 p^0.8 T^-0.55 w^0.8 with the pressure in kPa.

    Examples
    --------
    >>> g = Geometry(bore=0.0825, stroke=0.0928, rod=0.144, compression_ratio=9.7)
    >>> bool(4e4 < wall_heat(g, 6e-5, np.array(80e5), np.array(2400.0), np.array(60.0)) < 2e5)
    True
    """
    coefficient = 3.26 * geometry.bore**-0.2 * (pressure / 1e3) ** 0.8 * temperature**-0.55 * velocity**0.8
    area = np.pi / 2.0 * geometry.bore**2 + 4.0 * volume / geometry.bore
    return np.asarray(coefficient * area * (temperature - WALL_TEMPERATURE))


def outer_work(geometry: Geometry, first: Array, last: Array, volumes: Array) -> Array:
    """Work between the dead centres and the closed part, along polytropes to the bottom dead centre.

    Parameters
    ----------
    geometry : Geometry
        Cylinder [m], [1].
    first, last : array
        Pressure at both ends of the closed part [Pa].
    volumes : array
        Volumes of the closed part, of which the first and the last count [m3].

    Returns
    -------
    array
        [J]

    References
    ----------
    Exponents 1.33 and 1.27 of unburned charge and burned gas (assumption).

    Examples
    --------
    >>> g = Geometry(bore=0.0825, stroke=0.0928, rod=0.144, compression_ratio=9.7)
    >>> bottom = cylinder_volume(g, np.array([-np.pi, np.pi]))
    >>> round(float(outer_work(g, np.array(1e5), np.array(5e5), bottom)), 9)
    0.0
    """
    bottom = float(cylinder_volume(geometry, np.pi))
    k_in, k_out = 1.33, 1.27
    at_start = first * (volumes[0] / bottom) ** k_in
    compression = (at_start * bottom - first * volumes[0]) / (k_in - 1.0)
    at_end = last * (volumes[-1] / bottom) ** k_out
    expansion = (last * volumes[-1] - at_end * bottom) / (k_out - 1.0)
    return np.asarray(compression + expansion)
