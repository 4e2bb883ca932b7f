"""Learn: what dyno records say about one engine's breathing, knock and friction, and what follows elsewhere.

The logarithms of the estimated factors, of the loss of each dyno and of three properties of parts that the sheets
state only roughly are one Gaussian vector with a prior. The model is solved for all of them and its logarithm of
torque is brought to the observed one by damped Gauss-Newton steps; the curvature at the end is the posterior
(Laplace). The model itself is wrong by a smooth function of speed and boost, a Gaussian process with stated size,
which keeps both the posterior and every prediction from being surer than the model deserves.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from graph.calibration import (
    ESTIMATED,
    LOSS,
    NOT_LEARNT,
    PARTS,
    WIDENED,
    Calibration,
    Estimate,
    cannot_tell,
    discrepancy,
    mean_pressure,
    moved,
)
from graph.check import examine
from graph.dyno import Record, observed
from graph.errors import OutOfRange
from graph.limit import Kind
from graph.model import Array, Build, Fuel, Target, Weather
from graph.operation import LEVELS, MODEL_SPREAD, Engine, prepare, solve, stack_paths

#: Engine speeds on which records are solved, most Gauss-Newton steps, and the probe for slopes [prior spreads].
SPEEDS = 20
STEPS = 12
PROBE = 0.5


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Bench:
    """Records laid out for solving."""

    engine: Engine
    fed: Mapping[str, float]
    names: tuple[str, ...]
    spread: Array
    centre: Array
    latest_phasing: float
    groups: tuple[tuple[Fuel, Weather, Array], ...]
    place: Array
    seen: Array
    loss_of: Array

    def modelled(self, z: Array) -> Array:
        """ln(torque) at each reading for parameters of shape (B, k), shape (B, m)."""
        paths = moved(self.fed, self.names, self.centre + self.spread * z)
        found = np.empty((z.shape[0], self.seen.size))
        for fuel, weather, rows in self.groups:
            states = solve(self.engine, stack_paths(paths), fuel, weather, self.latest_phasing)
            found[:, rows] = np.log(np.maximum(_between(states.torque, self.engine.speed, self.place[rows]), 1.0))
        loss = self.centre + self.spread * z
        return np.asarray(found + loss[:, self.loss_of])


def learn(build: Build, records: Sequence[Record], kinds: Mapping[str, Kind]) -> Calibration:
    """Estimate breathing, knock and friction of one engine from its dyno records.

    Parameters
    ----------
    build : Build
        The car as it was on the rollers.
    records : sequence of Record
        One or more sheets, each with fuel, day, basis, loss and correction.
    kinds : mapping of str to Kind
        Part kinds by name.

    Returns
    -------
    Calibration
        Factors with their covariance, and what the records cannot tell apart.

    Raises
    ------
    OutOfRange
        No record, or a reading outside the platform's speeds or the model's boost, or a correction that no standard
        allows.

    References
    ----------
    Gaussian process for the error of a model: Kennedy and O'Hagan, J. R. Statist. Soc. B 63, 2001, pp. 425-464 (from
    memory). Gauss-Newton with Laplace's approximation: Bishop, Pattern Recognition and Machine Learning, 2006,
    sec. 4.4 (from memory).
    """
    bench = _lay_out(build, records, kinds)
    noise = np.concatenate([np.full(len(r.points), r.noise) for r in records])
    inverse = _inverted(np.diag(noise**2) + discrepancy(bench.place, bench.place, mean_pressure(bench.place)))
    count = len(bench.names)

    def cost(z: Array) -> Array:
        away = bench.seen - bench.modelled(z)
        return np.asarray(np.einsum("bi,ij,bj->b", away, inverse, away) + (z * z).sum(axis=1))

    z = np.zeros(count)
    before = float(cost(z[None])[0])
    for _ in range(STEPS):
        value, slope = _slope(bench, z)
        curvature = np.eye(count) + slope.T @ inverse @ slope
        step = np.linalg.solve(curvature, slope.T @ inverse @ (bench.seen - value) - z)
        tried = z + step * np.array([1.0, 0.5, 0.25, 0.1, 0.0])[:, None]
        costs = cost(tried)
        best = int(np.argmin(costs))
        gained, before, z = before - float(costs[best]), float(costs[best]), tried[best]
        if gained < 1e-3:
            break
    value, slope = _slope(bench, z)
    covariance = _inverted(np.eye(count) + slope.T @ inverse @ slope)
    residual = bench.seen - value
    estimates = tuple(_estimate(bench, z, covariance, name) for name in ESTIMATED)
    return Calibration(
        names=bench.names,
        spread=bench.spread,
        centre=bench.centre,
        mean=z,
        covariance=covariance,
        estimates=estimates,
        fed=bench.fed,
        fuels=tuple(dict.fromkeys(r.fuel.name for r in records)),
        place=bench.place,
        residual=residual,
        slope=slope,
        inverse=inverse,
        misfit=float(residual @ inverse @ residual / residual.size),
        words=cannot_tell(bench.names, bench.spread, covariance, estimates),
    )


def _inverted(matrix: Array) -> Array:
    return np.asarray(np.linalg.inv(matrix), dtype=np.float64)


def _slope(bench: _Bench, z: Array) -> tuple[Array, Array]:
    """ln(torque) and its slope by central differences, shapes (m,), (m, k)."""
    probe = np.eye(z.size) * PROBE
    value = bench.modelled(np.concatenate([z[None], z + probe, z - probe]))
    up, down = value[1 : z.size + 1], value[z.size + 1 :]
    return value[0], np.asarray((up - down).T / (2.0 * PROBE))


def _between(torque: Array, speed: Array, place: Array) -> Array:
    """Torque (B, L, N) at speeds and manifold pressures of shape (m, 2), straight between neighbours."""
    n = np.clip(np.searchsorted(speed, place[:, 0]) - 1, 0, speed.size - 2)
    u = (place[:, 0] - speed[n]) / (speed[n + 1] - speed[n])
    k = np.clip(np.searchsorted(LEVELS, place[:, 1]) - 1, 0, LEVELS.size - 2)
    v = (place[:, 1] - LEVELS[k]) / (LEVELS[k + 1] - LEVELS[k])
    low = torque[:, k, n] * (1.0 - u) + torque[:, k, n + 1] * u
    high = torque[:, k + 1, n] * (1.0 - u) + torque[:, k + 1, n + 1] * u
    return np.asarray(low * (1.0 - v) + high * v)


def _lay_out(build: Build, records: Sequence[Record], kinds: Mapping[str, Kind]) -> _Bench:
    if not records:
        raise OutOfRange("records", "none", "at least one", "enter the peaks of a roller sheet with their boost")
    power = build.platform.constants.get("factory power", 1.0e5)
    anatomy, _ = examine(build, Target(power=power, fuel=records[0].fuel), kinds)
    fed = anatomy.here()
    engine = prepare(build.platform, speeds=SPEEDS)
    names = [*ESTIMATED, *(name for name in PARTS if name in fed)]
    spread = [WIDENED * MODEL_SPREAD[n][0] if n in ESTIMATED else PARTS[n][0] for n in names]
    centre = [0.0] * len(names)
    place: list[tuple[float, float]] = []
    seen: list[float] = []
    loss_of: list[int] = []
    rows: dict[tuple[Fuel, Weather], list[int]] = {}
    for record in records:
        label = f"{LOSS}: {record.dyno}, {record.basis.value}, {record.loss[0]:g} to {record.loss[1]:g}"
        if label not in names:
            low, high = record.loss
            names.append(label)
            centre.append(float(np.log(1.0 - 0.5 * (low + high))))
            spread.append(max((high - low) / np.sqrt(12.0) / (1.0 - 0.5 * (low + high)), 1e-9))
        for point, seen_power in zip(record.points, observed(record), strict=True):
            pressure = point.boost + record.weather.pressure
            _refuse(record, point.speed, pressure, engine.speed)
            rows.setdefault((record.fuel, record.weather), []).append(len(seen))
            place.append((point.speed, pressure))
            seen.append(float(np.log(seen_power / (2.0 * np.pi * point.speed))))
            loss_of.append(names.index(label))
    return _Bench(
        engine=engine,
        fed=MappingProxyType(fed),
        names=tuple(names),
        spread=np.array(spread),
        centre=np.array(centre),
        latest_phasing=Target(power=power, fuel=records[0].fuel).latest_phasing,
        groups=tuple((fuel, weather, np.array(found)) for (fuel, weather), found in rows.items()),
        place=np.array(place),
        seen=np.array(seen),
        loss_of=np.array(loss_of),
    )


def _refuse(record: Record, speed: float, pressure: float, speeds: Array) -> None:
    if not speeds[0] * (1 - 1e-9) <= speed <= speeds[-1] * (1 + 1e-9):
        raise OutOfRange(
            f"engine speed in {record.name}",
            f"{speed * 60:.0f} 1/min",
            f"{speeds[0] * 60:.0f} to {speeds[-1] * 60:.0f} 1/min",
            "leave the reading out",
        )
    if not LEVELS[0] <= pressure <= LEVELS[-1]:
        raise OutOfRange(
            f"manifold pressure in {record.name}",
            f"{pressure / 1e5:.2f} bar absolute",
            f"{LEVELS[0] / 1e5:.1f} to {LEVELS[-1] / 1e5:.1f} bar absolute",
            "check whether the boost is a gauge pressure",
        )


def _estimate(bench: _Bench, z: Array, covariance: Array, name: str) -> Estimate:
    i = bench.names.index(name)
    wide, narrow, middle = bench.spread[i], bench.spread[i] * np.sqrt(covariance[i, i]), bench.spread[i] * z[i]
    return Estimate(
        name=name,
        factor=float(np.exp(middle)),
        low=float(np.exp(middle - 1.645 * narrow)),
        high=float(np.exp(middle + 1.645 * narrow)),
        prior_low=float(np.exp(-1.645 * wide)),
        prior_high=float(np.exp(1.645 * wide)),
        learnt=bool(covariance[i, i] < NOT_LEARNT**2),
    )
