"""The balance of the engine written out in plain Python floats, one state at a time: a second opinion and a baseline.

The same equations and tables as `graph.operation.solve` without mist, with `math`, `bisect` and lists in place of arrays.
"""

import math
from bisect import bisect_right

import numpy as np

from graph import drive, operation
from graph.physics import air, combustion_table, gas
from graph.physics.cycle import RELEASED
from graph.physics.fuel import CP_LIQUID_FUEL

#: What a state is returned as, by the names of `graph.operation.STATE`.
STATES = (
    "torque",
    "air_flow",
    "turbine_inlet_pressure",
    "exhaust_temperature",
    "charge_temperature",
    "peak_pressure",
)


def interpolated(at, nodes, values):
    """Straight between nodes, held at both ends."""
    if at <= nodes[0]:
        return values[0]
    if at >= nodes[-1]:
        return values[-1]
    i = bisect_right(nodes, at) - 1
    return values[i] + (values[i + 1] - values[i]) / (nodes[i + 1] - nodes[i]) * (at - nodes[i])


def placed(at, first, step, count):
    """Lower index among evenly spaced nodes and share of the upper one, extended beyond both ends."""
    place = (at - first) / step
    index = min(max(math.floor(place), 0), count - 2)
    return index, place - index


def between(table, d, df, k, kf):
    low, high = table[d], table[d + 1]
    one = low[k] + kf * (low[k + 1] - low[k])
    other = high[k] + kf * (high[k + 1] - high[k])
    return one + df * (other - one)


class Plain:
    """One platform, fuel and day in plain numbers."""

    def __init__(self, engine, fuel, weather):
        table = engine.table
        self.engine, self.fuel, self.weather = engine, fuel, weather
        self.constants = dict(engine.platform.constants)
        self.speed, self.mixture, self.filling = (
            a.tolist() for a in (engine.speed, engine.mixture, engine.volumetric_efficiency)
        )
        self.fields = [f.tolist() for f in table.fields]
        self.best, self.knock, self.slope, self.bend, self.pressed = (
            a.tolist()
            for a in (
                table.best_phasing,
                table.knock_phasing,
                table.knock_slope,
                table.knock_bend,
                table.pressure_phasing,
            )
        )
        self.grids = [
            (float(g[0]), float(g[1] - g[0]), g.size)
            for g in (combustion_table.DENSITIES, combustion_table.PHASINGS, table.knock_levels, table.pressure_levels)
        ]
        self.expansions, self.turbine, self.gate, self.drive = (
            a.tolist() for a in (drive._EXPANSIONS, drive._TURBINE_FLOW, drive._GATE_FLOW, drive._DRIVE)
        )
        self.factors = [a.tolist() for a in (air._LAMBDA, air._USEFUL, air._RICHNESS, air._RELEASED)]
        self.displacement = float(engine.displacement)

    def states(self, path, levels):
        """What :data:`STATES` names, for every level and speed."""
        passed = [path["turbine_flow"] * t + path["gate_area"] / math.sqrt(gas.R_EXHAUST) * g
                  for t, g in zip(self.turbine, self.gate, strict=True)]  # fmt: skip
        return [[self.state(path, passed, level, n) for n in range(len(self.speed))] for level in levels]

    def state(self, path, passed, manifold, n):
        fuel, weather, constants = self.fuel, self.weather, self.constants
        ambient, outside = weather.pressure, weather.temperature
        speed, mixture = self.speed[n], self.mixture[n]
        ratio = constants["compression ratio"]
        swept = self.displacement * speed / 2.0
        useful, freed = self.factors[:2], self.factors[2:]
        heat = fuel.heating_value / fuel.stoichiometric_ratio * interpolated(mixture, *useful) / max(mixture, 1.0)
        fuel_air = 1.0 / (mixture * fuel.stoichiometric_ratio)
        liberated = interpolated(1.0 / mixture, *freed) * fuel.heating_value * fuel_air
        cooling = constants["evaporated share"] * fuel_air * fuel.latent_heat / (gas.CP_AIR + fuel_air * CP_LIQUID_FUEL)
        octane = fuel.research_octane - operation.OCTANE_WEIGHT * (fuel.research_octane - fuel.motor_octane)
        octane += path["octane_shift"] + 2.0 * 14.3 * abs(mixture - 0.95)
        level = 3.402 * math.log(octane / 100.0) + math.log(constants["knock factor"] * path["knock_gain"])
        level += constants["knock speed exponent"] * math.log(100.0 / speed)
        ceiling = math.log(path["peak_pressure"])
        densities, phasings, knocks, pressures = self.grids
        air_density = ambient / (gas.R_AIR * outside)
        breathing, span = self.filling[n] * path["breathing"], ratio - 1.0
        charge, inlet, outlet = outside + 30.0, max(1.05 * manifold, 1.05 * ambient), 1.15 * ambient
        released, units = RELEASED * heat, -math.log1p(-path["cooler_effectiveness"])
        for _ in range(operation.ITERATIONS):
            back = inlet / manifold
            factor = max(ratio / span - (back + 0.3) / (1.3 * span), operation.LEAST_FILLING)
            flow = breathing * factor * manifold / (gas.R_AIR * charge) * swept
            before = ambient - (path["box_loss"] + path["pipe_loss"]) * flow * flow / air_density
            before = max(before, 0.5 * ambient)
            density = manifold / (gas.R_AIR * charge)
            boost = manifold + operation.THROTTLE_LOSS * flow * flow / density
            after = boost + path["cooler_loss"] * flow * flow / density
            squeezed = max(after / before, 1.0)
            efficiency = path["compressor_efficiency"]
            if path["map_flow_fall"] or path["map_ratio_fall"]:
                corrected = flow * math.sqrt(outside / path["map_temperature"]) / (before / path["map_pressure"])
                x, y = corrected / path["map_flow"] - 1.0, math.sqrt(squeezed) - path["map_ratio"]
                fall = path["map_flow_fall"] * x * x + 2.0 * path["map_cross"] * x * y + path["map_ratio_fall"] * y * y
                efficiency = max(efficiency - fall, 0.40)
            hot = outside * (1.0 + (squeezed ** (0.4 / 1.4) - 1.0) / efficiency)
            cooled = -math.expm1(-units * (flow / path["cooler_flow"]) ** -path["cooler_exponent"])
            cooled /= 1.0 + path["cooler_soak"] * flow * gas.CP_AIR * cooled
            charge = hot - cooled * (hot - outside)
            exhaust = flow * (1.0 + fuel_air)
            trapped = flow / swept
            residual = back ** (1.0 / 1.3) * charge / (operation.RESIDUAL_TEMPERATURE * ratio)
            mixed = (1.0 - residual) * (charge + operation.PORT_WARMING - cooling)
            mixed += residual * operation.RESIDUAL_TEMPERATURE
            away = mixed - combustion_table.MEAN_TEMPERATURE
            d, df = placed(trapped, *densities)
            best = self.best[n][d] + df * (self.best[n][d + 1] - self.best[n][d])
            k, kf = placed(level, *knocks)
            slope, bend = (between(t[n], d, df, k, kf) for t in (self.slope, self.bend))
            k, kf = placed(level - away * (slope + away * bend), *knocks)
            phasing = max(best, between(self.knock[n], d, df, k, kf))
            k, kf = placed(ceiling, *pressures)
            phasing = max(phasing, between(self.pressed[n], d, df, k, kf))
            c, cf = placed(phasing, *phasings)
            work_share, wall_share = (
                between(self.fields[i][n], d, df, c, cf) + away * between(self.fields[i + 1][n], d, df, c, cf)
                for i in (0, 2)
            )
            kept = (work_share + wall_share) * released
            heat_rise = operation.PORT_FACTOR * (liberated - kept) / ((1.0 + fuel_air) * gas.CP_EXHAUST)
            gas_temperature = charge + heat_rise
            work = flow * gas.CP_AIR * (hot - outside)
            leaving = gas_temperature - work / (exhaust * gas.CP_TURBINE)
            behind = ambient + path["silencer_loss"] * exhaust * exhaust / (ambient / (gas.R_EXHAUST * leaving))
            middle = 0.5 * (behind + outlet) / (gas.R_EXHAUST * leaving)
            outlet = behind + path["catalyst_loss"] * exhaust * exhaust / middle
            inlet = max(operation.REFERENCE_BACK_PRESSURE * manifold, outlet)
            if path["turbine_given"] > 0.5:
                root = math.sqrt(gas_temperature)
                available = path["turbine_flow"] * outlet * root * gas.CP_TURBINE * path["turbine_efficiency"]
                needed = interpolated(work / available, self.drive, self.expansions)
                inlet = max(needed, interpolated(exhaust * root / outlet, passed, self.expansions)) * outlet
        peak = math.exp(between(self.fields[4][n], d, df, c, cf) + away * between(self.fields[5][n], d, df, c, cf))
        pumping = 0.85 * (inlet - manifold) + 0.11e5 * (speed / 100.0) ** 2 * manifold / 1e5
        piston = 2.0 * constants["stroke"] * speed
        rubbing = 0.35e5 + 0.005 * peak + 0.06e5 * piston + 0.001e5 * piston * piston
        rubbing *= constants["friction factor"] * path["friction_gain"]
        torque = (work_share * released * trapped - pumping - rubbing) * self.displacement / (4.0 * math.pi)
        return torque, flow, inlet, gas_temperature, charge, peak


def full(path):
    """A configuration with the reference state where it says nothing, in floats."""
    return {
        name: float(np.asarray(path.get(name, getattr(operation.REFERENCE, name)))) for name in operation.PATH_FIELDS
    }
