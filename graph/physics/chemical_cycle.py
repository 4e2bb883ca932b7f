"""The closed cycle with the properties of the gas itself: any mixture, without a table of what a mixture is worth.

Like :mod:`graph.physics.cycle` it burns by the Wiebe function in one zone and loses heat after Woschni. In place of a
heat release, a fixed gas constant and fitted ratios of heat capacities stand the internal energies of unburned charge
and of burned gas in chemical equilibrium, so that dissociation, the energy left in carbon monoxide and hydrogen, and
the greater number of molecules of rich burned gas come out by themselves.

It takes many times as long. What the program answers comes from the other cycle; this one shows how far that is off.
"""

from __future__ import annotations

import numpy as np

from graph.model import Array
from graph.physics import cycle
from graph.physics.burn import burn_angle, burn_start, burned_share
from graph.physics.burned_gas import Charge
from graph.physics.cycle import Cycle
from graph.physics.cylinder import WALL_FACTOR, Geometry, cylinder_volume, outer_work, wall_heat
from graph.physics.end_gas import KNOCK_UNTIL, damped, end_gas_step
from graph.physics.species import ISO_OCTANE, Vapour

#: Share of the fresh charge that burns (combustion efficiency of the program's other cycle).
BURNING = 0.98
#: What the Wiebe function with a = 5 reaches at the end of the burn [1].
_WIEBE_END = 1.0 - np.exp(-5.0)
#: Steps of the search for a temperature, and the change at which it ends [1], [K].
_MOST_STEPS, _TOLERANCE = 30, 1e-6


def chemical_cycle(
    geometry: Geometry,
    speed: Array | float,
    air_density: Array | float,
    temperature: Array | float,
    phasing: Array | float,
    mixture: Array | float,
    *,
    vapour: Vapour = ISO_OCTANE,
    residual: Array | float = 0.03,
    wall_factor: float = WALL_FACTOR,
    burn_duration: float | None = None,
    burning: float = BURNING,
    steps: int = 270,
) -> Cycle:
    """Work, peak pressure, wall heat and knock integral of the closed cycle for a mixture.

    Parameters
    ----------
    geometry : Geometry
        Cylinder [m], [1].
    speed : array
        Engine speed [1/s].
    air_density : array
        Trapped fresh air over swept volume [kg/m3].
    temperature : array
        Charge temperature when the intake valve closes [K].
    phasing : array
        Angle of half-burned charge after top dead centre [rad].
    mixture : array
        Air-fuel equivalence ratio lambda [1], 0.7 to 1.2.
    vapour : Vapour
        The fuel, evaporated [SI].
    residual : array
        Residual gas fraction [1]; it counts as burned from the start.
    wall_factor : float
        Factor on the Woschni coefficient [1].
    burn_duration : float or None
        10 to 90 % burn angle [rad]; None for the model's own law over speed and phasing.
    burning : float
        Share of the fresh charge that burns at all [1].
    steps : int
        Crank steps from intake closing to exhaust opening [1].

    Returns
    -------
    Cycle
        Arrays of the broadcast shape [SI]; efficiency and wall share refer to the heating value of all the fuel.

    References
    ----------
    First law with trapezoidal work; :class:`graph.physics.burned_gas.Charge` for the gas; the rest as in
    :func:`graph.physics.cycle.closed_cycle`. Against fuel-air cycles of Cantera, compression ratio 8 to 12 and
    lambda 0.75 to 1.1: within 0.3 % without any calibration (tested). Burned and unburned gas share temperature and
    density. The end gas is that of lambda 0.91 whatever the mixture, as in the other cycle: what the mixture does to knock
    is in :func:`graph.physics.combustion.knock_level`.

    Examples
    --------
    >>> g = Geometry(bore=0.0825, stroke=0.0928, rod=0.144, compression_ratio=9.7)
    >>> lost = chemical_cycle(g, 100.0, 2.4954, 345.0, np.deg2rad(8.0), np.array([1.0, 0.8]))
    >>> bool(0.96 < lost.mean_effective_pressure[1] / lost.mean_effective_pressure[0] < 1.0)
    True
    """
    speed, density, temperature, phasing, mixture, residual = np.broadcast_arrays(
        *(np.asarray(v, dtype=float) for v in (speed, air_density, temperature, phasing, mixture, residual))
    )
    charge = Charge(vapour, mixture)
    swept = geometry.swept_volume
    mass = density * swept / (1.0 - charge.fuel) / (1.0 - residual)
    supplied = mass * (1.0 - residual) * charge.fuel * vapour.heating_value
    burn, start = burn_angle(phasing, speed, burn_duration), burn_start(phasing, speed, burn_duration)
    angles = np.linspace(cycle.INTAKE_CLOSING, cycle.EXHAUST_OPENING, steps + 1)
    volumes = cylinder_volume(geometry, angles)
    step_time = (angles[1] - angles[0]) / (2.0 * np.pi * speed)
    sliding = 2.28 * 2.0 * geometry.stroke * speed
    zone = _Zone(charge, mass)
    pressure, energy = zone.at(temperature, volumes[0], residual)
    first_pressure, peak = pressure, pressure
    end_gas = damped(temperature)
    work, wall, integral = np.zeros((3, *pressure.shape))
    reference_volume = swept * temperature / first_pressure / volumes[0]
    for before, after, angle in zip(volumes[:-1], volumes[1:], angles[1:], strict=True):
        progress = burned_share((angle - start) / burn)
        motored = first_pressure * (volumes[0] / before) ** 1.33
        velocity = sliding + 3.24e-3 * reference_volume * np.maximum(pressure - motored, 0.0)
        loss = wall_factor * wall_heat(geometry, before, pressure, temperature, velocity) * step_time
        grown, burned = after - before, residual + (1.0 - residual) * burning / _WIEBE_END * progress
        left = energy - loss - 0.5 * pressure * grown
        temperature, new, energy = zone.hold(left, 0.5 * grown, temperature, after, burned)
        work += 0.5 * (pressure + new) * grown
        wall += loss
        end_gas, waited = end_gas_step(end_gas, pressure, new, step_time)
        integral += np.where(progress < KNOCK_UNTIL, waited, 0.0)
        pressure = new
        peak = np.maximum(peak, pressure)
    work += outer_work(geometry, first_pressure, pressure, volumes)
    return Cycle(
        efficiency=work / supplied,
        mean_effective_pressure=work / swept,
        peak_pressure=peak,
        wall_share=wall / supplied,
        knock_integral=integral,
    )


class _Zone:
    """All gas of the cylinder at one temperature and density; it remembers where the last equilibrium lay."""

    def __init__(self, charge: Charge, mass: Array) -> None:
        self.charge, self.mass = charge, mass
        self.oxygen: Array | float = -4.0

    def at(self, temperature: Array, volume: float, burned: Array) -> tuple[Array, Array]:
        """Pressure [Pa] and internal energy [J] at a temperature [K], volume [m3] and burned share [1]."""
        energy, constant = self.charge.unburned(temperature)
        gas = self.charge.burned(temperature, self.mass / volume, self.oxygen)
        self.oxygen = gas.oxygen
        energy, constant = (
            (1.0 - burned) * fresh + burned * after
            for fresh, after in ((energy, gas.energy), (constant, gas.gas_constant))
        )
        return self.mass * constant * temperature / volume, self.mass * energy

    def hold(
        self, left: Array, grown: float, temperature: Array, volume: float, burned: Array
    ) -> tuple[Array, Array, Array]:
        """Temperature, pressure and energy at which energy and the work of half a step [m3] make up what is left [J]."""

        def excess(tried: Array) -> tuple[Array, Array, Array]:
            pressure, energy = self.at(tried, volume, burned)
            return energy + pressure * grown - left, pressure, energy

        over, pressure, energy = excess(temperature)
        heat_capacity = 1000.0 * self.mass
        for _ in range(_MOST_STEPS):
            change = np.clip(-over / heat_capacity, -400.0, 400.0)
            if np.abs(change).max(initial=0.0) < _TOLERANCE:
                break
            following, pressure, energy = excess(temperature + change)
            found = np.clip((following - over) / np.where(change == 0.0, 1.0, change), 500 * self.mass, 2e4 * self.mass)
            heat_capacity = np.where(np.abs(change) > 1e-3, found, heat_capacity)
            temperature, over = temperature + change, following
        return temperature, pressure, energy
