"""One platform prepared for solving: its constants and curves, its speed axis, its combustion tabulated."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType

import numpy as np

from graph.errors import MissingRecord, OutOfRange
from graph.model import Array, Platform
from graph.physics import combustion
from graph.physics.combustion_table import CombustionTable
from graph.physics.cylinder import Geometry
from graph.quantity import Quantity

#: Constants that a platform must state, with their quantity.
PLATFORM_CONSTANTS: Mapping[str, Quantity] = MappingProxyType(
    {
        "bore": Quantity.LENGTH,
        "stroke": Quantity.LENGTH,
        "rod length": Quantity.LENGTH,
        "compression ratio": Quantity.PRESSURE_RATIO,
        "cylinders": Quantity.COUNT,
        "lowest speed": Quantity.ROTATIONAL_SPEED,
        "highest speed": Quantity.ROTATIONAL_SPEED,
        "power speed": Quantity.ROTATIONAL_SPEED,
        "factory power": Quantity.POWER,
        "factory torque": Quantity.TORQUE,
        "factory boost": Quantity.GAUGE_PRESSURE,
        "rail pressure": Quantity.GAUGE_PRESSURE,
        "injection window": Quantity.ANGLE,
        "pump lobes": Quantity.COUNT,
        "low-side pressure": Quantity.GAUGE_PRESSURE,
        "pump voltage": Quantity.VOLTAGE,
        "jet pump flow": Quantity.VOLUME_FLOW,
        "vehicle mass": Quantity.MASS,
        "evaporated share": Quantity.RATIO,
        "knock factor": Quantity.RATIO,
        "knock speed exponent": Quantity.RATIO,
        "friction factor": Quantity.RATIO,
    }
)
#: Plausible ranges of some of them [SI].
PLATFORM_RANGES: Mapping[str, tuple[float, float]] = MappingProxyType(
    {
        "bore": (0.04, 0.15),
        "stroke": (0.03, 0.15),
        "rod length": (0.06, 0.30),
        "compression ratio": (6.0, 16.0),
        "cylinders": (1.0, 16.0),
        "lowest speed": (10.0, 80.0),
        "highest speed": (50.0, 200.0),
        "power speed": (40.0, 200.0),
        "factory power": (2.0e4, 1.0e6),
        "factory torque": (50.0, 1500.0),
        "factory boost": (0.0, 3.0e5),
        "rail pressure": (2.0e5, 5.0e7),
        "injection window": (0.5, 6.3),
        "pump lobes": (1.0, 6.0),
        "low-side pressure": (1.0e5, 12.0e5),
        "pump voltage": (9.0, 18.0),
        "knock factor": (0.2, 5.0),
        "knock speed exponent": (0.0, 1.5),
        "friction factor": (0.3, 3.0),
        "evaporated share": (0.0, 1.0),
    }
)
#: Curves over engine speed [1/s] that a platform must state.
PLATFORM_CURVES = ("volumetric efficiency", "lambda")
#: Engine speeds of the full grid.
SPEEDS = 60


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Engine:
    """One platform prepared for solving: speeds, breathing, mixture and the combustion table."""

    platform: Platform
    geometry: Geometry
    speed: Array
    volumetric_efficiency: Array
    mixture: Array
    table: CombustionTable

    @property
    def displacement(self) -> float:
        """Swept volume of all cylinders [m3]."""
        return self.geometry.swept_volume * self.platform.constants["cylinders"]


def prepare(platform: Platform, speeds: int = SPEEDS, power_speed: float | None = None) -> Engine:
    """Tabulate a platform's combustion on its speed axis.

    Parameters
    ----------
    platform : Platform
        With the constants of :data:`PLATFORM_CONSTANTS` and the curves of :data:`PLATFORM_CURVES`.
    speeds : int
        Number of engine speeds [1].
    power_speed : float or None
        Speed that must be on the axis [1/s]; None for the platform's.

    Returns
    -------
    Engine
        Ready for :func:`solve`.

    Raises
    ------
    MissingRecord
        The platform lacks a constant or a curve.
    OutOfRange
        A constant is none of an engine, such as a compression ratio of 40.
    """
    for name in PLATFORM_CONSTANTS:
        if name not in platform.constants:
            raise MissingRecord(f"platform {platform.id} lacks the constant {name!r}; add it to the platform sheet")
        low, high = PLATFORM_RANGES.get(name, (-np.inf, np.inf))
        if not low <= platform.constants[name] <= high:
            raise OutOfRange(
                f"platform {platform.id}, {name}",
                f"{platform.constants[name]:g}",
                f"{low:g} to {high:g}",
                "correct the platform's sheet",
            )
    for name in PLATFORM_CURVES:
        if name not in platform.curves:
            raise MissingRecord(f"platform {platform.id} lacks the curve {name!r}; add it to the platform sheet")
    wanted = power_speed or platform.constants["power speed"]
    return _prepared(_Key(platform), speeds, wanted)


class _Key:
    """A platform as a cache key: equal when everything that the table depends on is equal."""

    def __init__(self, platform: Platform) -> None:
        self.platform = platform
        self.key = (
            tuple(sorted(platform.constants.items())),
            tuple(sorted((name, c.x, c.y) for name, c in platform.curves.items())),
        )

    def __hash__(self) -> int:
        return hash(self.key)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Key) and self.key == other.key


@lru_cache(maxsize=16)
def _prepared(key: _Key, speeds: int, power_speed: float) -> Engine:
    platform = key.platform
    constants = platform.constants
    axis = np.linspace(constants["lowest speed"], constants["highest speed"], speeds)
    nearest = int(np.argmin(np.abs(axis - power_speed)))
    axis[nearest] = power_speed
    geometry = Geometry(
        bore=constants["bore"],
        stroke=constants["stroke"],
        rod=constants["rod length"],
        compression_ratio=constants["compression ratio"],
    )
    breathing, mixture = (platform.curves[name] for name in PLATFORM_CURVES)
    return Engine(
        platform=platform,
        geometry=geometry,
        speed=axis,
        volumetric_efficiency=np.interp(axis, breathing.x, breathing.y),
        mixture=np.interp(axis, mixture.x, mixture.y),
        table=combustion.tabulate(geometry, axis),
    )
