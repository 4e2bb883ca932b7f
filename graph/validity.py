"""Where an answer leaves the range for which a formula was made, in sentences."""

from __future__ import annotations

import numpy as np

from graph.model import Array, Build, Curve, Operation, Target
from graph.operation import OCTANE_WEIGHT
from graph.physics import compressor, fuel, map_points, pressure
from graph.subject import Anatomy

#: Octane numbers for which the ignition delay was measured (reference fuels, SAE 780080, from memory) [1].
OCTANE_RANGE = (80.0, 100.0)
#: Mixtures over which the useful heat is tabulated [1].
MIXTURE_RANGE = (0.75, 1.0)
#: Pressure ratio up to which a constant ratio of heat capacities is within 0.3 % of real air [1].
HIGHEST_RATIO = 3.5
#: Charge temperature up to which the saturation of air with water is given [K].
HIGHEST_MAGNUS = 333.15
_LINES = ("speed line speed", "speed line flow", "speed line pressure ratio", "speed line efficiency")


def outside(build: Build, target: Target, anatomy: Anatomy, curve: Operation) -> tuple[str, ...]:
    """Sentences about formulas that are used beyond their range.

    Parameters
    ----------
    build : Build
        The car with its parts.
    target : Target
        What is asked.
    anatomy : Anatomy
        The build taken apart.
    curve : Operation
        State on the target curve with the car's own parts, shape (N,) [SI].

    Returns
    -------
    tuple of str
        Empty where every formula is inside its range.
    """
    burned, fed = target.fuel, anatomy.here()
    index = float(fuel.octane_index(burned.research_octane, burned.motor_octane, OCTANE_WEIGHT))
    index += fed.get("octane_shift", 0.0)
    mixture = build.platform.curves["lambda"].y
    found = [
        _beyond("ignition delay", "octane number", (index, index), OCTANE_RANGE, "{:.0f}"),
        _beyond("useful heat of a mixture", "lambda", (min(mixture), max(mixture)), MIXTURE_RANGE, "{:.2f}"),
    ]
    ratio = pressure.ratio(curve.compressor_outlet_pressure, curve.compressor_inlet_pressure)
    if np.isfinite(ratio).any():
        reached = (1.0, float(np.nanmax(ratio)))
        found.append(_beyond("work of the compressor", "pressure ratio", reached, (1.0, HIGHEST_RATIO), "{:.1f}"))
    if "mist_share" in fed and np.isfinite(curve.charge_temperature).any():
        warmest = float(np.nanmax(curve.charge_temperature)) - 273.15
        allowed = (-45.0, HIGHEST_MAGNUS - 273.15)
        found.append(_beyond("saturation with water", "charge of degC", (warmest, warmest), allowed, "{:.0f}"))
    return (*(f for f in found if f), *_off_the_map(build, target, curve, ratio))


def _beyond(formula: str, what: str, reached: tuple[float, float], allowed: tuple[float, float], form: str) -> str:
    """A sentence, or nothing where a range is kept."""
    low, high = reached
    if allowed[0] - 1e-9 <= low and high <= allowed[1] + 1e-9:
        return ""
    off = low if low < allowed[0] else high
    spoken = " to ".join(form.format(v) for v in allowed)
    return f"{formula}: made for {what} {spoken}, used at {form.format(off)}"


def _off_the_map(build: Build, target: Target, curve: Operation, ratio: Array) -> tuple[str, ...]:
    """A compressor with a map that works where no speed line is drawn."""
    found = []
    for place in build.places:
        part = place.part
        lines = [part.rating(name) for name in _LINES] if part is not None else []
        values = [r.value for r in lines if r is not None and isinstance(r.value, Curve)]
        if part is None or len(values) < len(_LINES) or lines[1] is None:
            continue
        made = map_points.speed_map(*values)
        temperature, reference = (lines[1].condition(f"reference {name}") for name in ("temperature", "pressure"))
        if not isinstance(temperature, float) or not isinstance(reference, float):
            continue
        flow = compressor.corrected_flow(
            curve.air_flow, target.weather.temperature, curve.compressor_inlet_pressure, temperature, reference
        )
        beyond = np.nan_to_num(made.speed_at(np.nan_to_num(flow, nan=0.1), np.nan_to_num(ratio, nan=1.5)))
        if np.any((beyond > made.highest_speed) & np.isfinite(flow)):
            found.append(f"map of {part.id}: drawn on beyond its last speed line")
    return tuple(found)
