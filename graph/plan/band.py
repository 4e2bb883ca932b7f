"""How often a limit judged alone is passed, bounded for a known or for any own curve of a turbocharger."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from graph.model import Array
from graph.plan.survival import Flags

#: Steps of the utilisation below the speed of the power, relative to that above, in which it is bounded [1].
STEPS = np.concatenate([[0.0], np.geomspace(0.75, 1.5, 400)])
#: Smallest utilisation that is told from none [1].
LEAST = 1e-12
#: How far the logarithm of a sample lies from the value without spreads at most, as everywhere else [1].
REACH = 5.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Band:
    """Utilisation of a limit at every speed, without spreads and to either side of each.

    A turbocharger's own curve lowers the torque below the speed at which it reaches what is asked, and nowhere else.

    Parameters
    ----------
    powers : array, shape (P,)
        [W]
    asked_fine, asked : array, shape (P, N)
        Torque asked at them on the fine and on the coarse grid of speeds [N.m].
    counted_fine, counted : array of bool, shape (N,)
        Speeds at which the power itself is asked.
    fine : array, shape (1, P, N)
        Without spreads, 0 where no operating point exists [1].
    trials : array, shape (1 + 2 V, P, N)
        On the coarse grid: without spreads, then one standard deviation above and below for each column [1].
    lost : array of bool, shape (P,)
        Where one of them lacks an operating point: nothing is said there.
    columns : tuple of int
        Among the draws.
    ceiling : bool
        True where every lower power counts too, False for a floor.
    """

    powers: Array
    asked_fine: Array
    asked: Array
    counted_fine: Flags
    counted: Flags
    fine: Array
    trials: Array
    lost: Flags
    columns: tuple[int, ...]
    ceiling: bool

    def least(self, power: float, draws: Array) -> float:
        """Least share of samples in which a floor is passed at a power, whatever the own curve is [1].

        Parameters
        ----------
        power : float
            [W]
        draws : array, shape (S, columns)
            In standard deviations [1].

        Returns
        -------
        float
            0 for a ceiling, of which nothing is said.
        """
        if self.ceiling or not self.columns:
            return 0.0
        index, weight = self._between(power)
        if self.lost[index - 1 : index + 1].any():
            return 0.0
        counted = self.trials[..., self.counted].max(axis=-1)
        logs = np.log(np.maximum(counted[:, index - 1 : index + 1], LEAST))
        above = logs[:, 0] + weight * (logs[:, 1] - logs[:, 0])
        fine_above = self.fine[0][:, self.counted_fine].max(axis=-1)
        fine_logs = np.log(np.maximum(fine_above[index - 1 : index + 1], LEAST))
        start = float(fine_logs[0] + weight * (fine_logs[1] - fine_logs[0]))
        floor = float(np.exp(above.min()))
        below = self.trials[:, : index + 1, ~self.counted].reshape(self.trials.shape[0], -1)
        ratios = np.zeros((self.trials.shape[0], 2))
        for n in range(1, self.trials.shape[0]):
            heard = np.maximum(below[0], below[n]) >= STEPS[1] * floor
            if heard.any():
                found = np.log(np.maximum(below[n][heard], LEAST)) - np.log(np.maximum(below[0][heard], LEAST))
                ratios[n] = found.min(), found.max()
        z = draws[:, list(self.columns)]
        weights = np.empty((z.shape[0], 2 * z.shape[1]))
        weights[:, ::2], weights[:, 1::2] = 0.5 * z * (z + 1.0), 0.5 * z * (z - 1.0)
        more, less = np.maximum(weights, 0.0), np.minimum(weights, 0.0)
        with np.errstate(divide="ignore"):
            edges = np.log(STEPS) + above[0]
        low, high = edges[:-1], edges[1:]
        far_low, far_high = ratios[1:, :1], np.maximum(above[1:, None] - edges[-1], ratios[1:, 1:])
        bottom = np.maximum(above[1:, None], low + ratios[1:, :1]) - np.maximum(above[0], high)
        top = np.maximum(above[1:, None], high + ratios[1:, 1:]) - np.maximum(above[0], low)
        worst = (more @ np.hstack([bottom, far_low]) + less @ np.hstack([top, far_high])).min(axis=1)
        if not np.isfinite(worst).all() or not np.isfinite(start):
            return 0.0
        return float((start + np.clip(worst, -REACH, REACH) > 0.0).mean())

    def share(self, power: float, spools: tuple[Array, Array], draws: Array) -> tuple[float, float]:
        """Least and largest share of samples in which the limit is passed at a power.

        Parameters
        ----------
        power : float
            [W]
        spools : (array, array), shape (N,)
            The turbocharger's own curve on the fine and on the coarse grid [N.m].
        draws : array, shape (S, columns)
            In standard deviations [1].

        Returns
        -------
        low, high : float
            [1]; 0 and 1 where nothing can be said.
        """
        index, _ = self._between(power)
        if self.lost[0 if self.ceiling else index - 1 : index + 1].any():
            return 0.0, 1.0
        least, most = self._bounds(self.fine, self.asked_fine, spools[0], power)
        low, high = self._bounds(self.trials, self.asked, spools[1], power)
        z = draws[:, list(self.columns)]
        up, down = 0.5 * z * (z + 1.0), 0.5 * z * (z - 1.0)
        squares = (z * z).sum(axis=1)[:, None]
        bottom, top = -squares * high[:1], -squares * low[:1]
        for weights, first in ((up, 1), (down, 2)):
            more, less = np.maximum(weights, 0.0), np.minimum(weights, 0.0)
            bottom = bottom + more @ low[first::2] + less @ high[first::2]
            top = top + more @ high[first::2] + less @ low[first::2]
        if not (np.isfinite(bottom).all() and np.isfinite(top).all()):
            return 0.0, 1.0
        bottom, top = least + np.clip(bottom, -REACH, REACH), most + np.clip(top, -REACH, REACH)
        return float((bottom > 0.0).any(axis=1).mean()), float((top > 0.0).any(axis=1).mean())

    def _between(self, power: float) -> tuple[int, float]:
        index = min(max(int(np.searchsorted(self.powers, power)), 1), self.powers.size - 1)
        weight = (power - self.powers[index - 1]) / (self.powers[index] - self.powers[index - 1])
        return index, float(min(max(weight, 0.0), 1.0))

    def _bounds(self, found: Array, asked: Array, spool: Array, power: float) -> tuple[Array, Array]:
        """Logarithms of bounds of the worst utilisation, shape (trials, powers looked at).

        Where the curve holds the torque it lies between two powers of the table; a ceiling looks at every power.
        """
        index, weight = self._between(power)
        at = (asked < spool).sum(axis=0)
        lower, upper = np.maximum(at - 1, 0), np.minimum(at, asked.shape[0] - 1)
        columns = np.arange(asked.shape[1])
        one, other = found[:, lower, columns], found[:, upper, columns]
        sides = (np.where(at == 0, 0.0, np.minimum(one, other)), np.where(at == 0, np.inf, np.maximum(one, other)))
        before = list(range(index)) if self.ceiling else []
        wanted = np.vstack([asked[before], asked[index - 1] + weight * (asked[index] - asked[index - 1])])
        held = ~np.logical_or.accumulate(spool >= wanted, axis=-1)
        looked = [*zip(before, held[:-1], strict=True), (index - 1, held[-1]), (index, held[-1])]
        bounds = []
        for side in sides:
            worst = np.stack([np.where(mask, side, found[:, n]).max(axis=-1) for n, mask in looked], axis=-1)
            logs = np.log(np.maximum(worst, LEAST))
            at_power = logs[:, -2] + weight * (logs[:, -1] - logs[:, -2])
            bounds.append(np.column_stack([logs[:, :-2], at_power]))
        return bounds[0], bounds[1]
