"""How turbine and wastegate drive the compressor: expansion ratios found from the work and from the flow."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from graph.model import Array
from graph.path import Path
from graph.physics import gas, turbine

#: Exponent of the turbine's ellipse law (Stodola; 2.0 to 2.4).
TURBINE_EXPONENT = 2.0
#: Expansion ratios over which the flow and drive balances are inverted [1]; dense where the flow starts.
_EXPANSIONS = 1.0 + np.linspace(0.0, np.sqrt(11.0), 800) ** 2
_ELLIPSE = turbine.ellipse(_EXPANSIONS, TURBINE_EXPONENT)
_TURBINE_FLOW = _EXPANSIONS * _ELLIPSE
_GATE_FLOW = _EXPANSIONS * turbine.nozzle_function(_EXPANSIONS)
_DRIVE = _TURBINE_FLOW * (1.0 - _EXPANSIONS ** (-(gas.K_EXHAUST - 1.0) / gas.K_EXHAUST))


class Drive:
    """Turbine and gate of those configurations that have a turbine of their own.

    Parameters
    ----------
    path : Path
        Fields of shape (1 or B, 1).
    batch : int
        B, the configurations [1].
    """

    def __init__(self, path: Path, batch: int) -> None:
        def column(value: Array | float) -> Array:
            return np.broadcast_to(np.asarray(value), (batch, 1))[self.rows]

        given = np.broadcast_to(np.asarray(path.turbine_given), (batch, 1))[:, 0] > 0.5
        self.rows: slice | NDArray[np.intp] = slice(None) if given.all() else np.flatnonzero(given)
        self.any = bool(given.any())
        self.turbine_flow, self.efficiency = column(path.turbine_flow), column(path.turbine_efficiency)
        area = np.asarray(path.gate_area) / np.sqrt(gas.R_EXHAUST)
        self._passed = path.turbine_flow * _TURBINE_FLOW + area * _GATE_FLOW
        if self._passed.shape[0] > 1:
            self._passed = self._passed[self.rows]

    def expansion(self, work: Array, outlet_pressure: Array, temperature: Array) -> Array:
        """Expansion ratio at which the turbine's own flow makes the compressor's work [1].

        Parameters
        ----------
        work : array, shape (B, S)
            Of the compressor [W].
        outlet_pressure : array, shape (B, S)
            Behind the turbine [Pa].
        temperature : array, shape (B, S)
            Before it [K].

        Returns
        -------
        array, shape (D, S)
            For the D configurations with a turbine.
        """
        available = self.turbine_flow * outlet_pressure[self.rows] * np.sqrt(temperature[self.rows])
        available = available * gas.CP_TURBINE * self.efficiency
        return np.asarray(np.interp(work[self.rows] / available, _DRIVE, _EXPANSIONS))

    def opened(self, needed: Array, outlet_pressure: Array, temperature: Array, flow: Array) -> Array:
        """Expansion ratio with the gate as far open as it must be [1].

        The gate opens until turbine and gate together pass the exhaust; where even the open gate is too small the
        pressure before them rises until they do.

        Parameters
        ----------
        needed : array, shape (D, S)
            Expansion ratio that drives the compressor [1].
        outlet_pressure, temperature, flow : array, shape (B, S)
            Behind the turbine [Pa], before it [K], of exhaust [kg/s].

        Returns
        -------
        array, shape (D, S)
            For the D configurations with a turbine.
        """
        scaled = flow[self.rows] * np.sqrt(temperature[self.rows]) / outlet_pressure[self.rows]
        if self._passed.shape[0] == 1:
            return np.maximum(needed, np.interp(scaled, self._passed[0], _EXPANSIONS))
        for row, passed in zip(scaled, self._passed, strict=True):
            row[:] = np.interp(row, passed, _EXPANSIONS)
        return np.maximum(needed, scaled)

    def flow(self, needed: Array, outlet_pressure: Array, temperature: Array) -> Array:
        """Flow that driving the compressor takes [kg/s], shape (D, S); the parameters are those of :meth:`opened`."""
        passed = self.turbine_flow * np.interp(needed, _EXPANSIONS, _TURBINE_FLOW) * outlet_pressure[self.rows]
        return np.asarray(passed / np.sqrt(temperature[self.rows]))
