"""The state of the engine at full load, over the whole speed range, for a batch of configurations.

For every configuration, manifold pressure and speed the breathing, compressor, charge cooler, combustion, turbine
and wastegate are brought into balance (:func:`solve`). The answer is an :class:`EngineMap`; an operating point for a
wanted torque is read from it at the lowest manifold pressure that makes the torque (:meth:`EngineMap.at`).
Boost is a result.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from graph.drive import Drive
from graph.engine import PLATFORM_CONSTANTS, PLATFORM_CURVES, PLATFORM_RANGES, SPEEDS, Engine, prepare
from graph.engine_map import STATE, EngineMap
from graph.model import Array, Fuel, Weather
from graph.path import (
    COOLER_EXPONENT,
    MODEL_SPREAD,
    PATH_FIELDS,
    REFERENCE,
    REFERENCE_BACK_PRESSURE,
    REFERENCE_WORDS,
    Path,
    stack_paths,
)
from graph.physics import air, combustion, compressor, cooler, friction, fuel, gas, heat, mist, pipe
from graph.physics.combustion_table import Reading
from graph.physics.cycle import RELEASED

__all__ = [
    "COOLER_EXPONENT",
    "LEVELS",
    "MODEL_SPREAD",
    "OCTANE_WEIGHT",
    "PATH_FIELDS",
    "PLATFORM_CONSTANTS",
    "PLATFORM_CURVES",
    "PLATFORM_RANGES",
    "REFERENCE",
    "REFERENCE_WORDS",
    "SPEEDS",
    "STATE",
    "Engine",
    "EngineMap",
    "Path",
    "prepare",
    "solve",
    "stack_paths",
]

#: Manifold pressures for which the engine is brought into balance [Pa]. Between them values run straight.
LEVELS = np.concatenate([np.linspace(0.7e5, 1.5e5, 5), np.linspace(1.65e5, 4.05e5, 17), np.linspace(4.3e5, 5.2e5, 4)])
ITERATIONS = 8
#: States that are balanced side by side: few enough for the processor's cache [1].
SIDE_BY_SIDE = 12_000

#: Wide-open throttle: 2.9 kPa at 0.30 kg/s and 2.9 bar, 330 K (Heywood App. C, 60 mm bore).
THROTTLE_LOSS = 2900.0 * 3.06 / 0.30**2
#: Least factor of back pressure on filling: states beyond it have no operating point anyway [1].
LEAST_FILLING = 0.2
#: Warming of the charge in the ports [K] and temperature of residual gas [K] (assumptions).
PORT_WARMING = 14.0
RESIDUAL_TEMPERATURE = 1150.0
#: Share of the enthalpy rise that reaches the turbine inlet: port heat loss (assumption, calibrates gas temperature).
PORT_FACTOR = 0.86
#: Octane index OI = RON - K (RON - MON) with K about -0.5 on boosted engines (Kalghatgi; band -1.2 to 0).
OCTANE_WEIGHT = -0.5
#: Shares of the fuel heat that go to coolant and oil at full load (published balances: 15 to 22 % together, here
#: the upper end, since it sizes coolers; wall heat, port heat and friction of the model sum to 13 to 20 %).
COOLANT_SHARE = 0.17
OIL_SHARE = 0.05


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
        States of shape (B, F, L, N).
    """
    given = [getattr(path, name) for name in PATH_FIELDS]
    around = (engine.volumetric_efficiency, engine.mixture, octane_weight)
    batch = max(np.shape(value)[0] if np.ndim(value) == 3 else 1 for value in (*given, *around))
    speeds = engine.speed.size
    states = np.empty((batch, len(STATE), LEVELS.size, speeds))
    step = max(1, SIDE_BY_SIDE // (LEVELS.size * speeds))
    for first in range(0, batch, step):
        rows = slice(first, first + step)
        some = Path(**{name: _rows(value, rows) for name, value in zip(PATH_FIELDS, given, strict=True)})
        breathing, mixture, weight = (_rows(value, rows) for value in around)
        part = replace(engine, volumetric_efficiency=breathing, mixture=mixture)
        into = states[rows].reshape(-1, len(STATE), LEVELS.size * speeds)
        _balance(part, some, fuel_burned, weather, weight, into)
    return EngineMap(engine=engine, states=states, latest_phasing=latest_phasing, weather=weather)


def _rows(value: Array | float, rows: slice) -> Array:
    """Some configurations of a value that may be the same for all of them."""
    array = np.asarray(value, dtype=float)
    return array[rows] if array.ndim == 3 and array.shape[0] > 1 else array


def _flat(value: Array | float, speeds: int) -> Array:
    """A value that broadcasts against (B, L, N) as one that broadcasts against (B, L N), held once where it is the same."""
    array = np.asarray(value)
    array = _once(array.reshape((1,) * (3 - array.ndim) + array.shape))
    if array.shape[1:] == (1, 1):
        return array[:, :, 0]
    return np.broadcast_to(array, (array.shape[0], LEVELS.size, speeds)).reshape(array.shape[0], -1)


def _once(array: Array) -> Array:
    """Only the first configuration where all are the same."""
    return array[:1] if array.shape[0] > 1 and (array == array[:1]).all() else array


def _balance(
    engine: Engine, path: Path, fuel_burned: Fuel, weather: Weather, octane_weight: Array, into: Array
) -> None:
    """Balance some configurations, shape (B, 1, 1), and write their states, shape (B, F, L N)."""
    constants, speeds = engine.platform.constants, engine.speed.size
    octane = fuel.octane_index(fuel_burned.research_octane, fuel_burned.motor_octane, octane_weight) + path.octane_shift
    factor = constants["knock factor"] * path.knock_gain
    level = combustion.knock_level(octane, engine.speed, engine.mixture, factor, constants["knock speed exponent"])
    level = _once(np.asarray(level).reshape(-1, speeds))
    path = Path(**{name: _flat(getattr(path, name), speeds) for name in PATH_FIELDS})
    speed, mixture = _flat(engine.speed, speeds), _flat(engine.mixture, speeds)
    manifold = _flat(LEVELS[:, None], speeds)
    reading = Reading(engine.table, np.tile(np.arange(speeds), LEVELS.size), level, np.asarray(path.peak_pressure))
    swept_flow = engine.displacement * speed / 2.0
    heat_per_air = fuel_burned.heating_value / fuel_burned.stoichiometric_ratio * air.mixture_factor(mixture)
    fuel_air = 1.0 / (mixture * fuel_burned.stoichiometric_ratio)
    liberated = air.heat_release_fraction(1.0 / mixture) * fuel_burned.heating_value * fuel_air
    spray = path.mist_share * fuel_air
    burnt = fuel_air - mist.fuel_replaced(spray, path.mist_methanol, fuel_burned.stoichiometric_ratio)
    added = burnt + spray
    steam = spray * (1.0 - np.asarray(path.mist_methanol)) * mist.WATER_LATENT_HEAT
    cooling = mist.charge_cooling(
        burnt, fuel_burned.latent_heat, constants["evaporated share"], spray, path.mist_methanol
    )
    ambient_density = pipe.gas_density(weather.pressure, weather.temperature)
    breathing = _flat(engine.volumetric_efficiency, speeds) * path.breathing
    ratio = constants["compression ratio"]
    released = RELEASED * heat_per_air
    exhausted, warmed = 1.0 + added, PORT_WARMING - cooling
    freed, taken = (PORT_FACTOR * joules / (exhausted * gas.CP_EXHAUST) for joules in (liberated - steam, released))
    inlet_loss = path.box_loss + path.pipe_loss
    soaked = bool(np.any(path.cooler_soak))
    drive = Drive(path, into.shape[0])
    shape = (into.shape[0], LEVELS.size * speeds)
    charge = np.full(shape, weather.temperature + 30.0)
    inlet_pressure = np.maximum(1.05 * manifold, weather.pressure * 1.05) * np.ones(shape)
    outlet_pressure = np.full(shape, weather.pressure * 1.15)
    for _ in range(ITERATIONS):
        back = inlet_pressure / manifold
        filling = breathing * np.maximum(air.exhaust_pressure_factor(ratio, back), LEAST_FILLING)
        charge_density = pipe.gas_density(manifold, charge)
        density = filling * charge_density
        flow = density * swept_flow
        before = weather.pressure - pipe.pressure_loss(inlet_loss, flow, ambient_density)
        before = np.maximum(before, 0.5 * weather.pressure)
        after = manifold + pipe.pressure_loss(THROTTLE_LOSS + path.cooler_loss, flow, charge_density)
        hot = _compressed(path, weather, flow, before, np.maximum(after / before, 1.0))
        effectiveness = cooler.effectiveness_at_flow(
            path.cooler_effectiveness, path.cooler_flow, flow, path.cooler_exponent
        )
        if soaked:
            effectiveness = cooler.soaked_effectiveness(effectiveness, path.cooler_soak, flow)
        charge = cooler.outlet_temperature(hot, weather.temperature, effectiveness)
        exhaust_flow = flow * exhausted
        residual = air.residual_fraction(ratio, back, charge, RESIDUAL_TEMPERATURE)
        mixed = (1.0 - residual) * (charge + warmed) + residual * RESIDUAL_TEMPERATURE
        best, knock, phasing, kept = reading.burn(density, mixed)
        exhaust_temperature = charge + (freed - kept * taken)
        work = compressor.power(flow, weather.temperature, hot)
        outlet_temperature = exhaust_temperature - work / (exhaust_flow * gas.CP_TURBINE)
        behind = weather.pressure + pipe.pressure_loss(
            path.silencer_loss, exhaust_flow, pipe.gas_density(weather.pressure, outlet_temperature, gas.R_EXHAUST)
        )
        between = pipe.gas_density(0.5 * (behind + outlet_pressure), outlet_temperature, gas.R_EXHAUST)
        outlet_pressure = behind + pipe.pressure_loss(path.catalyst_loss, exhaust_flow, between)
        inlet_pressure = np.maximum(REFERENCE_BACK_PRESSURE * manifold, outlet_pressure)
        if drive.any:
            needed = drive.expansion(work, outlet_pressure, exhaust_temperature)
            opened = drive.opened(needed, outlet_pressure, exhaust_temperature, exhaust_flow)
            inlet_pressure[drive.rows] = opened * outlet_pressure[drive.rows]
    efficiency, peak = reading.read(density, mixed, phasing)
    pumping = friction.pumping(inlet_pressure, manifold, speed)
    rubbing = (
        constants["friction factor"]
        * path.friction_gain
        * friction.chen_flynn(peak, friction.piston_speed(constants["stroke"], speed))
    )
    indicated = efficiency * released * density
    turbine_flow, gate_flow, share = np.zeros((3, *shape))
    if drive.any:
        turbine_flow[drive.rows] = drive.flow(needed, outlet_pressure, exhaust_temperature)
        gate_flow[drive.rows] = np.maximum(exhaust_flow - turbine_flow, 0.0)[drive.rows]
        share[drive.rows] = (turbine_flow / exhaust_flow)[drive.rows]
    values = {
        "torque": (indicated - pumping - rubbing) * engine.displacement / (4.0 * np.pi),
        "manifold_pressure": manifold,
        "boost_pressure": manifold + pipe.pressure_loss(THROTTLE_LOSS, flow, charge_density),
        "air_flow": flow,
        "fuel_flow": flow * burnt,
        "exhaust_flow": exhaust_flow,
        "charge_temperature": charge,
        "compressor_inlet_pressure": before,
        "compressor_outlet_pressure": after,
        "compressor_outlet_temperature": hot,
        "turbine_inlet_pressure": inlet_pressure,
        "turbine_outlet_pressure": outlet_pressure,
        "exhaust_temperature": exhaust_temperature,
        "gate_flow": gate_flow,
        "turbine_flow": turbine_flow,
        "phasing": phasing,
        "best_phasing": best,
        "peak_pressure": peak,
        "spark_density": combustion.spark_density(
            engine.geometry, density * exhausted / (1.0 - residual), phasing, speed
        ),
        "coolant_heat": heat.heat_to_coolant(flow * fuel_air, fuel_burned.heating_value, COOLANT_SHARE),
        "oil_heat": heat.heat_to_oil(flow * fuel_air, fuel_burned.heating_value, OIL_SHARE),
        "knock_phasing": knock,
        "drive": share,
    }
    for column, name in enumerate(STATE):
        into[:, column] = values[name]


def _compressed(path: Path, weather: Weather, flow: Array, inlet: Array, ratio: Array) -> Array:
    """Temperature behind the compressor, with one efficiency or with a map's [K]."""
    efficiency = path.compressor_efficiency
    if np.any(path.map_flow_fall) or np.any(path.map_ratio_fall):
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
