"""Range and cap of a quote against jobs drawn by a second, plain simulation; sums and quantiles by hand.

The second simulation uses the standard library's generator, one job after the other, and reads the three values of a
spread as its 5th, 50th and 95th percentile by the normal distribution's own table value 1.6449 (Abramowitz, Stegun,
Handbook of Mathematical Functions, 1972, table 26.5).
"""

from __future__ import annotations

import math
import random
from dataclasses import replace

import numpy as np
import pytest

from graph.errors import OutOfRange
from graph.experience import Experience, JobTime, Spread, Surprise
from graph.model import Fuel, Target
from graph.plan.record import Cost, Plan, SharedLabour, Step
from graph.plan.wish import ShopTerms
from graph.quote import Quote, jobs_of, lasting, quote

Z95 = 1.6449
TERMS = ShopTerms(hourly_rate=100.0, tax=0.20)
PETROL = Fuel(
    name="ron98",
    research_octane=98.0,
    motor_octane=88.0,
    stoichiometric_ratio=14.3,
    heating_value=42.5e6,
    density=745.0,
    latent_heat=3.5e5,
)
HOURS = {"turbo": 8.0, "cooler": 4.0, "oil": 4.0, "program": 5.0}
KINDS = {"turbo": "compressor", "cooler": "intercooler", "oil": "oil_cooler", "program": "calibration"}
EXPERIENCE = Experience(
    times=(
        JobTime(job="compressor", labour=Spread(low=7.0 * 3600, usual=8.0 * 3600, high=12.0 * 3600)),
        JobTime(job="calibration", labour=Spread(low=4.0 * 3600, usual=5.0 * 3600, high=8.0 * 3600)),
    ),
    surprises=(
        Surprise(
            key="bolts",
            text="stuck bolts",
            jobs=frozenset({"compressor"}),
            probability=0.25,
            labour=Spread(low=3600.0, usual=7200.0, high=5 * 3600.0),
            parts=Spread(low=10.0, usual=25.0, high=60.0),
        ),
        Surprise(
            key="clips",
            text="broken clips",
            jobs=frozenset({"intercooler", "oil_cooler"}),
            probability=0.30,
            labour=Spread(low=720.0, usual=1440.0, high=3600.0),
            parts=Spread(low=15.0, usual=30.0, high=70.0),
        ),
        Surprise(
            key="other",
            text="seen only in gearboxes",
            jobs=frozenset({"packs"}),
            probability=0.9,
            labour=Spread(low=3600.0, usual=7200.0, high=9000.0),
            parts=Spread(low=1.0, usual=2.0, high=3.0),
        ),
    ),
)


def plan_of(saves: float = 1.5) -> Plan:
    """Four jobs, 21 h apart, the bumper off once: 19.5 h; parts 4000."""
    steps = tuple(
        Step(slot=slot, install=f"P-{slot}", name=slot, remove=None, price=1000.0, labour=hours * 3600.0)
        for slot, hours in HOURS.items()
    )
    labour = (sum(HOURS.values()) - saves) * 3600.0
    work = labour / 3600.0 * TERMS.hourly_rate
    shared = (SharedLabour(operation="bumper off", saves=saves * 3600.0, jobs=("P-cooler", "P-oil")),) if saves else ()
    return Plan(
        target=Target(power=300e3, fuel=PETROL),
        reachable=True,
        cost=Cost(parts=4000.0, labour=labour, work=work, tax=0.2 * (4000.0 + work)),
        steps=steps,
        shared_labour=shared,
    )


def quoted(plan: Plan | None = None, experience: Experience = EXPERIENCE, **given: float) -> Quote:
    found = quote(plan or plan_of(), KINDS, experience, TERMS, **given)  # type: ignore[arg-type]
    assert found is not None
    return found


def drawn(value: Spread, z: float) -> float:
    """One value of a spread at one normal deviate."""
    if value.usual == 0.0:
        return 0.0
    ratio = value.high / value.usual if z > 0 else value.usual / value.low
    return value.usual * ratio ** (z / Z95)


def one_job(dice: random.Random, common: float) -> float:
    """What one customer pays in the end, worked step by step."""
    car = dice.gauss(0.0, 1.0)

    def deviate() -> float:
        return math.sqrt(common) * car + math.sqrt(1.0 - common) * dice.gauss(0.0, 1.0)

    # The bumper's 1.5 h are saved on two jobs of 4 h each, 0.75 h apiece.
    hours = {"turbo": 8.0, "cooler": 3.25, "oil": 3.25, "program": 5.0}
    own = {"turbo": EXPERIENCE.times[0].labour, "program": EXPERIENCE.times[1].labour}
    total = 4000.0
    for slot, usual in hours.items():
        spread = own.get(slot)
        shares = (
            EXPERIENCE.other
            if spread is None
            else Spread(low=spread.low / spread.usual, usual=1.0, high=spread.high / spread.usual)
        )
        total += usual * drawn(shares, deviate()) * TERMS.hourly_rate
    for surprise in EXPERIENCE.surprises[:2]:
        if dice.random() < surprise.probability:
            z = dice.gauss(0.0, 1.0)
            total += drawn(surprise.labour, z) / 3600.0 * TERMS.hourly_rate + drawn(surprise.parts, z)
    return total * 1.2


@pytest.mark.parametrize("common", [0.0, 0.3, 0.8])
def test_nine_jobs_in_ten_lie_inside_the_range(common: float) -> None:
    found = quoted(experience=replace(EXPERIENCE, common=common))
    dice = random.Random(7)
    totals = [one_job(dice, common) for _ in range(20_000)]
    inside = sum(found.low <= t <= found.high for t in totals) / len(totals)
    # Both samples are of 20 000: three standard errors of their difference are 3 sqrt(2 * 0.9 * 0.1 / 20000) = 0.009.
    assert inside == pytest.approx(0.90, abs=0.01)
    assert sum(t < found.low for t in totals) / len(totals) == pytest.approx(0.05, abs=0.007)
    assert sum(t <= found.cap for t in totals) / len(totals) == pytest.approx(found.within_cap, abs=0.007)


def test_nothing_that_varies_gives_the_plan_and_no_range() -> None:
    exact = Experience(other=Spread(low=1.0, usual=1.0, high=1.0))
    found = quoted(experience=exact)
    # By hand: (4000 + 19.5 h * 100) * 1.2 = 7140.
    assert found.low == pytest.approx(7140.0)
    assert found.high == pytest.approx(7140.0)
    assert found.planned == pytest.approx(7140.0)
    assert found.cap == 7150.0
    assert found.within_cap == 1.0


@pytest.mark.parametrize("overrun", [0.0, 0.02, 0.10, 0.50])
def test_cap_is_never_below_the_range_or_the_room_that_the_shop_keeps(overrun: float) -> None:
    found = quoted(overrun=overrun)
    assert found.cap >= found.high
    assert found.cap >= found.planned * (1.0 + overrun)
    assert found.cap % 50.0 == 0.0
    assert found.cap < max(found.high, found.planned * (1.0 + overrun)) + 50.0
    assert found.within_cap >= 0.95


def test_saved_strip_down_is_taken_off_once() -> None:
    jobs = {job: seconds / 3600.0 for job, _, seconds in lasting(plan_of(), KINDS)}
    assert jobs == pytest.approx({"P-turbo": 8.0, "P-cooler": 3.25, "P-oil": 3.25, "P-program": 5.0})
    for saves in (0.0, 1.5, 7.9):
        plan = plan_of(saves)
        assert plan.cost is not None
        assert sum(s for _, _, s in lasting(plan, KINDS)) == pytest.approx(plan.cost.labour)


def test_findings_come_with_the_jobs_that_show_them_and_their_price() -> None:
    found = quoted()
    assert [c.surprise.key for c in found.chances] == ["bolts", "clips"]
    # By hand: (2 h * 100 + 25) * 1.2 = 270; (1 h * 100 + 10) * 1.2 = 132; (5 h * 100 + 60) * 1.2 = 672.
    bolts = found.chances[0]
    assert (bolts.low, bolts.usual, bolts.high) == pytest.approx((132.0, 270.0, 672.0))
    assert bolts.weight == pytest.approx(0.25 * 270.0)


def test_finding_in_a_place_that_is_renewed_adds_nothing() -> None:
    renewed = replace(EXPERIENCE.surprises[0], unless=frozenset({"oil_cooler"}))
    found = quoted(experience=replace(EXPERIENCE, surprises=(renewed,)))
    assert found.chances == ()


def test_more_findings_never_lower_the_range() -> None:
    without = quoted(experience=replace(EXPERIENCE, surprises=()))
    assert quoted().high > without.high
    assert quoted().usual > without.usual


def test_part_number_comes_before_its_kind() -> None:
    slow = JobTime(job="P-turbo", labour=Spread(low=16.0, usual=20.0, high=60.0))
    assert quoted(experience=replace(EXPERIENCE, times=(*EXPERIENCE.times, slow))).high > quoted().high
    assert quoted().reckoned == ("P-cooler", "P-oil")


def test_same_start_same_answer_and_another_start_nearly_so() -> None:
    assert quoted() == quoted()
    assert quoted(seed=1).high == pytest.approx(quoted().high, rel=0.01)


def test_plan_without_a_set_has_no_quote() -> None:
    assert quote(Plan(target=plan_of().target, reachable=False), KINDS, EXPERIENCE, TERMS) is None


def test_spread_meets_its_three_values() -> None:
    spread = Spread(low=2.0, usual=3.0, high=7.0)
    share = np.random.default_rng(3).standard_normal(200_000)
    # Three standard errors of a share of 0.05 among 200 000 are 0.0015.
    values = spread.at(share)
    assert np.mean(values < 2.0) == pytest.approx(0.05, abs=0.0015)
    assert np.mean(values < 3.0) == pytest.approx(0.50, abs=0.0034)
    assert np.mean(values > 7.0) == pytest.approx(0.05, abs=0.0015)


@pytest.mark.parametrize("values", [(2.0, 1.0, 3.0), (0.0, 1.0, 2.0), (1.0, 3.0, 2.0), (-1.0, 0.0, 1.0)])
def test_values_that_do_not_rise_are_refused(values: tuple[float, float, float]) -> None:
    with pytest.raises(OutOfRange, match="rising numbers"):
        Spread(low=values[0], usual=values[1], high=values[2])


def test_jobs_are_known_by_number_and_kind() -> None:
    assert {"P-turbo", "compressor", "calibration"} <= jobs_of(plan_of(), KINDS)
