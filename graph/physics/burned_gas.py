"""The charge before and after the flame: internal energy and gas constant, burned gas in chemical equilibrium.

At a given temperature and density the balances of carbon, hydrogen and nitrogen are solved in closed form for a given
oxygen pressure; what is left is one rising equation for that pressure, solved for all states side by side.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from graph.errors import OutOfRange
from graph.model import Array
from graph.physics.fuel import stoichiometric_ratio
from graph.physics.species import GAS_CONSTANT, STANDARD_PRESSURE, Vapour, properties

#: Temperature below which the composition no longer changes [K] (water-gas reaction; assumption, 1600 to 1800 K).
FREEZING = 1740.0
#: Air per mol of oxygen: nitrogen with argon [mol], mass [kg].
_NITROGEN = 3.773
_AIR_MASS = 0.031998 + _NITROGEN * 0.02816
#: Largest change of the logarithm of the oxygen root in a step of the solution, and the end of the steps [1].
_LARGEST_STEP, _TOLERANCE, _MOST_STEPS = 3.0, 1e-9, 80


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Gas:
    """Internal energy, formation included [J/kg], gas constant [J/(kg.K)] and logarithm of the oxygen root [1].

    The last is half the logarithm of the oxygen pressure in bar: where the next solution nearby starts.
    """

    energy: Array
    gas_constant: Array
    oxygen: Array


class Charge:
    """Air and fuel vapour of a mixture.

    Parameters
    ----------
    vapour : Vapour
        The fuel.
    mixture : array
        Air-fuel equivalence ratio lambda [1], 0.5 and more.

    Raises
    ------
    OutOfRange
        With less air than the carbon needs to become monoxide: soot is not modelled.

    Notes
    -----
    Atoms are counted in mol per kg of charge. Air is 1 mol of oxygen to 3.773 mol of nitrogen, argon counted with it.
    """

    def __init__(self, vapour: Vapour, mixture: Array | float) -> None:
        air_per_fuel = np.asarray(mixture, dtype=float) * stoichiometric_ratio(1.0, vapour.hydrogen, vapour.oxygen)
        self.vapour, self.fuel = vapour, 1.0 / (1.0 + air_per_fuel)
        self.air_oxygen = air_per_fuel * self.fuel / _AIR_MASS
        self.carbon = self.fuel / (0.012011 + 0.001008 * vapour.hydrogen + 0.015999 * vapour.oxygen)
        self.hydrogen = vapour.hydrogen * self.carbon
        self.oxygen = 2.0 * self.air_oxygen + vapour.oxygen * self.carbon
        self.nitrogen = 2.0 * _NITROGEN * self.air_oxygen
        if not np.all(self.oxygen >= 1.05 * self.carbon):
            raise OutOfRange(
                "mixture",
                f"lambda {np.min(mixture):g}",
                "enough air to burn all carbon to monoxide",
                "lean the mixture",
            )

    def unburned(self, temperature: Array) -> tuple[Array, Array]:
        """Internal energy [J/kg] and gas constant [J/(kg.K)] of air and vapour at a temperature [K].

        Examples
        --------
        >>> from graph.physics.species import ISO_OCTANE
        >>> round(float(Charge(ISO_OCTANE, 1.0).unburned(np.array(340.0))[1]), 0)
        274.0
        """
        enthalpy, _ = properties(temperature)
        air = self.air_oxygen * ((enthalpy[4] - 1.0) + _NITROGEN * (enthalpy[5] - 1.0)) * GAS_CONSTANT * temperature
        moles = self.air_oxygen * (1.0 + _NITROGEN) + self.fuel / self.vapour.molar_mass
        return np.asarray(air + self.fuel * self.vapour.energy(temperature)), np.asarray(moles * GAS_CONSTANT)

    def burned(self, temperature: Array, density: Array | float, oxygen: Array | float = -4.0) -> Gas:
        """The same atoms in chemical equilibrium, frozen below :data:`FREEZING`.

        Parameters
        ----------
        temperature : array
            [K], 300 to 3500.
        density : array
            [kg/m3]
        oxygen : array
            Logarithm of the oxygen root from which the solution starts [1].

        Returns
        -------
        Gas
            Of the broadcast shape.

        References
        ----------
        Element balances and equilibrium constants as in C. Olikara and G. L. Borman, SAE 750468 (from memory of its
        method; the arrangement for a given density is derived here). Species of NASA TM-4513.

        Examples
        --------
        >>> from graph.physics.species import ISO_OCTANE
        >>> gas = Charge(ISO_OCTANE, 1.0).burned(np.array(1000.0), 5.0)
        >>> round(float(gas.gas_constant), 0)
        290.0
        """
        temperature, density = np.broadcast_arrays(*np.broadcast_arrays(temperature, density), self.fuel)[:2]
        hot = np.maximum(temperature, FREEZING)
        scale = density * GAS_CONSTANT * hot / STANDARD_PRESSURE
        root, pressures = self._balanced(hot, scale, np.asarray(oxygen, dtype=float))
        moles = pressures / scale
        enthalpy, _ = properties(temperature)
        energy = np.sum(moles * (enthalpy - 1.0), axis=0) * GAS_CONSTANT * temperature
        return Gas(energy=energy, gas_constant=np.sum(moles, axis=0) * GAS_CONSTANT, oxygen=root)

    def _balanced(self, hot: Array, scale: Array, root: Array) -> tuple[Array, Array]:
        """Logarithm of the oxygen root, and partial pressures [bar] that hold the atoms' balances, shape (10, ...)."""
        _, g = properties(hot)
        dioxide, steam = np.exp(g[0] + 0.5 * g[4] - g[1]), np.exp(g[2] + 0.5 * g[4] - g[3])
        hydroxyl, atom = np.exp(0.5 * (g[2] + g[4]) - g[6]), np.exp(0.5 * g[4] - g[7])
        hydrogen, oxide = np.exp(0.5 * g[2] - g[8]), np.exp(0.5 * (g[5] + g[4]) - g[9])
        c, h, o, n = (scale * atoms for atoms in (self.carbon, self.hydrogen, self.oxygen, self.nitrogen))
        below, above = np.full(scale.shape, -30.0), np.full(scale.shape, 10.0)
        root = np.broadcast_to(root, scale.shape)
        for _ in range(_MOST_STEPS):
            x = np.exp(root)
            a, b = 1.0 + steam * x, hydroxyl * x + hydrogen
            y = 4.0 * h / (b + np.sqrt(b * b + 8.0 * a * h)) / 2.0
            d = oxide * x
            z = 2.0 * n / (d + np.sqrt(d * d + 8.0 * n))
            monoxide = c / (1.0 + dioxide * x)
            pressures = (monoxide, dioxide * x * monoxide, y * y, steam * x * y * y, x * x, z * z,
                         hydroxyl * x * y, atom * x, hydrogen * y, d * z)  # fmt: skip
            _, p_dioxide, p_h2, p_steam, p_o2, _, p_oh, p_o, _, p_no = pressures
            excess = c + p_dioxide + p_steam + 2.0 * p_o2 + p_oh + p_o + p_no - o
            turned = -(2.0 * p_steam + p_oh) / (4.0 * a * p_h2 + b * y)
            slope = (
                monoxide * dioxide * x / (1.0 + dioxide * x)
                + p_steam * (1.0 + 2.0 * turned)
                + p_oh * (1.0 + turned)
                + p_o
                + 4.0 * p_o2
                + p_no * (1.0 - p_no / (4.0 * z * z + p_no))
            )
            below, above = np.where(excess < 0.0, root, below), np.where(excess > 0.0, root, above)
            step = np.clip(-excess / slope, -_LARGEST_STEP, _LARGEST_STEP)
            if np.abs(step).max(initial=0.0) < _TOLERANCE:
                break
            following = root + step
            inside = (following > below) & (following < above)
            root = np.where(inside, following, 0.5 * (below + above))
        return np.asarray(root), np.array(pressures)
