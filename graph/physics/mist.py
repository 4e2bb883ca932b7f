"""Water and methanol sprayed into the charge: cooling by latent heat, methanol as fuel, its share in knock resistance.

The latent heat of the mist and that of directly injected fuel are put into one balance of one charge, so neither is
counted twice; the octane of the methanol is a property of the blend, and no further octane is added for the cooling.
"""

from __future__ import annotations

import numpy as np

from graph.model import Array, Fuel
from graph.physics.fuel import CP_LIQUID_FUEL, octane_index
from graph.physics.gas import CP_AIR

#: Methanol: ratio and heating value from formation enthalpies, latent heat from reference equations of state; RON and
#: MON from memory of handbook tables.
METHANOL = Fuel(
    name="methanol",
    research_octane=108.0,
    motor_octane=89.0,
    stoichiometric_ratio=6.472,
    heating_value=19.935e6,
    density=791.0,
    latent_heat=1169.0e3,
)
METHANOL_MOLAR_MASS = 32.04
PETROL_MOLAR_MASS = 100.0
WATER_LATENT_HEAT = 2441.7e3
WATER_DENSITY = 998.2
CP_WATER = 4181.0
CP_METHANOL = 2535.0
#: Share of the mist that evaporates before the inlet valve shuts (assumption: half; the rest evaporates during
#: compression and is not counted).
EVAPORATED = 0.5


def latent_heat(methanol: Array | float) -> Array:
    """Latent heat of a mixture of water and methanol.

    Parameters
    ----------
    methanol : array
        Share of methanol by mass [1].

    Returns
    -------
    array
        [J/kg]

    References
    ----------
    Linear in mass; 2441.7 and 1169 kJ/kg at 25 degC from reference equations of state.

    Examples
    --------
    >>> round(float(latent_heat(0.5)) / 1e3)
    1805
    """
    share = np.asarray(methanol)
    return np.asarray(share * METHANOL.latent_heat + (1.0 - share) * WATER_LATENT_HEAT)


def density(methanol: Array | float) -> Array:
    """Density of a mixture of water and methanol without contraction.

    Parameters
    ----------
    methanol : array
        Share of methanol by mass [1].

    Returns
    -------
    array
        [kg/m3]; the real mixture is up to 4 % denser.

    References
    ----------
    Additive volumes.

    Examples
    --------
    >>> round(float(density(0.5)), 1)
    882.6
    """
    share = np.asarray(methanol)
    return np.asarray(1.0 / (share / METHANOL.density + (1.0 - share) / WATER_DENSITY))


def charge_cooling(
    fuel_air_ratio: Array | float,
    fuel_latent_heat: Array | float,
    fuel_share: Array | float,
    mist_air_ratio: Array | float,
    methanol: Array | float,
    mist_share: float = EVAPORATED,
) -> Array:
    """Fall of the charge temperature by fuel and mist together.

    Parameters
    ----------
    fuel_air_ratio : array
        Mass of fuel per mass of air [1].
    fuel_latent_heat : array
        Of the fuel [J/kg].
    fuel_share : array
        Share of the fuel's latent heat drawn from the charge [1].
    mist_air_ratio : array
        Mass of mist per mass of air [1].
    methanol : array
        Share of methanol in the mist by mass [1].
    mist_share : float
        Share of the mist's latent heat drawn from the charge [1].

    Returns
    -------
    array
        Temperature difference [K].

    References
    ----------
    Energy balance of one charge: air, fuel and mist cool together.

    Examples
    --------
    A tenth of the fuel mass of an equal mixture, all evaporated, without cooling by the fuel:

    >>> round(float(charge_cooling(1 / 12.3, 0.0, 0.0, 0.1 / 12.3, 0.5, 1.0)), 1)
    12.1
    """
    fuel, spray = np.asarray(fuel_air_ratio), np.asarray(mist_air_ratio)
    share = np.asarray(methanol)
    taken = np.asarray(fuel_share) * fuel * fuel_latent_heat + mist_share * spray * latent_heat(share)
    heated = CP_AIR + fuel * CP_LIQUID_FUEL + spray * (share * CP_METHANOL + (1.0 - share) * CP_WATER)
    return np.asarray(taken / heated)


def fuel_replaced(mist_air_ratio: Array | float, methanol: Array | float, stoichiometric_ratio: float) -> Array:
    """Fuel that the methanol of the mist replaces at an unchanged mixture.

    Parameters
    ----------
    mist_air_ratio : array
        Mass of mist per mass of air [1].
    methanol : array
        Share of methanol in the mist by mass [1].
    stoichiometric_ratio : float
        Of the fuel, by mass [1].

    Returns
    -------
    array
        Mass of fuel per mass of air [1].

    References
    ----------
    Oxygen balance: methanol takes 6.472 of air.

    Examples
    --------
    >>> round(float(fuel_replaced(0.016, 0.5, 14.3)), 5)
    0.00362
    """
    burned = np.asarray(mist_air_ratio) * np.asarray(methanol) * METHANOL.stoichiometric_ratio
    return np.asarray(burned / stoichiometric_ratio)


def octane_gain(
    research: float, motor: float, mist_share: Array | float, methanol: Array | float, weight: float = -0.5
) -> Array:
    """Rise of the octane index by the methanol of the mist.

    Parameters
    ----------
    research, motor : float
        RON and MON of the fuel [1].
    mist_share : array
        Mass of mist per mass of fuel [1].
    methanol : array
        Share of methanol in the mist by mass [1].
    weight : float
        K of the octane index [1].

    Returns
    -------
    array
        [1]; water adds none of its own.

    References
    ----------
    Octane linear in moles, as for ethanol (J. E. Anderson et al., Energy & Fuels 2010, from memory).

    Examples
    --------
    A fifth of the fuel mass at equal parts: 0.1 / 32.04 mol against 1 / 100 mol are 0.238; methanol has 117.5:

    >>> round(float(octane_gain(98.0, 88.0, 0.2, 0.5, -0.5)), 2)
    3.45
    """
    moles = np.asarray(mist_share) * np.asarray(methanol) / METHANOL_MOLAR_MASS
    share = moles / (moles + 1.0 / PETROL_MOLAR_MASS)
    own = octane_index(METHANOL.research_octane, METHANOL.motor_octane, weight)
    return np.asarray(share * (own - octane_index(research, motor, weight)))
