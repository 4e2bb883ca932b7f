"""Fuels: composition, blends with ethanol, knock rating, cooling by evaporation."""

from __future__ import annotations

import numpy as np

from graph.errors import OutOfRange
from graph.model import Array, Fuel
from graph.physics.gas import CP_AIR

#: Hydrocarbon part of pump petrol (assumption inside EN 228: 720 to 775 kg/m3), RON 98 before ethanol.
BASE_PETROL = Fuel(
    name="petrol",
    research_octane=98.0,
    motor_octane=88.0,
    stoichiometric_ratio=14.6,
    heating_value=43.2e6,
    density=745.0,
    latent_heat=350e3,
)
#: Ethanol: heating value and ratio from formation enthalpies, density and latent heat from reference equations of
#: state; RON 108.6 and MON 90 from memory of handbook tables.
ETHANOL = Fuel(
    name="ethanol",
    research_octane=108.6,
    motor_octane=90.0,
    stoichiometric_ratio=9.003,
    heating_value=26.82e6,
    density=789.4,
    latent_heat=920.7e3,
    ethanol=1.0,
)
BASE_MOLAR_MASS = 100.0
ETHANOL_MOLAR_MASS = 46.07
CP_LIQUID_FUEL = 2200.0


def stoichiometric_ratio(carbon: float, hydrogen: float, oxygen: float = 0.0) -> float:
    """Air-fuel ratio of complete combustion.

    Parameters
    ----------
    carbon, hydrogen, oxygen : float
        Atoms per molecule [1].

    Returns
    -------
    float
        Mass of air per mass of fuel [1], air with 3.773 mol of nitrogen and argon per mol of oxygen.

    References
    ----------
    Heywood 1988, eq. 3.6 (from memory).

    Examples
    --------
    >>> round(stoichiometric_ratio(8, 18), 2)
    15.13
    """
    needed = carbon + hydrogen / 4.0 - oxygen / 2.0
    mass = 12.011 * carbon + 1.008 * hydrogen + 15.999 * oxygen
    return needed * (31.998 + 3.773 * 28.16) / mass


def heating_value(carbon: float, hydrogen: float, oxygen: float, formation_enthalpy: float) -> float:
    """Lower heating value of a liquid fuel.

    Parameters
    ----------
    carbon, hydrogen, oxygen : float
        Atoms per molecule [1].
    formation_enthalpy : float
        Of the liquid at 298.15 K [J/mol].

    Returns
    -------
    float
        [J/kg]

    References
    ----------
    Formation enthalpies of carbon dioxide -393.51 and water vapour -241.818 kJ/mol at 298.15 K (from memory of the
    thermochemical tables).

    Examples
    --------
    >>> round(heating_value(2, 6, 1, -277030.0) / 1e6, 2)
    26.82
    """
    mass = (12.011 * carbon + 1.008 * hydrogen + 15.999 * oxygen) / 1e3
    return (393510.0 * carbon + 120909.0 * hydrogen + formation_enthalpy) / mass


def volume_flow_factor(base: Fuel, fuel: Fuel) -> float:
    """Volume of a fuel that carries the energy of a unit volume of another.

    Parameters
    ----------
    base : Fuel
        Fuel that the volume refers to [SI].
    fuel : Fuel
        Fuel that replaces it [SI].

    Returns
    -------
    float
        Volume flow over that of the base at equal energy flow [1].

    References
    ----------
    Energy balance: ratio of heating value times density.

    Examples
    --------
    >>> round(volume_flow_factor(BASE_PETROL, blend(BASE_PETROL, 0.85)), 2)
    1.41
    """
    return base.heating_value * base.density / (fuel.heating_value * fuel.density)


def blend(base: Fuel, ethanol: float) -> Fuel:
    """Petrol mixed with ethanol.

    Parameters
    ----------
    base : Fuel
        Petrol without ethanol [SI].
    ethanol : float
        Ethanol by volume [1].

    Returns
    -------
    Fuel
        Ratio, heating value and latent heat linear in mass, density in volume, octane in moles [SI].

    Raises
    ------
    OutOfRange
        The share is not between 0 and 1.

    References
    ----------
    J. E. Anderson et al., Energy & Fuels 2010 (linear molar blending, from memory); Anderson and Wallington, Energy &
    Fuels 2020, abstract: a further term Z x (1 - x) differs in sign between base fuels, up to +-2 RON, and is not
    modelled. Excess volume below 0.5 % is neglected.

    Examples
    --------
    >>> mixed = blend(BASE_PETROL, 0.85)
    >>> round(mixed.stoichiometric_ratio, 2), round(mixed.heating_value / 1e6, 2)
    (9.8, 29.16)
    """
    if not 0.0 <= ethanol <= 1.0:
        raise OutOfRange("ethanol share", f"{ethanol:g}", "0 to 1", "give it by volume")
    mass = ethanol * ETHANOL.density / (ethanol * ETHANOL.density + (1.0 - ethanol) * base.density)
    moles = mass / ETHANOL_MOLAR_MASS / (mass / ETHANOL_MOLAR_MASS + (1.0 - mass) / BASE_MOLAR_MASS)

    def mix(share: float, first: float, second: float) -> float:
        return (1.0 - share) * first + share * second

    return Fuel(
        name=f"e{ethanol * 100:.0f}",
        research_octane=mix(moles, base.research_octane, ETHANOL.research_octane),
        motor_octane=mix(moles, base.motor_octane, ETHANOL.motor_octane),
        stoichiometric_ratio=mix(mass, base.stoichiometric_ratio, ETHANOL.stoichiometric_ratio),
        heating_value=mix(mass, base.heating_value, ETHANOL.heating_value),
        density=mix(ethanol, base.density, ETHANOL.density),
        latent_heat=mix(mass, base.latent_heat, ETHANOL.latent_heat),
        ethanol=ethanol,
    )


def octane_index(research: Array | float, motor: Array | float, weight: Array | float = -0.5) -> Array:
    """Knock rating of a fuel in an engine.

    Parameters
    ----------
    research, motor : array
        RON and MON [1].
    weight : array
        K of the octane index [1]; about +0.5 when the tests were set up, negative on modern boosted engines, -1.2 to 0.

    Returns
    -------
    array
        Octane index [1].

    References
    ----------
    G. T. Kalghatgi, SAE 2001-01-3584 (from memory); Mittal and Heywood, SAE 2008-01-2414, abstract: K is negative in
    a modern pent-roof engine. The default is an assumption.

    Examples
    --------
    >>> float(octane_index(98.0, 88.0))
    103.0
    """
    return np.asarray(np.asarray(research) - np.asarray(weight) * (np.asarray(research) - np.asarray(motor)))


def charge_cooling(
    fuel_air_ratio: Array | float,
    latent_heat: Array | float,
    evaporated_share: Array | float,
    cp_fuel: float = CP_LIQUID_FUEL,
    cp_air: float = CP_AIR,
) -> Array:
    """Fall of the charge temperature by evaporating fuel.

    Parameters
    ----------
    fuel_air_ratio : array
        By mass [1].
    latent_heat : array
        [J/kg]
    evaporated_share : array
        Share of the latent heat drawn from the charge [1]: direct injection 0.7 to 0.9, port 0.1 to 0.3.
    cp_fuel, cp_air : float
        Heat capacities [J/(kg.K)].

    Returns
    -------
    array
        Temperature difference [K].

    References
    ----------
    Energy balance; shares are assumptions from memory of the literature.

    Examples
    --------
    >>> round(float(charge_cooling(1.0 / 9.0, 920e3, 1.0, 2434.0, 1010.0)), 1)
    79.8
    """
    ratio = np.asarray(fuel_air_ratio)
    return np.asarray(np.asarray(evaporated_share) * ratio * latent_heat / (cp_air + ratio * cp_fuel))
