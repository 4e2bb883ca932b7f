"""The unburned gas ahead of the flame: its temperature, and how much of the wait for auto-ignition has passed."""

from __future__ import annotations

import numpy as np

from graph.model import Array

#: Damping of the charge temperature in the end gas and the temperature about which it is damped [1], [K]. The bare
#: correlation is more sensitive than engines. Measured with the intake pressure held: one octane number per 7 K of
#: intake air (Russ, SAE 960497, abstract; band 5 to 10 K). 0.75 gives 9.3 to 9.8 K that way, between 330 and 370 K,
#: and takes 0.5 % of the load per kelvin, since warmer charge at the same pressure is also less charge.
KNOCK_DAMPING = 0.75
KNOCK_TEMPERATURE = 345.0
#: Burned share up to which the end gas can knock: the last tenth burns in cool wall layers [1] (assumption).
KNOCK_UNTIL = 0.90


def ignition_delay(octane: Array | float, pressure: Array | float, temperature: Array | float) -> Array:
    """Auto-ignition delay of Douaud and Eyzat.

    Parameters
    ----------
    octane : array
        Octane number [1]; derived for 80 to 100, beyond that an extrapolation.
    pressure : array
        End-gas pressure [Pa].
    temperature : array
        End-gas temperature [K].

    Returns
    -------
    array
        Delay [s].

    References
    ----------
    Douaud and Eyzat, SAE 780080, as printed by Heywood 1988, eq. 9.49: 17.68 ms, 3.402, -1.7, 3800 K, pressure in
    standard atmospheres (confirmed in secondary sources; the primary paper was not seen).

    Examples
    --------
    >>> round(float(ignition_delay(100.0, 40 * 101325.0, 850.0)) * 1e3, 4)
    2.921
    """
    atmospheres = np.asarray(pressure) / 101325.0
    return np.asarray(
        17.68e-3 * (np.asarray(octane) / 100.0) ** 3.402 * atmospheres**-1.7 * np.exp(3800.0 / np.asarray(temperature))
    )


def unburned_gamma(temperature: Array) -> Array:
    """Ratio of heat capacities of air and petrol vapour.

    Parameters
    ----------
    temperature : array
        300 to 1500 K, held above [K].

    Returns
    -------
    array
        [1]

    References
    ----------
    Fitted to a frozen mixture of iso-octane and air at equivalence ratio 1.1 (Cantera).

    Examples
    --------
    >>> round(float(unburned_gamma(np.array(300.0))), 4)
    1.3515
    """
    x = (np.minimum(temperature, 1500.0) - 300.0) / 1000.0
    return np.asarray(1.3515 - 0.1936 * x + 0.0832 * x * x)


def damped(temperature: Array) -> Array:
    """Temperature with which the end gas starts.

    Parameters
    ----------
    temperature : array
        Of the charge when the intake valve closes [K].

    Returns
    -------
    array
        [K]

    References
    ----------
    Russ, SAE 960497 (abstract): see :data:`KNOCK_DAMPING`.

    Examples
    --------
    >>> float(damped(np.array(365.0)))
    360.0
    """
    return np.asarray(KNOCK_TEMPERATURE + KNOCK_DAMPING * (temperature - KNOCK_TEMPERATURE))


def end_gas_step(temperature: Array, before: Array, after: Array, step_time: Array) -> tuple[Array, Array]:
    """Follow the unburned gas along a step of pressure.

    Parameters
    ----------
    temperature : array
        Of the end gas before the step [K].
    before, after : array
        Pressure at both ends of the step [Pa].
    step_time : array
        Duration of the step [s].

    Returns
    -------
    temperature : array
        After the step, isentropic [K].
    waited : array
        The step's part of the Livengood and Wu integral for octane number 100 [1].

    References
    ----------
    Livengood and Wu 1955; delay of :func:`ignition_delay`.

    Examples
    --------
    >>> _, waited = end_gas_step(np.array(850.0), np.array(40 * 101325.0), np.array(40 * 101325.0), np.array(2.921e-3))
    >>> round(float(waited), 3)
    1.0
    """
    gamma = unburned_gamma(temperature)
    following = temperature * (after / before) ** ((gamma - 1.0) / gamma)
    delay = ignition_delay(100.0, 0.5 * (before + after), 0.5 * (temperature + following))
    return np.asarray(following), np.asarray(step_time / delay)
