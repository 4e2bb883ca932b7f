"""Fuel pumps and their controller: flow per revolution, flow per hour, current and heat."""

from __future__ import annotations

import numpy as np

from graph.model import Array

#: Gain of an electric pump's flow with voltage [1/V] and its loss with pressure [1/bar] (trade pages: about 10 %
#: per volt; the fall with pressure from typical curves, assumption).
VOLTAGE_GAIN = 0.09
PRESSURE_LOSS = 0.06
#: Share of the rated current that holds the pressure at no flow [1] (assumption).
IDLE_CURRENT = 0.5


def volume_flow(fuel_flow: Array | float, density: Array | float, extra: Array | float = 0.0) -> Array:
    """Volume flow that the low side must deliver.

    Parameters
    ----------
    fuel_flow : array
        Burned [kg/s].
    density : array
        [kg/m3]
    extra : array
        Flow to the jet pump [m3/s].

    Returns
    -------
    array
        [m3/s]

    References
    ----------
    Continuity.

    Examples
    --------
    >>> round(float(volume_flow(0.0225, 750.0, 1e-5)), 9)
    4e-05
    """
    return np.asarray(np.asarray(fuel_flow) / np.asarray(density) + np.asarray(extra))


def cam_pump_flow(
    stroke_volume: Array | float, lobes: float, speed: Array | float, efficiency: Array | float, density: Array | float
) -> Array:
    """Mass flow of a cam-driven piston pump; the cam turns at half engine speed.

    Parameters
    ----------
    stroke_volume : array
        Volume per stroke [m3].
    lobes : float
        Lobes on the cam [1].
    speed : array
        Engine speed [1/s].
    efficiency : array
        Volumetric [1].
    density : array
        [kg/m3]

    Returns
    -------
    array
        [kg/s]

    References
    ----------
    Continuity.

    Examples
    --------
    >>> round(float(cam_pump_flow(np.pi / 4 * 0.01**2 * 0.0035, 4, 6500.0 / 60.0, 0.82, 750.0)) * 1e3, 2)
    36.63
    """
    strokes = lobes * np.asarray(speed) / 2.0
    return np.asarray(np.asarray(stroke_volume) * strokes * np.asarray(efficiency) * np.asarray(density))


def flow_at(
    flow: Array | float, rated_pressure: float, rated_voltage: float, pressure: Array | float, voltage: Array | float
) -> Array:
    """Flow of an electric pump near its rated point.

    Parameters
    ----------
    flow : array
        Rated [m3/s].
    rated_pressure : float
        At the rating, gauge [Pa].
    rated_voltage : float
        At the rating, at the pump [V].
    pressure : array
        In use, gauge [Pa].
    voltage : array
        In use, at the pump [V].

    Returns
    -------
    array
        [m3/s], never below 0.

    References
    ----------
    Linear near the rated point: +9 % per volt (700 to 800 lb/h from 12.0 to 13.5 V on a public pump page), -6 % per
    bar (assumption).

    Examples
    --------
    >>> float(flow_at(1.0, 5.5e5, 13.2, 5.5e5, 13.2))
    1.0
    """
    gain = 1.0 + VOLTAGE_GAIN * (np.asarray(voltage) - rated_voltage)
    loss = 1.0 - PRESSURE_LOSS * (np.asarray(pressure) - rated_pressure) / 1e5
    return np.asarray(np.asarray(flow) * np.maximum(gain, 0.0) * np.maximum(loss, 0.0))


def motor_current(pressure: Array | float, flow: Array | float, voltage: float, efficiency: float = 0.30) -> Array:
    """Current of an electric pump from its hydraulic power.

    Parameters
    ----------
    pressure : array
        Pressure rise [Pa].
    flow : array
        [m3/s]
    voltage : float
        [V]
    efficiency : float
        Overall [1], 0.25 to 0.40.

    Returns
    -------
    array
        [A]

    References
    ----------
    Energy balance; efficiency an assumption.

    Examples
    --------
    >>> round(float(motor_current(6e5, 0.03 / 745.0, 13.5)), 2)
    5.97
    """
    return np.asarray(np.asarray(pressure) * np.asarray(flow) / (efficiency * voltage))


def current_at(
    rated_current: Array | float, flow: Array | float, rated_flow: Array | float, idle: float = IDLE_CURRENT
) -> Array:
    """Motor current at part flow: pressure sets one share of it, flow the rest.

    Parameters
    ----------
    rated_current : array
        At the rated flow and pressure [A].
    flow, rated_flow : array
        [m3/s]
    idle : float
        Share of the current at no flow and the same pressure [1].

    Returns
    -------
    array
        [A]

    References
    ----------
    Torque of a positive-displacement pump follows pressure, its losses follow speed; the share is an assumption.

    Examples
    --------
    >>> float(current_at(20.0, 0.5, 1.0))
    15.0
    """
    share = np.asarray(flow) / np.asarray(rated_flow)
    return np.asarray(np.asarray(rated_current) * (idle + (1.0 - idle) * share))


def controller_rise(current: Array | float, resistance: float, thermal_resistance: float) -> Array:
    """Steady rise of a controller above its case by conduction loss.

    Parameters
    ----------
    current : array
        [A]
    resistance : float
        Of the switch [ohm].
    thermal_resistance : float
        [K/W]

    Returns
    -------
    array
        [K]

    References
    ----------
    Joule heat through a thermal resistance.

    Examples
    --------
    >>> round(float(controller_rise(18.0, 0.012, 6.0)), 2)
    23.33
    """
    return np.asarray(np.asarray(current) ** 2 * resistance * thermal_resistance)


def allowed_current(continuous: Array | float, duration: Array | float, time_constant: Array | float) -> Array:
    """Current that heats a controller no further in a limited time than its continuous current does for ever.

    Parameters
    ----------
    continuous : array
        [A]
    duration : array
        [s]
    time_constant : array
        Of the case [s].

    Returns
    -------
    array
        [A]

    References
    ----------
    First-order heating with loss proportional to current squared.

    Examples
    --------
    >>> round(float(allowed_current(12.0, 1e9, 540.0)), 6)
    12.0
    """
    reached = -np.expm1(-np.asarray(duration) / np.asarray(time_constant))
    return np.asarray(np.asarray(continuous) / np.sqrt(reached))


def cam_pump_efficiency(
    pressure: Array | float,
    geometric_flow: Array | float,
    base: float = 0.96,
    modulus: float = 0.7e9,
    dead_ratio: float = 1.0,
    leak: float = 0.0,
) -> Array:
    """Volumetric efficiency of a cam-driven piston pump from compression and leakage.

    Parameters
    ----------
    pressure : array
        Rail pressure [Pa].
    geometric_flow : array
        Volume swept per time [m3/s], above 0.
    base : float
        Efficiency without compression and leakage [1], 0.95 to 0.97.
    modulus : float
        Bulk modulus of the fuel [Pa]: 0.9 GPa at 20 degC, 0.7 at 60, 0.6 at 90.
    dead_ratio : float
        Dead volume over swept volume [1].
    leak : float
        Leakage per pressure, independent of speed [m3/(s.Pa)].

    Returns
    -------
    array
        [1], never below 0. Filling losses at high speed are not included.

    References
    ----------
    Mass balance of a stroke; moduli from reference equations of state of n-heptane, n-octane and toluene, secant from
    0.6 to 20 MPa, for petrol with 30 % aromatics; base efficiency an assumption.

    Examples
    --------
    >>> round(0.96 - float(cam_pump_efficiency(200e5, 5e-5)), 4)
    0.0571
    """
    pressure = np.asarray(pressure, dtype=float)
    compressed = pressure / modulus * (1.0 + dead_ratio)
    return np.asarray(np.maximum(base - compressed - leak * pressure / np.asarray(geometric_flow), 0.0))


def delivery_per_turn(stroke_volume: Array | float, lobes: float, efficiency: Array | float) -> Array:
    """Volume that a cam-driven piston pump delivers per turn of the crankshaft.

    Parameters
    ----------
    stroke_volume : array
        Volume per stroke [m3].
    lobes : float
        Lobes on the cam [1].
    efficiency : array
        Volumetric [1].

    Returns
    -------
    array
        [m3]

    References
    ----------
    Continuity; the cam turns at half engine speed.

    Examples
    --------
    >>> round(float(delivery_per_turn(0.188e-6, 4.0, 0.85)) * 1e6, 4)
    0.3196
    """
    return np.asarray(np.asarray(stroke_volume) * lobes / 2.0 * np.asarray(efficiency))


def filled(flow: Array | float, filling: Array | float) -> Array:
    """Flow of a pump whose cylinder does not fill.

    Parameters
    ----------
    flow : array
        With full strokes [kg/s].
    filling : array
        Share of the stroke that fills [1].

    Returns
    -------
    array
        [kg/s]

    References
    ----------
    Continuity.

    Examples
    --------
    >>> float(filled(0.020, 0.75))
    0.015
    """
    return np.asarray(np.asarray(flow) * np.asarray(filling))
