"""Ratings weighed against pulls: closed forms of the normal model, SciPy's distribution functions, simulated shops."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import integrate, stats

from graph.capacity import KIND_SHARE, PART_SHARE, PIECE_SHARE, Learned, Stated, Trial, learn
from graph.errors import OutOfRange
from graph.model import Meaning

SIGMA = 0.06
STATED = Stated(rated=1.0, spread=math.sqrt(math.expm1(SIGMA**2)))  # the logarithm spreads by 0.06


def trial(x: float, noise: float = 0.02, *, reached: bool = True, car: str = "car-1", part: str | None = "p") -> Trial:
    """A pull with a logarithmic ratio to the rating of one."""
    return Trial(
        car=car,
        slot="pump",
        kind="pump",
        rating="flow",
        part=part,
        reached=reached,
        demand=math.exp(x),
        capacity=1.0,
        rated=1.0,
        spread=math.sqrt(math.expm1(noise**2)),
    )


def logs(found: Learned) -> np.ndarray:
    return np.log([found.low, found.median, found.high])


def test_without_trials_the_rating_stays() -> None:
    found = learn([], "p", ("car-1", "pump"), {"p": STATED}, odd=0.0)
    np.testing.assert_allclose(logs(found), SIGMA * stats.norm.ppf([0.05, 0.5, 0.95]), atol=2e-4)
    assert found.spread == pytest.approx(STATED.spread, rel=5e-3)


@pytest.mark.parametrize(("meaning", "middle"), [(Meaning.GUARANTEED, 1.645 * SIGMA), (Meaning.SURVIVED, None)])
def test_the_meaning_of_a_rating_moves_its_middle(meaning: Meaning, middle: float | None) -> None:
    found = learn([], "p", None, {"p": Stated(rated=1.0, spread=STATED.spread, meaning=meaning)}, odd=0.0)
    # A guaranteed minimum is the 5 % point; a survived load lies below: mean of a half-normal sigma sqrt(2/pi).
    expected = SIGMA * math.sqrt(2.0 / math.pi) if middle is None else middle
    assert math.log(found.median) == pytest.approx(expected, abs=2e-3)


def test_reached_limits_of_one_piece_are_the_conjugate_normal() -> None:
    # Precisions add: 1/0.06^2 of the rating and two pulls of 0.02 and 0.03.
    seen = [trial(-0.10, 0.02), trial(-0.05, 0.03)]
    weights = np.array([1 / SIGMA**2, 1 / 0.02**2, 1 / 0.03**2])
    mean, deviation = weights @ [0.0, -0.10, -0.05] / weights.sum(), weights.sum() ** -0.5
    found = learn(seen, "p", ("car-1", "pump"), {"p": STATED}, odd=0.0)
    np.testing.assert_allclose(logs(found), stats.norm.ppf([0.05, 0.5, 0.95], mean, deviation), atol=3e-4)
    assert (found.reached, found.carried, found.own) == (2, 0, 2)


@pytest.mark.parametrize("bound", [-0.1, 0.0, 0.08])
def test_a_bound_is_the_skewed_normal(bound: float) -> None:
    # Density phi(x / sigma) Phi((x - b) / m), integrated by SciPy.
    def density(x: float) -> float:
        return float(stats.norm.pdf(x, 0.0, SIGMA) * stats.norm.cdf((x - bound) / 0.02))

    total = integrate.quad(density, -0.6, 0.8, points=[0.0, bound], limit=200)[0]
    found = learn([trial(bound, reached=False)], "p", ("car-1", "pump"), {"p": STATED}, odd=0.0)
    for at, share in zip(logs(found), (0.05, 0.5, 0.95), strict=True):
        assert integrate.quad(density, -0.6, at, points=[bound], limit=200)[0] / total == pytest.approx(share, abs=3e-3)


def test_pulls_of_other_cars_move_a_new_piece_as_the_joint_normal_says() -> None:
    # Covariances: same part number shares kind and part, same kind shares the kind alone.
    variance = SIGMA**2
    same, kind = (KIND_SHARE + PART_SHARE) * variance, KIND_SHARE * variance
    seen = [trial(-0.09, car="a"), trial(-0.07, car="b"), trial(-0.12, car="c"), trial(-0.02, car="d", part="q")]
    noise = 0.02**2
    among = np.full((4, 4), same)
    among[3, :] = among[:, 3] = kind
    among[np.diag_indices(4)] = variance + noise
    across = np.array([same, same, same, kind])
    gain = np.linalg.solve(among, across)
    mean, deviation = gain @ [-0.09, -0.07, -0.12, -0.02], math.sqrt(variance - gain @ across)
    found = learn(seen, "p", None, {"p": STATED, "q": STATED}, odd=0.0)
    np.testing.assert_allclose(logs(found), stats.norm.ppf([0.05, 0.5, 0.95], mean, deviation), atol=8e-4)
    assert pytest.approx(1.0) == PIECE_SHARE + PART_SHARE + KIND_SHARE


def test_bounds_of_other_cars_equal_the_multivariate_normal() -> None:
    # P(new <= q | both bounds passed), with SciPy's multivariate normal distribution function.
    variance, shared, noise = SIGMA**2, (KIND_SHARE + PART_SHARE) * SIGMA**2, 0.02**2
    bounds = np.array([0.05, 0.02])
    seen = [trial(b, reached=False, car=f"car {k}") for k, b in enumerate(bounds)]
    found = learn(seen, "p", None, {"p": STATED}, odd=0.0)
    covariance = np.full((3, 3), shared)
    covariance[np.diag_indices(3)] = [variance, variance + noise, variance + noise]
    flip = np.diag([1.0, -1.0, -1.0])  # passed above the bound
    both = stats.multivariate_normal(cov=(flip @ covariance @ flip)[1:, 1:]).cdf(-bounds)
    for at, share in zip(logs(found), (0.05, 0.5, 0.95), strict=True):
        joint = stats.multivariate_normal(cov=flip @ covariance @ flip).cdf([at, *-bounds])
        assert joint / both == pytest.approx(share, abs=6e-3)


def test_a_piece_far_off_is_taken_for_odd_and_not_for_noise() -> None:
    # Two exact pulls at 0.8 of a rating of 4 %: within the normal model five deviations, so the odd piece explains it.
    stated = {"p": Stated(rated=1.0, spread=0.04)}
    seen = [trial(math.log(0.8), 0.03), trial(math.log(0.8), 0.03)]
    found = learn(seen, "p", ("car-1", "pump"), stated)
    assert 0.77 < found.median < 0.83
    assert learn(seen, "p", ("car-1", "pump"), stated, odd=0.0).median > found.median
    assert learn(seen, "p", None, stated).median > 0.94  # another piece of the number hardly suffers


def test_a_changed_sheet_rescales_what_was_measured() -> None:
    # The pull measured 0.9 of a rating of 1.0; the sheet now says 0.9: the same capacity, a factor of one.
    found = learn([trial(math.log(0.9), 1e-3)], "p", ("car-1", "pump"), {"p": Stated(rated=0.9, spread=0.05)}, odd=0.0)
    assert found.median == pytest.approx(1.0, abs=1e-3)


def test_a_trial_needs_numbers() -> None:
    with pytest.raises(OutOfRange, match="trial of the pump"):
        trial(math.nan)


def _shop(rng: np.random.Generator, cars: int) -> tuple[list[Trial], dict[str, float]]:
    """Cars of one kind with two part numbers; each is pulled one to three times, reached or not."""
    kind, numbers = rng.standard_normal(), {"p": rng.standard_normal(), "q": rng.standard_normal()}
    seen, truth = [], {}
    for k in range(cars):
        part = "p" if k % 3 else "q"
        x = SIGMA * (
            math.sqrt(KIND_SHARE) * kind
            + math.sqrt(PART_SHARE) * numbers[part]
            + math.sqrt(PIECE_SHARE) * rng.standard_normal()
        )
        truth[f"car {k}"] = x
        for _ in range(int(rng.integers(1, 4))):
            asked = rng.uniform(-0.20, 0.15)  # what the pull asks of the part, over its rating
            measured = rng.normal(min(asked, x), 0.02)
            seen.append(trial(measured, 0.02, reached=asked > x, car=f"car {k}", part=part))
    return seen, truth


def test_intervals_of_hidden_limits_cover_the_truth_at_their_rate() -> None:
    # 50 cars with a hidden limit in each of 12 simulated shops: 90 % intervals hold 85 to 95 % of the true capacities.
    # One shop's shared deviations are drawn once, so a single shop of 50 scatters more than the bar.
    rng = np.random.default_rng(2)
    inside = below = count = 0
    for _ in range(12):
        seen, truth = _shop(rng, 50)
        for car, x in truth.items():
            part = next(t.part for t in seen if t.car == car)
            low, _, high = logs(learn(seen, part, (car, "pump"), {"p": STATED, "q": STATED}))
            inside += low <= x <= high
            below += x < low
            count += 1
    assert count == 600
    assert abs(inside / count - 0.90) <= 0.05
    assert abs(below / count - 0.05) <= 0.05
