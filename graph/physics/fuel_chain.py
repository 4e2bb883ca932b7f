"""The fuel system as one chain: a part that sags takes the pressure of those behind it with it.

Tank pump, its wiring and controller, filter and line set the pressure before the high-pressure pump; that sets how its
cylinder fills; what it delivers sets the rail pressure; that sets what the injectors pass and how they spray. The chain
is solved for the share of the asked fuel that arrives: a single falling function, so halving always ends.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

import numpy as np

from graph.model import Array, Setting
from graph.physics import fuel_share, pump
from graph.physics.low_side import CONTROLLER, controlled_flow, filling, inlet_pressure, pump_voltage

#: Halvings of the share that arrives: 2^-14, less than a ten thousandth.
HALVINGS = 14


@dataclass(frozen=True, slots=True, kw_only=True)
class Chain:
    """The fuel system of a car, of which each part is adequate unless it says otherwise.

    Parameters
    ----------
    density : float
        Of the fuel [kg/m3].
    jet_flow : float
        To the jet pump [m3/s].
    low_side : float
        Gauge pressure that the tank side holds [Pa].
    voltage : float
        At the tank pump with sound wiring [V].
    rail : float
        Target of the rail pressure, gauge [Pa].
    shared : mapping of str to float
        Holds ``port share`` where a port supplement is fitted [1].
    linked : mapping of str to float
        What the car's parts say, by the names of :data:`graph.limit.LINKED` [SI].

    Examples
    --------
    A cam pump of 0.3 cm3 per turn at 100 turns a second delivers 22.5 g/s of 750 kg/m3; of 25 g/s asked nine tenths
    arrive, and the rail falls to 0.81 of its target:

    >>> chain = Chain(density=750.0, jet_flow=4e-6, low_side=5.5e5, voltage=13.2, rail=200e5,
    ...               linked={"cam pump delivery": 0.3e-6})
    >>> round(float(chain.arriving(0.025, 100.0)), 4), round(float(chain.rail_pressure(0.025, 100.0)) / 1e5, 1)
    (0.9, 162.0)
    """

    density: float
    jet_flow: float
    low_side: float
    voltage: float
    rail: float
    shared: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    linked: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))

    @classmethod
    def of(cls, setting: Setting, *, derated: bool = False) -> Chain:
        """The chain of a car.

        Parameters
        ----------
        setting : Setting
            Constants of its platform and what its parts say.
        derated : bool
            True to let the pump controller pass no more than its current for the time asked; False to take it as
            holding on, since its own row says when it is asked too much.

        Returns
        -------
        Chain
            [SI]
        """
        return cls(
            density=setting.fuel.density,
            jet_flow=setting.constant("jet pump flow"),
            low_side=setting.constant("low-side pressure"),
            voltage=setting.constant("pump voltage"),
            rail=setting.constant("rail pressure"),
            shared=setting.shared,
            linked=setting.linked if derated else _without_controller(setting.linked),
        )

    def _possible(self, share: Array | float, fuel_flow: Array, speed: Array | float) -> tuple[Array, Array]:
        """Inlet pressure, and the share that the chain could deliver, while a share of the asked fuel flows."""
        asked = pump.volume_flow(fuel_flow, self.density)
        inlet = inlet_pressure(share * asked + self.jet_flow, self.low_side, self.voltage, self.linked)
        full = filling(inlet)
        possible = np.where(full < 1.0, full, np.inf)
        if "cam pump delivery" in self.linked:
            delivered = full * self.linked["cam pump delivery"] * np.asarray(speed) * self.density
            possible = delivered / fuel_share.direct(fuel_flow, self.shared)
        return inlet, np.minimum(possible, max(controlled_flow(self.linked) - self.jet_flow, 0.0) / asked)

    def arriving(self, fuel_flow: Array | float, speed: Array | float) -> Array:
        """Share of the asked fuel that arrives at the rail.

        Parameters
        ----------
        fuel_flow : array
            Asked by the engine [kg/s].
        speed : array
            [1/s]

        Returns
        -------
        array
            [1]; exactly 1 where the chain is adequate, NaN where nothing is asked.

        References
        ----------
        Continuity along the chain.
        """
        flow = np.asarray(fuel_flow, dtype=float)
        if not self.linked:
            return np.ones(flow.shape)
        _, possible = self._possible(1.0, flow, speed)
        share = np.where(np.isnan(possible), np.nan, 1.0)
        short = possible < 1.0
        if np.any(short):
            asked, at = (np.broadcast_to(values, short.shape)[short] for values in (flow, np.asarray(speed)))
            low, high = np.zeros(asked.shape), np.ones(asked.shape)
            for _ in range(HALVINGS):
                middle = 0.5 * (low + high)
                enough = self._possible(middle, asked, at)[1] >= middle
                low, high = np.where(enough, middle, low), np.where(enough, high, middle)
            share[short] = low
        return share

    def rail_pressure(self, fuel_flow: Array | float, speed: Array | float) -> Array:
        """Rail pressure that the chain really holds.

        Parameters
        ----------
        fuel_flow : array
            Asked by the engine [kg/s].
        speed : array
            [1/s]

        Returns
        -------
        array
            Gauge [Pa]; the target where the chain is adequate. The injection time is kept as at the target; a
            controller that lengthens it lets the pressure fall further.

        References
        ----------
        Orifice law: with the same time open, flow goes with the root of the pressure.
        """
        return np.asarray(self.rail * self.arriving(fuel_flow, speed) ** 2)

    def pump_filling(self, fuel_flow: Array | float, speed: Array | float) -> Array:
        """Share of its stroke that the high-pressure pump fills at the flow that arrives.

        Parameters
        ----------
        fuel_flow : array
            Asked by the engine [kg/s].
        speed : array
            [1/s]

        Returns
        -------
        array
            [1]

        References
        ----------
        As :func:`filling`.
        """
        flow = np.asarray(fuel_flow, dtype=float)
        if not self.linked:
            return np.ones(flow.shape)
        return filling(self._possible(self.arriving(flow, speed), flow, speed)[0])

    def tank_flow(
        self, flow: Array | float, rated_pressure: float, rated_voltage: float, fuel_flow: Array | float
    ) -> Array:
        """Flow that the tank pumps have at the pressure asked, behind their wiring.

        Parameters
        ----------
        flow : array
            Rated, of all pumps together [m3/s].
        rated_pressure, rated_voltage : float
            Of the rating, gauge [Pa] and [V].
        fuel_flow : array
            Asked by the engine [kg/s].

        Returns
        -------
        array
            [m3/s]

        References
        ----------
        :func:`graph.physics.pump.flow_at` at the voltage of :func:`pump_voltage`.
        """
        asked = pump.volume_flow(fuel_flow, self.density, self.jet_flow)
        voltage = pump_voltage(asked, self.voltage, self.linked)
        return pump.flow_at(flow, rated_pressure, rated_voltage, self.low_side, voltage)


def _without_controller(linked: Mapping[str, float]) -> Mapping[str, float]:
    """What is said, less what the controller says."""
    return {k: v for k, v in linked.items() if k != CONTROLLER}
