"""Predict: what a calibrated engine makes with another boost, fuel, part or day, as an interval over speed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from graph.calibration import LEAST_SPREAD, LOSS, PARTS, Calibration, discrepancy, mean_pressure, moved
from graph.check import examine
from graph.learn import SPEEDS
from graph.limit import Kind
from graph.model import Array, Build, Target
from graph.operation import LEVELS, EngineMap, prepare, solve, stack_paths
from graph.report import Interval
from graph.sampling import SEED

#: Parameter draws, each solved in full [1].
SAMPLES = 200
#: Draws of the model's error for each of them [1].
ERRORS = 10


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Prediction:
    """What a calibrated engine makes: 5th, 50th and 95th percentile.

    Parameters
    ----------
    speed : array, shape (N,)
        [1/s]
    low, median, high : array, shape (N,)
        Highest crank torque with an operating point at the boost cap [N.m].
    power : Interval
        Power at the speed of the power [W].
    """

    speed: Array
    low: Array
    median: Array
    high: Array
    power: Interval


def predict(
    calibration: Calibration,
    build: Build,
    target: Target,
    kinds: Mapping[str, Kind],
    *,
    samples: int = SAMPLES,
    seed: int = SEED,
) -> Prediction:
    """What the calibrated engine makes with another boost, fuel, part or day.

    Parameters
    ----------
    calibration : Calibration
        From :func:`learn` for a build of the same platform.
    build : Build
        The car as it would be; a part that differs from the measured one brings its own spread again,
        and so does a fuel that was not in the tank.
    target : Target
        Boost cap, fuel, weather; its power is not used [SI].
    kinds : mapping of str to Kind
        Part kinds by name.
    samples : int
        Parameter draws, each solved in full [1].
    seed : int
        Of the draws.

    Returns
    -------
    Prediction
        Torque over speed and power, each as an interval of nine cases in ten [N.m], [W].
    """
    anatomy, question = examine(build, target, kinds)
    engine = prepare(build.platform, speeds=SPEEDS, power_speed=question.power_speed)
    fed = anatomy.here()
    random = np.random.default_rng(seed)
    half = random.standard_normal((samples // 2, len(calibration.names)))
    z = calibration.mean + np.concatenate([half, -half]) @ np.linalg.cholesky(calibration.covariance).T
    used = z.copy()
    for column, name in enumerate(calibration.names):
        if name in PARTS and fed.get(name) != calibration.fed.get(name):
            used[:, column] = random.standard_normal(z.shape[0])
    paths = moved(fed, calibration.names, calibration.centre + calibration.spread * used)
    if target.fuel.name not in calibration.fuels:
        shift = target.fuel.spread * target.fuel.research_octane * random.standard_normal(z.shape[0])
        paths = [{**path, "octane_shift": float(s)} for path, s in zip(paths, shift, strict=True)]
    states = solve(engine, stack_paths(paths), target.fuel, target.weather, target.latest_phasing)
    torque, _ = states.highest_torque(target.boost_cap)
    place = np.stack([engine.speed, _reached(states, torque, target)], axis=-1)
    torque = np.repeat(torque, ERRORS, axis=0) * np.exp(
        _error(calibration, np.repeat(z, ERRORS, axis=0), place, random)
    )
    low, median, high = _percentiles(torque, np.repeat(_weight(calibration, z), ERRORS), (0.05, 0.50, 0.95))
    at = int(np.argmin(np.abs(engine.speed - question.power_speed)))
    circle = 2.0 * np.pi * engine.speed[at]
    power = Interval(low=float(low[at] * circle), median=float(median[at] * circle), high=float(high[at] * circle))
    return Prediction(speed=engine.speed, low=low, median=median, high=high, power=power)


def _reached(states: EngineMap, torque: Array, target: Target) -> Array:
    """Median manifold pressure at which the draws make their torque, shape (N,) [Pa]."""
    operation, _ = states.at(torque[:, None, :] * (1.0 - 1e-6))
    cap = LEVELS[-1] if target.boost_cap is None else target.boost_cap + target.weather.pressure
    pressure = operation.manifold_pressure[:, 0]
    return np.asarray(np.median(np.where(np.isnan(pressure), cap, pressure), axis=0))


def _weight(calibration: Calibration, z: Array) -> Array:
    """Weight of each draw, shape (S,) [1]: a loss lies anywhere within its interval and never outside.

    The Gaussian in which it was estimated has the standard deviation of that flat interval.
    """
    weight = np.ones(z.shape[0])
    for column, name in enumerate(calibration.names):
        if name.startswith(LOSS) and calibration.spread[column] > LEAST_SPREAD:
            place = z[:, column]
            weight = weight * np.where(np.abs(place) <= np.sqrt(3.0), np.exp(0.5 * place**2), 0.0)
    return weight if weight.sum() > 0.05 * weight.size else np.ones(z.shape[0])


def _percentiles(values: Array, weight: Array, shares: tuple[float, ...]) -> list[Array]:
    """Weighted percentiles along the first axis."""
    order = np.argsort(values, axis=0)
    ranked = np.take_along_axis(values, order, axis=0)
    summed = np.cumsum(weight[order], axis=0)
    rows = [np.minimum((summed < share * summed[-1]).sum(axis=0), values.shape[0] - 1) for share in shares]
    return [np.take_along_axis(ranked, row[None], axis=0)[0] for row in rows]


def _error(calibration: Calibration, z: Array, place: Array, random: np.random.Generator) -> Array:
    """Draws of the model's error at some places, given the readings and each draw of the parameters."""
    middle = mean_pressure(calibration.place)
    across = discrepancy(place, calibration.place, middle) @ calibration.inverse
    left = calibration.residual - (z - calibration.mean) @ calibration.slope.T
    within = discrepancy(place, place, middle) - across @ discrepancy(calibration.place, place, middle)
    values, vectors = np.linalg.eigh(0.5 * (within + within.T))
    root = vectors * np.sqrt(np.maximum(values, 0.0))
    return np.asarray(left @ across.T + random.standard_normal((z.shape[0], place.shape[0])) @ root.T)
