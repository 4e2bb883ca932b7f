"""The state of the engine at full load, over the whole speed range, for a batch of configurations.

For every configuration, manifold pressure and speed the breathing, compressor, charge cooler, combustion, turbine
and wastegate are brought into balance (:func:`solve`). The answer is an :class:`EngineMap`; an operating point for a
wanted torque is read from it at the lowest manifold pressure that makes the torque (:meth:`EngineMap.at`).
Boost is a result.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from functools import lru_cache
from types import MappingProxyType

import numpy as np

from graph.errors import MissingRecord, OutOfRange
from graph.model import Array, Cause, Fuel, Operation, Platform, Weather
from graph.physics import air, combustion, compressor, cooler, friction, fuel, gas, heat, mist, pipe, turbine
from graph.physics.combustion import CombustionTable
from graph.physics.cycle import RELEASED, Geometry
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

#: Manifold pressures for which the engine is brought into balance [Pa]. Between them values run straight.
LEVELS = np.concatenate([np.linspace(0.7e5, 1.5e5, 5), np.linspace(1.65e5, 4.05e5, 17), np.linspace(4.3e5, 5.2e5, 4)])
SPEEDS = 60
ITERATIONS = 8

#: Reference state: what is adequate, so that one slot can be judged alone.
REFERENCE_FLOW = 0.30
REFERENCE_EXHAUST_FLOW = 0.32
REFERENCE_CHARGE_DENSITY = 2.5
REFERENCE_EXHAUST_DENSITY = 0.35
REFERENCE_BACK_PRESSURE = 1.05
#: Wide-open throttle: 2.9 kPa at 0.30 kg/s and 2.9 bar, 330 K (Heywood App. C, 60 mm bore).
THROTTLE_LOSS = 2900.0 * 3.06 / 0.30**2
#: Least factor of back pressure on filling: states beyond it have no operating point anyway [1].
LEAST_FILLING = 0.2
#: Manifold pressure that stands for "no cap" [Pa].
UNCAPPED = 1.0e9
#: Warming of the charge in the ports [K] and temperature of residual gas [K] (assumptions).
PORT_WARMING = 14.0
RESIDUAL_TEMPERATURE = 1150.0
#: Share of the enthalpy rise that reaches the turbine inlet: port heat loss (assumption, calibrates gas temperature).
PORT_FACTOR = 0.86
#: Fall of the cooler's transfer units with flow: exponent 0.2 to 0.5 (assumption).
COOLER_EXPONENT = 0.4
#: Octane index OI = RON - K (RON - MON) with K about -0.5 on boosted engines (Kalghatgi; band -1.2 to 0).
OCTANE_WEIGHT = -0.5
#: Exponent of the turbine's ellipse law (Stodola; 2.0 to 2.4).
TURBINE_EXPONENT = 2.0
#: Shares of the fuel heat that go to coolant and oil at full load (published balances: 15 to 22 % together, here
#: the upper end, since it sizes coolers; wall heat, port heat and friction of the model sum to 13 to 20 %).
COOLANT_SHARE = 0.17
OIL_SHARE = 0.05


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Path:
    """What air and exhaust pass, and what the spark must respect; each field broadcasts against the batch.

    Parameters
    ----------
    box_loss, pipe_loss, cooler_loss, catalyst_loss, silencer_loss : array
        Loss coefficients c in dp = c m^2 / density [1/m4].
    compressor_efficiency : array
        Total to total; of a map the highest [1].
    map_flow, map_ratio, map_flow_fall, map_cross, map_ratio_fall : array
        Where a map's efficiency is highest, corrected [kg/s] and root of the pressure ratio [1], and how it falls away
        from there [1]; all falls 0 for one efficiency everywhere.
    map_temperature, map_pressure : array
        Reference state of the map [K], absolute [Pa].
    cooler_effectiveness, cooler_flow, cooler_exponent : array
        Effectiveness [1] at a flow [kg/s], and the fall of its transfer units with flow [1].
    cooler_soak : array
        Warming of the cooler's cold side per heat taken up, at the time asked [K/W].
    turbine_given : array
        1 where a real turbine drives the compressor, 0 for the reference back pressure.
    turbine_flow, gate_area, turbine_efficiency : array
        Flow parameter [kg.K^0.5/(s.Pa)], area of the open gate [m2], efficiency [1].
    peak_pressure : array
        Mean peak pressure that the spark respects [Pa].
    breathing : array
        Factor on volumetric efficiency [1].
    octane_shift : array
        Added to the octane index [1].
    mist_share, mist_methanol : array
        Mass of water and methanol sprayed in per mass of fuel, and the methanol's share of it [1].
    knock_gain, friction_gain : array
        Factors on the ignition delay and on the friction of the platform [1]: uncertainty of the model.
    """

    box_loss: Array | float = 2000.0 * pipe.REFERENCE_DENSITY / REFERENCE_FLOW**2
    pipe_loss: Array | float = 1000.0 * pipe.REFERENCE_DENSITY / REFERENCE_FLOW**2
    compressor_efficiency: Array | float = 0.72
    map_flow: Array | float = 1.0
    map_ratio: Array | float = 1.0
    map_flow_fall: Array | float = 0.0
    map_cross: Array | float = 0.0
    map_ratio_fall: Array | float = 0.0
    map_temperature: Array | float = 298.15
    map_pressure: Array | float = 1.0e5
    cooler_effectiveness: Array | float = 0.80
    cooler_flow: Array | float = REFERENCE_FLOW
    cooler_exponent: Array | float = 0.0
    cooler_soak: Array | float = 0.0
    cooler_loss: Array | float = 10.0e3 * REFERENCE_CHARGE_DENSITY / REFERENCE_FLOW**2
    turbine_given: Array | float = 0.0
    turbine_flow: Array | float = 3.0e-5
    gate_area: Array | float = 4.0e-4
    turbine_efficiency: Array | float = 0.65
    catalyst_loss: Array | float = 20.0e3 * REFERENCE_EXHAUST_DENSITY / REFERENCE_EXHAUST_FLOW**2
    silencer_loss: Array | float = 10.0e3 * REFERENCE_EXHAUST_DENSITY / REFERENCE_EXHAUST_FLOW**2
    peak_pressure: Array | float = 3.0e7
    breathing: Array | float = 1.0
    octane_shift: Array | float = 0.0
    mist_share: Array | float = 0.0
    mist_methanol: Array | float = 0.0
    knock_gain: Array | float = 1.0
    friction_gain: Array | float = 1.0


#: Uncertain parameters of the model, drawn once per sample and shared by every limit: path field -> (relative
#: standard deviation [1], why). After a calibration the phasing is taken as good to
#: 3 degrees nineteen times in twenty; a degree is 3 to 6 % in delay, so 8 % is one standard deviation.
MODEL_SPREAD: Mapping[str, tuple[float, str]] = MappingProxyType(
    {
        "knock_gain": (0.08, "phasing after calibration within 3 degrees, 19 times in 20 (assumption)"),
        "friction_gain": (0.10, "friction of the Chen and Flynn form (assumption)"),
        "breathing": (0.015, "volumetric efficiency from own dyno (assumption)"),
    }
)
PATH_FIELDS = tuple(f.name for f in fields(Path))
REFERENCE = Path()
REFERENCE_WORDS = (
    "compressor efficiency 0.72",
    "charge cooler effectiveness 0.80 and loss 10 kPa at 0.30 kg/s",
    "inlet loss 3 kPa at 0.30 kg/s (box 2, pipe 1)",
    "pressure before the turbine 1.05 times the manifold pressure",
    "exhaust loss 30 kPa at 0.32 kg/s (catalyst 20, silencer 10)",
)


def stack_paths(paths: Sequence[Mapping[str, Array | float] | Mapping[str, float]]) -> Path:
    """Put configurations side by side on a batch axis.

    Parameters
    ----------
    paths : list of mapping
        For each configuration the fields of :class:`Path` that differ from the reference [SI].

    Returns
    -------
    Path
        Every field of shape (configurations, 1, 1).
    """
    columns = {
        name: np.array([float(np.asarray(p.get(name, getattr(REFERENCE, name)))) for p in paths])[:, None, None]
        for name in PATH_FIELDS
    }
    return Path(**columns)


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


_STATE = (
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
    states : array, shape (B, L, N, F)
        The fields of :data:`_STATE` [SI].
    latest_phasing : float
        Latest phasing allowed [rad].
    weather : Weather
        The day.
    """

    engine: Engine
    states: Array
    latest_phasing: float
    weather: Weather

    @property
    def torque(self) -> Array:
        """Crank torque, shape (B, L, N) [N.m]."""
        return np.asarray(self.states[..., 0])

    def _excess(self) -> Array:
        """How far each state is beyond what exists, shape (B, L, N, 2): drive and phasing; positive is beyond."""
        drive = self.states[..., _STATE.index("drive")] - 1.0
        phasing = self.states[..., _STATE.index("phasing")] - self.latest_phasing
        return np.stack([drive, phasing], axis=-1)

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
        excess = self._excess()
        cap = UNCAPPED if boost_cap is None else boost_cap + self.weather.pressure
        pressure = self.states[..., _STATE.index("manifold_pressure")]
        over = [excess[..., 0], excess[..., 1], (pressure - cap) / 1e5]
        codes = [Cause.DRIVE.code, Cause.PHASING.code, Cause.CAP.code]
        if drive_only:
            over, codes = over[:1], codes[:1]
        best = np.full((self.states.shape[0], self.states.shape[2]), np.inf)
        cause = np.full(best.shape, Cause.RANGE.code)
        for beyond, code in zip(over, codes, strict=True):
            level = _first_crossing(beyond)
            sooner = level < best
            cause = np.where(sooner, code, cause)
            best = np.minimum(best, level)
        best = np.minimum(best, LEVELS.size - 1.0)
        rising = np.maximum.accumulate(self.torque, axis=1)
        index = np.clip(np.floor(best).astype(int), 0, LEVELS.size - 2)[:, None, :]
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
        batch = self.states.shape[0]
        wanted = np.broadcast_to(torque, (batch, *torque.shape[1:]))
        rising = np.maximum.accumulate(self.torque, axis=1)
        below = np.zeros(wanted.shape, dtype=int)
        for level in range(LEVELS.size):
            below += rising[:, level, None, :] < wanted
        index = np.clip(below - 1, 0, LEVELS.size - 2)
        b = np.arange(batch)[:, None, None]
        n = np.arange(wanted.shape[-1])
        low, high = self.states[b, index, n], self.states[b, index + 1, n]
        span = high[..., 0] - low[..., 0]
        share = np.where(span > 1e-9, (wanted - low[..., 0]) / np.where(span > 1e-9, span, 1.0), 0.0)
        found = low + (high - low) * share[..., None]
        named = {name: found[..., i] for i, name in enumerate(_STATE)}
        cause = np.zeros(wanted.shape, dtype=np.int8)
        cause = np.where(named["phasing"] > self.latest_phasing + 1e-9, Cause.PHASING.code, cause)
        cause = np.where(named.pop("drive") > 1.0 + 1e-9, Cause.DRIVE.code, cause)
        cause = np.where(below >= LEVELS.size, Cause.RANGE.code, cause)
        cause = cause.astype(np.int8)
        missing = cause != 0
        for name, values in named.items():
            named[name] = np.where(missing, np.nan, values)
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


def solve(
    engine: Engine,
    path: Path,
    fuel_burned: Fuel,
    weather: Weather,
    latest_phasing: float,
    *,
    octane_weight: Array | float = OCTANE_WEIGHT,
) -> EngineMap:
    """Bring breathing, charging, combustion and turbine into balance at every manifold pressure and speed.

    Parameters
    ----------
    engine : Engine
        Prepared platform.
    path : Path
        Configurations on a batch axis, fields of shape (B, 1, 1).
    fuel_burned : Fuel
        What is in the tank.
    weather : Weather
        The day.
    latest_phasing : float
        Latest phasing allowed [rad].
    octane_weight : array
        K of the octane index [1].

    Returns
    -------
    EngineMap
        States of shape (B, L, N).
    """
    constants = engine.platform.constants
    speed, mixture = engine.speed, engine.mixture
    manifold = LEVELS[:, None]
    swept_flow = engine.displacement * speed / 2.0
    heat_per_air = fuel_burned.heating_value / fuel_burned.stoichiometric_ratio * air.mixture_factor(mixture)
    fuel_air = 1.0 / (mixture * fuel_burned.stoichiometric_ratio)
    liberated = air.heat_release_fraction(1.0 / mixture) * fuel_burned.heating_value * fuel_air
    spray = np.asarray(path.mist_share) * fuel_air
    burnt = fuel_air - mist.fuel_replaced(spray, path.mist_methanol, fuel_burned.stoichiometric_ratio)
    added = burnt + spray
    steam = spray * (1.0 - np.asarray(path.mist_methanol)) * mist.WATER_LATENT_HEAT
    cooling = mist.charge_cooling(
        burnt, fuel_burned.latent_heat, constants["evaporated share"], spray, path.mist_methanol
    )
    octane = fuel.octane_index(fuel_burned.research_octane, fuel_burned.motor_octane, octane_weight) + path.octane_shift
    level = combustion.knock_level(
        octane, speed, mixture, constants["knock factor"] * path.knock_gain, constants["knock speed exponent"]
    )
    ambient_density = pipe.gas_density(weather.pressure, weather.temperature)
    breathing = engine.volumetric_efficiency * path.breathing
    ratio = constants["compression ratio"]

    shape = np.broadcast_shapes(np.shape(path.breathing), (LEVELS.size, speed.size))
    charge = np.full(shape, weather.temperature + 30.0)
    inlet_pressure = np.maximum(1.05 * manifold, weather.pressure * 1.05) * np.ones(shape)
    exhaust_temperature = np.full(shape, 1150.0)
    outlet_pressure = np.full(shape, weather.pressure * 1.15)
    level = np.broadcast_to(level, shape)
    for _ in range(ITERATIONS):
        filling = breathing * np.maximum(air.exhaust_pressure_factor(ratio, inlet_pressure / manifold), LEAST_FILLING)
        flow = filling * manifold / (gas.R_AIR * charge) * swept_flow
        before = weather.pressure - pipe.pressure_loss(path.box_loss, flow, ambient_density)
        before = before - pipe.pressure_loss(path.pipe_loss, flow, ambient_density)
        before = np.maximum(before, 0.5 * weather.pressure)
        charge_density = pipe.gas_density(manifold, charge)
        boost = manifold + pipe.pressure_loss(THROTTLE_LOSS, flow, charge_density)
        after = boost + pipe.pressure_loss(path.cooler_loss, flow, charge_density)
        hot = _compressed(path, weather, flow, before, np.maximum(after / before, 1.0))
        effectiveness = cooler.effectiveness_at_flow(
            path.cooler_effectiveness, path.cooler_flow, flow, path.cooler_exponent
        )
        effectiveness = cooler.soaked_effectiveness(effectiveness, path.cooler_soak, flow)
        charge = cooler.outlet_temperature(hot, weather.temperature, effectiveness)
        exhaust_flow = flow * (1.0 + added)
        density = flow / swept_flow
        residual = air.residual_fraction(ratio, inlet_pressure / manifold, charge, RESIDUAL_TEMPERATURE)
        mixed = (1.0 - residual) * (charge + PORT_WARMING - cooling) + residual * RESIDUAL_TEMPERATURE
        best = engine.table.best(density)
        knock = engine.table.knock_limited(density, mixed, level)
        phasing = np.maximum(best, knock)
        phasing = np.maximum(phasing, engine.table.pressure_limited(density, path.peak_pressure))
        efficiency, wall = engine.table.shares(density, mixed, phasing)
        released = RELEASED * heat_per_air
        rise = PORT_FACTOR * (liberated - steam - (efficiency + wall) * released) / ((1.0 + added) * gas.CP_EXHAUST)
        exhaust_temperature = charge + rise
        work = compressor.power(flow, weather.temperature, hot)
        outlet_temperature = exhaust_temperature - work / (exhaust_flow * gas.CP_TURBINE)
        behind = weather.pressure + pipe.pressure_loss(
            path.silencer_loss, exhaust_flow, pipe.gas_density(weather.pressure, outlet_temperature, gas.R_EXHAUST)
        )
        between = pipe.gas_density(0.5 * (behind + outlet_pressure), outlet_temperature, gas.R_EXHAUST)
        outlet_pressure = behind + pipe.pressure_loss(path.catalyst_loss, exhaust_flow, between)
        needed = _drive_expansion(work, path, outlet_pressure, exhaust_temperature)
        expansion, turbine_flow = _open_gate(needed, path, outlet_pressure, exhaust_temperature, exhaust_flow)
        given = expansion * outlet_pressure
        reference = np.maximum(REFERENCE_BACK_PRESSURE * manifold, outlet_pressure)
        inlet_pressure = np.where(path.turbine_given > 0.5, given, reference)
    _, _, peak = engine.table.read(density, mixed, phasing)
    pumping = friction.pumping(inlet_pressure, manifold, speed)
    rubbing = (
        constants["friction factor"]
        * path.friction_gain
        * friction.chen_flynn(peak, friction.piston_speed(constants["stroke"], speed))
    )
    indicated = efficiency * released * density
    torque = (indicated - pumping - rubbing) * engine.displacement / (4.0 * np.pi)
    real = path.turbine_given > 0.5
    fuel_mass = flow * burnt
    values = {
        "torque": torque,
        "manifold_pressure": manifold,
        "boost_pressure": boost,
        "air_flow": flow,
        "fuel_flow": fuel_mass,
        "exhaust_flow": exhaust_flow,
        "charge_temperature": charge,
        "compressor_inlet_pressure": before,
        "compressor_outlet_pressure": after,
        "compressor_outlet_temperature": hot,
        "turbine_inlet_pressure": inlet_pressure,
        "turbine_outlet_pressure": outlet_pressure,
        "exhaust_temperature": exhaust_temperature,
        "gate_flow": np.where(real, np.maximum(exhaust_flow - turbine_flow, 0.0), 0.0),
        "turbine_flow": np.where(real, turbine_flow, 0.0),
        "phasing": phasing,
        "best_phasing": best,
        "peak_pressure": peak,
        "spark_density": combustion.spark_density(
            engine.geometry, density * (1.0 + added) / (1.0 - residual), phasing, speed
        ),
        "coolant_heat": heat.heat_to_coolant(flow * fuel_air, fuel_burned.heating_value, COOLANT_SHARE),
        "oil_heat": heat.heat_to_oil(flow * fuel_air, fuel_burned.heating_value, OIL_SHARE),
        "knock_phasing": knock,
        "drive": np.where(real, turbine_flow / exhaust_flow, 0.0),
    }
    states = np.stack([np.broadcast_to(values[name], shape) for name in _STATE], axis=-1)
    return EngineMap(engine=engine, states=states, latest_phasing=latest_phasing, weather=weather)


def _compressed(path: Path, weather: Weather, flow: Array, inlet: Array, ratio: Array) -> Array:
    """Temperature behind the compressor, with one efficiency or with a map's [K]."""
    efficiency = path.compressor_efficiency
    if np.any(np.asarray(path.map_flow_fall) + np.asarray(path.map_ratio_fall) > 0.0):
        corrected = compressor.corrected_flow(flow, weather.temperature, inlet, path.map_temperature, path.map_pressure)
        efficiency = compressor.efficiency_at(
            corrected,
            ratio,
            path.compressor_efficiency,
            path.map_flow,
            path.map_ratio,
            path.map_flow_fall,
            path.map_cross,
            path.map_ratio_fall,
        )
    return compressor.outlet_temperature(weather.temperature, ratio, efficiency)


#: Expansion ratios over which the flow and drive balances are inverted [1]; dense where the flow starts.
_EXPANSIONS = 1.0 + np.linspace(0.0, np.sqrt(11.0), 800) ** 2
_ELLIPSE = turbine.ellipse(_EXPANSIONS, TURBINE_EXPONENT)
_TURBINE_FLOW = _EXPANSIONS * _ELLIPSE
_GATE_FLOW = _EXPANSIONS * turbine.nozzle_function(_EXPANSIONS)
_DRIVE = _TURBINE_FLOW * (1.0 - _EXPANSIONS ** (-(gas.K_EXHAUST - 1.0) / gas.K_EXHAUST))


def _drive_expansion(work: Array, path: Path, outlet_pressure: Array, temperature: Array) -> Array:
    """Expansion ratio at which the turbine's own flow makes the compressor's work [1]."""
    available = path.turbine_flow * outlet_pressure * np.sqrt(temperature) * gas.CP_TURBINE * path.turbine_efficiency
    return np.asarray(np.interp(work / available, _DRIVE, _EXPANSIONS))


def _open_gate(
    needed: Array, path: Path, outlet_pressure: Array, temperature: Array, flow: Array
) -> tuple[Array, Array]:
    """Expansion ratio with the gate as far open as it must be, and the flow that driving the compressor takes.

    The gate opens until turbine and gate together pass the exhaust; where even the open gate is too small the
    pressure before them rises until they do.
    """
    scaled = flow * np.sqrt(temperature) / outlet_pressure
    driving = path.turbine_flow * np.interp(needed, _EXPANSIONS, _TURBINE_FLOW) * outlet_pressure / np.sqrt(temperature)
    wide_open = np.empty_like(scaled)
    areas = np.broadcast_to(np.asarray(path.gate_area) / np.sqrt(gas.R_EXHAUST), (scaled.shape[0], 1, 1))
    parameters = np.broadcast_to(path.turbine_flow, (scaled.shape[0], 1, 1))
    for row, (area, parameter) in enumerate(zip(areas.ravel(), parameters.ravel(), strict=True)):
        wide_open[row] = np.interp(scaled[row], parameter * _TURBINE_FLOW + area * _GATE_FLOW, _EXPANSIONS)
    return np.maximum(needed, wide_open), np.asarray(driving)
