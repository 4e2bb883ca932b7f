"""Power correction factors of the standards, and where they may be used at all.

For a boost-controlled engine the pressure target is reached on any usual day, so a correction for ambient pressure
counts twice; the factor to report is 1 and the standard's own factor is for information only.
"""

from __future__ import annotations

import numpy as np

from graph.model import Array

#: Range of the factor in which ISO 1585 and SAE J1349 allow its use.
VALID = (0.93, 1.07)


def iso_1585(dry_pressure: Array | float, temperature: Array | float) -> Array:
    """Factor for spark-ignition engines.

    Parameters
    ----------
    dry_pressure : array
        Dry air pressure [Pa], 80 to 110 kPa.
    temperature : array
        Intake air temperature [K], 288 to 308.

    Returns
    -------
    array
        Factor on observed power [1].

    References
    ----------
    ISO 1585 / UN R85: (99 kPa / p)^1.2 (T / 298 K)^0.6 (secondary sources).

    Examples
    --------
    >>> round(float(iso_1585(95e3, 308.0)), 5)
    1.07175
    """
    return np.asarray((99e3 / np.asarray(dry_pressure)) ** 1.2 * (np.asarray(temperature) / 298.0) ** 0.6)


def sae_j1349_1990(dry_pressure: Array | float, temperature: Array | float) -> Array:
    """Factor of the 1990 form, which assumes 85 % mechanical efficiency.

    Parameters
    ----------
    dry_pressure : array
        Dry air pressure [Pa].
    temperature : array
        Intake air temperature [K].

    Returns
    -------
    array
        Factor on observed power [1].

    References
    ----------
    SAE J1349, June 1990, as quoted publicly: 1.180 (990 / p) (T / 298)^0.5 - 0.18, p in hPa.

    Examples
    --------
    >>> round(float(sae_j1349_1990(95e3, 308.0)), 5)
    1.07015
    """
    return np.asarray(1.180 * (99e3 / np.asarray(dry_pressure)) * np.sqrt(np.asarray(temperature) / 298.0) - 0.18)


def din_70020(pressure: Array | float, temperature: Array | float) -> Array:
    """Factor of the withdrawn German standard, on total pressure.

    Parameters
    ----------
    pressure : array
        Total absolute pressure [Pa].
    temperature : array
        Intake air temperature [K].

    Returns
    -------
    array
        Factor on observed power [1].

    References
    ----------
    DIN 70020 (withdrawn): 1013.25 / p * sqrt(T / 293) (three secondary sources).

    Examples
    --------
    >>> round(float(din_70020(95e3, 308.0)), 5)
    1.09354
    """
    return np.asarray(101325.0 / np.asarray(pressure) * np.sqrt(np.asarray(temperature) / 293.0))


def within_validity(factor: Array | float) -> Array:
    """True where a factor lies in the range in which the standards allow its use.

    Parameters
    ----------
    factor : array
        [1]

    Returns
    -------
    array of bool
        [1]

    References
    ----------
    0.93 to 1.07 (ISO 1585, SAE J1349, secondary sources).

    Examples
    --------
    >>> bool(within_validity(1.05)), bool(within_validity(1.072))
    (True, False)
    """
    return np.asarray((np.asarray(factor) >= VALID[0]) & (np.asarray(factor) <= VALID[1]))


def engine_factor(fuel_per_cycle: Array | float, boost_ratio: Array | float = 1.0) -> Array:
    """Engine factor f_m of the compression-ignition correction.

    Parameters
    ----------
    fuel_per_cycle : array
        Fuel per displaced volume and cycle [kg/m3]; 1 kg/m3 is 1000 mg per litre and cycle.
    boost_ratio : array
        Absolute charge pressure over ambient pressure [1].

    Returns
    -------
    array
        Exponent on the atmospheric factor [1], held at 0.2 and 1.2 outside 0.0372 to 0.065 kg/m3.

    References
    ----------
    ISO 1585 through an engine service manual: 0.036 q - 1.14, q in mg/(l.cycle), 37.2 (0.2) to 65 (1.2). Another
    secondary source holds 0.3 below 40 instead; which edition says so is not known.

    Examples
    --------
    >>> round(float(engine_factor(0.050)), 6)
    0.66
    """
    corrected = np.asarray(fuel_per_cycle) / np.asarray(boost_ratio) * 1e3
    return np.asarray(np.where(corrected < 37.2, 0.2, np.where(corrected > 65.0, 1.2, 0.036 * corrected - 1.14)))


def iso_1585_compression_ignition(
    dry_pressure: Array | float, temperature: Array | float, factor: Array | float, turbocharged: bool = True
) -> Array:
    """Factor for compression-ignition engines.

    Parameters
    ----------
    dry_pressure : array
        Dry air pressure [Pa], 80 to 110 kPa.
    temperature : array
        Intake air temperature [K], 288 to 308.
    factor : array
        Engine factor f_m of :func:`engine_factor` [1].
    turbocharged : bool
        True for an exhaust turbocharger, False for natural aspiration or mechanical charging [1].

    Returns
    -------
    array
        Factor on observed power [1]; usable from 0.9 to 1.1.

    References
    ----------
    ISO 1585: (99 kPa / p)^0.7 (T / 298 K)^1.5 turbocharged, (99 kPa / p) (T / 298 K)^0.7 else, to the power f_m
    (exponents from memory).

    Examples
    --------
    >>> round(float(iso_1585_compression_ignition(95e3, 308.0, 1.0)), 5)
    1.08153
    """
    pressure_power, temperature_power = (0.7, 1.5) if turbocharged else (1.0, 0.7)
    air = (99e3 / np.asarray(dry_pressure)) ** pressure_power * (np.asarray(temperature) / 298.0) ** temperature_power
    return np.asarray(air ** np.asarray(factor))
