"""Predict: what a calibrated engine makes with another boost, fuel, part or day, as an interval over speed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from graph.calibration import PARTS, Calibration, discrepancy, mean_pressure, moved
from graph.check import examine
from graph.learn import SPEEDS
from graph.limit import Kind
from graph.model import Array, Build, Target
from graph.operation import LEVELS, prepare, solve, stack_paths
from graph.report import Interval
from graph.sampling import SEED

#: Parameter draws, each solved in full [1].
SAMPLES = 200


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
        The car as it would be; a part that differs from the measured one brings its own spread again.
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
    count = len(calibration.names)
    half = random.standard_normal((samples // 2, count))
    normal = np.concatenate([half, -half])
    z = calibration.mean + normal @ np.linalg.cholesky(calibration.covariance).T
    used = z.copy()
    for column, name in enumerate(calibration.names):
        if name in PARTS and fed.get(name) != calibration.fed.get(name):
            used[:, column] = random.standard_normal(z.shape[0])
    paths = moved(fed, calibration.names, calibration.centre + calibration.spread * used)
    states = solve(engine, stack_paths(paths), target.fuel, target.weather, target.latest_phasing)
    torque, _ = states.highest_torque(target.boost_cap)
    cap = target.boost_cap if target.boost_cap is not None else float(LEVELS[-1])
    place = np.stack([engine.speed, np.full(engine.speed.size, cap + target.weather.pressure)], axis=-1)
    torque = torque * np.exp(_error(calibration, z, place, random))
    low, median, high = np.percentile(torque, [5.0, 50.0, 95.0], axis=0)
    at = int(np.argmin(np.abs(engine.speed - question.power_speed)))
    circle = 2.0 * np.pi * engine.speed[at]
    power = Interval(low=float(low[at] * circle), median=float(median[at] * circle), high=float(high[at] * circle))
    return Prediction(speed=engine.speed, low=low, median=median, high=high, power=power)


def _error(calibration: Calibration, z: Array, place: Array, random: np.random.Generator) -> Array:
    """Draws of the model's error at some places, given the readings and each draw of the parameters."""
    middle = mean_pressure(calibration.place)
    across = discrepancy(place, calibration.place, middle) @ calibration.inverse
    left = calibration.residual - (z - calibration.mean) @ calibration.slope.T
    within = discrepancy(place, place, middle) - across @ discrepancy(calibration.place, place, middle)
    values, vectors = np.linalg.eigh(0.5 * (within + within.T))
    root = vectors * np.sqrt(np.maximum(values, 0.0))
    return np.asarray(left @ across.T + random.standard_normal((z.shape[0], place.shape[0])) @ root.T)
