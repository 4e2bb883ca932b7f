"""The tank side of the fuel system: pressure before the high-pressure pump, wiring, controller, filling."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from graph.model import Array
from graph.physics import pump

#: Gauge pressure before the high-pressure pump that fills it when hot, and at which hot petrol boils there [Pa]
#: (assumptions: 4 to 6 bar are asked for hot fuel; winter petrol of 90 kPa at 37.8 degC boils at 2 bar absolute near
#: 70 degC).
FILLING_PRESSURE = 4.0e5
VAPOUR_PRESSURE = 1.0e5
#: What :data:`graph.limit.LINKED` calls the current that the pump controller stands.
CONTROLLER = "controller current"


def inlet_pressure(volume_flow: Array | float, pressure: float, voltage: float, linked: Mapping[str, float]) -> Array:
    """Gauge pressure before the high-pressure pump while the tank side passes a flow.

    Parameters
    ----------
    volume_flow : array
        Through the tank pump, jet pump included [m3/s].
    pressure : float
        That the regulator holds, gauge [Pa].
    voltage : float
        At the pump with sound wiring [V].
    linked : mapping of str to float
        What tank pump, wiring, filter and line say [SI]; a part that says nothing is adequate.

    Returns
    -------
    array
        Gauge [Pa], never above `pressure`. Drops inside the stated drop of filter, line and wiring are contained in
        `pressure` and `voltage`; only what goes beyond is taken off.

    References
    ----------
    Pump line of :func:`graph.physics.pump.flow_at` solved for the pressure; loss of filter and line with flow squared
    (White, Fluid Mechanics, ch. 6, from memory); Ohm's law.

    Examples
    --------
    A pump rated 30 cm3/s at 5.5 bar that must pass 10 % more gives way by 10 / 6 bar:

    >>> said = {"tank pump flow": 30e-6, "tank pump pressure": 5.5e5, "tank pump voltage": 13.2}
    >>> round(float(inlet_pressure(33e-6, 5.5e5, 13.2, said)) / 1e5, 3)
    3.833
    """
    flow = np.asarray(volume_flow, dtype=float)
    held = np.full(flow.shape, pressure)
    if "tank pump flow" in linked:
        free = linked["tank pump flow"] * np.maximum(
            1.0 + pump.VOLTAGE_GAIN * (pump_voltage(flow, voltage, linked) - linked["tank pump voltage"]), 1e-6
        )
        given = linked["tank pump pressure"] + (1.0 - flow / free) / pump.PRESSURE_LOSS * 1e5
        held = np.minimum(held, given)
    for part in ("filter", "line"):
        if f"{part} flow" in linked:
            beyond = np.maximum((flow / linked[f"{part} flow"]) ** 2 - 1.0, 0.0)
            held = held - linked[f"{part} drop"] * beyond
    return np.asarray(np.maximum(held, 0.0))


def pump_voltage(volume_flow: Array | float, voltage: float, linked: Mapping[str, float]) -> Array:
    """Voltage at the tank pump, less what the wiring drops beyond its stated drop.

    Parameters
    ----------
    volume_flow : array
        Through the tank pump [m3/s].
    voltage : float
        At the pump with sound wiring [V].
    linked : mapping of str to float
        What pump and wiring say [SI].

    Returns
    -------
    array
        [V]

    References
    ----------
    Ohm's law; current at part flow after :func:`graph.physics.pump.current_at`.

    Examples
    --------
    20 A through wiring that drops 0.5 V at 10 A: 1.0 V, half a volt more than stated.

    >>> said = {"tank pump flow": 1.0, "tank pump current": 20.0, "wiring current": 10.0, "wiring drop": 0.5}
    >>> float(pump_voltage(1.0, 13.2, said))
    12.7
    """
    flow = np.asarray(volume_flow, dtype=float)
    if "tank pump current" not in linked or "wiring current" not in linked:
        return np.full(flow.shape, voltage)
    current = pump.current_at(linked["tank pump current"], flow, linked["tank pump flow"])
    beyond = np.maximum(current / linked["wiring current"] - 1.0, 0.0)
    return np.asarray(voltage - linked["wiring drop"] * beyond)


def controlled_flow(linked: Mapping[str, float]) -> float:
    """Flow at which the controller's current for the time asked is reached.

    Parameters
    ----------
    linked : mapping of str to float
        What pump and controller say [SI].

    Returns
    -------
    float
        [m3/s]; infinity where nothing is said, 0 where the current does not even hold the pressure.

    References
    ----------
    :func:`graph.physics.pump.current_at` solved for the flow.

    Examples
    --------
    Half of 20 A holds the pressure; the other 10 A go with the flow, so 15 A pass half of it:

    >>> controlled_flow({"tank pump flow": 60e-6, "tank pump current": 20.0, "controller current": 15.0})
    3e-05
    """
    if "tank pump current" not in linked or CONTROLLER not in linked:
        return float("inf")
    idle = pump.IDLE_CURRENT
    share = (linked[CONTROLLER] / linked["tank pump current"] - idle) / (1.0 - idle)
    return max(share, 0.0) * linked["tank pump flow"]


def filling(inlet: Array | float) -> Array:
    """Share of its stroke that a high-pressure pump fills.

    Parameters
    ----------
    inlet : array
        Gauge pressure before it [Pa].

    Returns
    -------
    array
        [1]: 1 from :data:`FILLING_PRESSURE` up, 0 where hot fuel boils.

    References
    ----------
    Assumption: straight between the two pressures.

    Examples
    --------
    >>> float(filling(4.5e5)), float(filling(2.5e5))
    (1.0, 0.5)
    """
    return np.asarray(np.clip((np.asarray(inlet) - VAPOUR_PRESSURE) / (FILLING_PRESSURE - VAPOUR_PRESSURE), 0.0, 1.0))
