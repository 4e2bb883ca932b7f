"""Suspects, next looks and the roller gate, against enumeration, inclusion and exclusion, and simulated arrivals."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from graph.arrive import arrive
from graph.diagnose import Observation, calibration_error, suspects
from graph.errors import OutOfRange, UnknownName
from graph.gate import CHECKS, Condition, roller_gate
from graph.look import next_looks, value_of
from graph.model import Belief
from graph.posterior import MOST_PRESENT, infer, network
from graph.recorded import Arrival
from graph.symptom import Count, Fault, Inspection, Knowledge, Sign, beta_mean, learn_counts
from ingest.symptom import find_sign, read_knowledge

SEED = Path(__file__).resolve().parents[2] / "seed_parts" / "knowledge"
HOUR = 3600.0


@pytest.fixture(scope="module")
def shop_knowledge() -> Knowledge:
    book = read_knowledge(SEED)
    assert book.problems == []
    return book.knowledge


def small(seed: int, faults: int = 8, signs: int = 7) -> Knowledge:
    """A random network, some links left out."""
    rng = np.random.default_rng(seed)
    names = tuple(Sign(id=f"s{j}", name=f"s{j}", leak=float(rng.uniform(0.01, 0.2))) for j in range(signs))
    listed = []
    for i in range(faults):
        chances = {f"s{j}": float(rng.uniform(0.25, 0.95)) for j in range(signs) if rng.random() < 0.5}
        listed.append(
            Fault(id=f"f{i}", name=f"f{i}", slot=None, prior=float(rng.uniform(0.02, 0.4)), chances=chances, stake=1.0)
        )
    return Knowledge(faults=tuple(listed), signs=names)


def enumerated(knowledge: Knowledge, present: list[str], absent: list[str]) -> tuple[float, np.ndarray]:
    """Every combination of faults: the definition of the network, without any of the program's arithmetic."""
    total, with_fault = 0.0, np.zeros(len(knowledge.faults))
    leak = {s.id: s.leak for s in knowledge.signs}
    for state in itertools.product((False, True), repeat=len(knowledge.faults)):
        weight = math.prod(f.prior if on else 1.0 - f.prior for f, on in zip(knowledge.faults, state, strict=True))
        for key in (*present, *absent):
            away = 1.0 - leak[key]
            for fault, on in zip(knowledge.faults, state, strict=True):
                if on and key in fault.chances:
                    away *= min(1.0, (1.0 - fault.chances[key]) / (1.0 - leak[key]))
            weight *= away if key in absent else 1.0 - away
        total += weight
        with_fault += weight * np.array(state)
    return total, with_fault / total


def inclusion_exclusion(knowledge: Knowledge, present: list[str], absent: list[str]) -> np.ndarray:
    """Alternating sum over subsets of the signs present (Heckerman 1990), all faults of the shop at once."""
    net = network(knowledge)
    index = {k: j for j, k in enumerate(net.signs)}
    silent = np.prod(1.0 - net.link[:, [index[k] for k in absent]], axis=1)
    total, joint = 0.0, np.zeros(len(net.faults))
    for size in range(len(present) + 1):
        for subset in itertools.combinations(present, size):
            columns = [index[k] for k in subset]
            quiet = silent * np.prod(1.0 - net.link[:, columns], axis=1)
            terms = 1.0 - net.prior + net.prior * quiet
            weight = (-1.0) ** size * float(np.prod(1.0 - net.leak[columns]) * np.prod(terms))
            total += weight
            joint += weight * net.prior * quiet / terms
    return joint / total


@pytest.mark.parametrize("seed", range(8))
def test_posterior_equals_enumeration_of_all_combinations(seed: int) -> None:
    knowledge = small(seed)
    rng = np.random.default_rng(100 + seed)
    keys = [s.id for s in knowledge.signs]
    rng.shuffle(keys)
    count = int(rng.integers(0, 6))
    present, absent = keys[:count], keys[count : count + 2]
    likelihood, expected = enumerated(knowledge, present, absent)
    found = infer(network(knowledge), present, absent)
    assert found.likelihood == pytest.approx(likelihood, rel=1e-10)
    np.testing.assert_allclose(found.fault, expected, rtol=1e-9)


def test_shop_network_equals_inclusion_and_exclusion(shop_knowledge: Knowledge) -> None:
    present = ["rail-low-at-torque-peak", "tank-duty-spare", "lean-full-load", "spark-pulled-all", "misfire-high-boost"]
    absent = ["low-side-falls", "boost-short", "speed-without-drive"]
    found = infer(network(shop_knowledge), present, absent).fault
    np.testing.assert_allclose(found, inclusion_exclusion(shop_knowledge, present, absent), rtol=1e-7)


def test_one_fault_and_one_sign_by_hand() -> None:
    # Bayes: 0.1 x 0.9 / (0.1 x 0.9 + 0.9 x 0.05) = 0.09 / 0.135 = 2/3; the stated 0.9 includes the leak.
    knowledge = Knowledge(
        faults=(Fault(id="f", name="f", slot=None, prior=0.1, chances={"s": 0.9}),),
        signs=(Sign(id="s", name="s", leak=0.05),),
    )
    assert infer(network(knowledge), ["s"]).fault[0] == pytest.approx(2.0 / 3.0)
    # and away: 0.1 x 0.1 / (0.1 x 0.1 + 0.9 x 0.95) = 0.01 / 0.865
    assert infer(network(knowledge), [], ["s"]).fault[0] == pytest.approx(0.01 / 0.865)


def test_nothing_seen_leaves_the_priors(shop_knowledge: Knowledge) -> None:
    net = network(shop_knowledge)
    np.testing.assert_allclose(infer(net, []).fault, net.prior)
    assert infer(net, []).likelihood == pytest.approx(1.0)


def test_one_fault_explains_another_away(shop_knowledge: Knowledge) -> None:
    # Oil that smells of fuel raises the seal; a dripping injector found by itself takes the reason away again.
    net = network(shop_knowledge)
    i = net.faults.index("hp-pump-misfitted")
    alone = infer(net, ["oil-level-up"]).fault[i]
    explained = infer(net, ["oil-level-up", "injector-uneven"]).fault[i]
    assert net.prior[i] < explained < alone


def test_contradictions_and_too_many_signs_are_refused(shop_knowledge: Knowledge) -> None:
    net = network(shop_knowledge)
    with pytest.raises(OutOfRange, match="both present and absent"):
        infer(net, ["noise"], ["noise"])
    with pytest.raises(OutOfRange, match="signs present"):
        infer(net, list(net.signs[: MOST_PRESENT + 1]))


@pytest.mark.parametrize(
    ("signs", "first"),
    [
        # Reading rules of the trade: which fault a combination of signs points at.
        (("rail-low-at-torque-peak", "tank-duty-spare", "oil-level-up", "long-crank"), "hp-pump-misfitted"),
        (("rail-low-at-torque-peak", "tank-duty-spare"), "hp-pump-small"),
        (("rail-low-at-torque-peak", "tank-duty-spare", "noise"), "follower-worn"),
        (("low-side-falls", "tank-duty-high"), "tank-pump-small"),
        (("low-side-falls", "worse-when-hot"), "pump-controller-hot"),
        (("boost-short", "noise"), "charge-leak"),
        (("misfire-high-boost",), "plugs-worn"),
        (("throttle-closes",), "torque-limiter"),
        (("boost-fades-at-top", "exhaust-hot", "boost-short"), "turbine-choked"),
        (("charge-heats-fast", "worse-when-hot"), "intercooler-hot"),
        (("boost-over",), "wastegate-arm"),
        (("coolant-hot-or-lost", "worse-when-hot"), "cooling-marginal"),
    ],
)
def test_reading_rules(shop_knowledge: Knowledge, signs: tuple[str, ...], first: str) -> None:
    found = [s.fault for s in suspects(shop_knowledge, Observation(present=signs))]
    assert first in found[: 2 if first == "wastegate-arm" else 3]


def test_follower_rises_with_noise(shop_knowledge: Knowledge) -> None:
    def chance(signs: tuple[str, ...], fault: str) -> float:
        return next(
            s.probability for s in suspects(shop_knowledge, Observation(present=signs), 0.0) if s.fault == fault
        )

    quiet = ("rail-low-at-torque-peak", "tank-duty-spare")
    assert chance((*quiet, "noise"), "follower-worn") > chance(quiet, "follower-worn")
    assert chance((*quiet, "long-crank"), "hp-pump-misfitted") > chance(quiet, "hp-pump-misfitted")


def test_evidence_for_and_against(shop_knowledge: Knowledge) -> None:
    seen = Observation(present=("rail-low-at-torque-peak", "tank-duty-spare"), absent=("oil-level-up",))
    listed = {s.fault: s for s in suspects(shop_knowledge, seen, 0.0)}
    seal = listed["hp-pump-misfitted"]
    assert any("tank pump well below full duty" in text for text in seal.evidence_for)
    assert any("not seen: oil level" in text for text in seal.evidence_against)


def test_shop_counts_move_a_prior() -> None:
    # Beta(1, 1) is the even prior: its standard deviation is 1/sqrt(12) (Gelman et al., appendix A); 3 of 3 give 4/5.
    assert beta_mean(0.5, 1.0 / math.sqrt(12.0), 3, 3) == pytest.approx(0.8)
    knowledge = small(1)
    before = knowledge.faults[0]
    after = learn_counts(knowledge, [Count(fault="f0", hits=0, cars=1000)]).faults[0]
    assert after.prior < 0.3 * before.prior
    assert "own count 0 of 1000" in after.evidence
    many = learn_counts(knowledge, [Count(fault="f0", hits=400, cars=1000)]).faults[0]
    assert many.prior == pytest.approx(0.4, abs=0.02)
    with pytest.raises(OutOfRange, match="count"):
        learn_counts(knowledge, [Count(fault="f0", hits=3, cars=2)])
    with pytest.raises(UnknownName, match="no fault"):
        learn_counts(knowledge, [Count(fault="nothing", hits=0, cars=2)])


def test_value_of_a_perfect_look_by_hand() -> None:
    # One fault at 0.2, a look that settles it: misjudgement falls from 0.2 x 0.8 to nearly 0.
    knowledge = Knowledge(
        faults=(Fault(id="f", name="f", slot=None, prior=0.2, chances={"s": 1.0 - 1e-9}),),
        signs=(Sign(id="s", name="s", leak=1e-9),),
        inspections=(Inspection(id="i", name="look", duration=600.0, signs=("s",)),),
    )
    value, settled = value_of(knowledge, network(knowledge), Observation(), knowledge.inspections[0])
    assert value == pytest.approx(0.16, rel=1e-6)
    assert settled == ("f",)
    assert next_looks(knowledge, Observation(done=("i",)), HOUR) == ()


def test_looks_keep_to_the_time_agreed(shop_knowledge: Knowledge) -> None:
    seen = Observation(present=("rail-low-at-torque-peak", "oil-level-up"))
    for agreed in (0.0, 600.0, HOUR, 2 * HOUR):
        looks = next_looks(shop_knowledge, seen, agreed)
        assert sum(look.duration for look in looks) <= agreed
        assert [look.rate for look in looks] == sorted((look.rate for look in looks), reverse=True)
        assert all(look.value >= 0.0 for look in looks)
    assert "rail-decay" in [look.inspection for look in next_looks(shop_knowledge, seen, HOUR)][:2]
    assert not {"roller-run", "low-side-gauge"} & {
        look.inspection for look in next_looks(shop_knowledge, seen, 9 * HOUR)
    }
    loaded = next_looks(shop_knowledge, seen, 9 * HOUR, rollers=True)
    assert "roller-run" in {look.inspection for look in loaded}


# --- the roller gate ---------------------------------------------------------------------------------------------


def test_gate_opens_only_with_every_check_made() -> None:
    assert roller_gate(Condition(checked=tuple(CHECKS))).go
    for missing in CHECKS:
        gate = roller_gate(Condition(checked=tuple(c for c in CHECKS if c != missing)))
        assert not gate.go
        assert gate.blocked_by == (f"not looked at yet: {CHECKS[missing]}",)


def test_diluted_oil_blocks_until_its_change_is_recorded() -> None:
    diluted = Condition(signs=("oil-level-up",), checked=tuple(CHECKS))
    assert "fuel in the oil" in roller_gate(diluted).blocked_by[0]
    assert roller_gate(replace(diluted, repaired=("oil change",))).go
    assert any("Diluted oil" in c for c in roller_gate(diluted).cautions)


def test_stop_criteria_state_the_cars_own_figures() -> None:
    gate = roller_gate(
        Condition(limits={"rail target": 200e5, "torque": 420.0, "torque speed": 3500 / 60.0}, claimed=("rods",))
    )
    assert any("under 170 bar of 200 bar" in s for s in gate.stop_criteria)  # 85 % of 200 bar
    assert any("420 N·m below 3500 1/min: rods only claimed" in s for s in gate.stop_criteria)


# --- the demo's arrived car --------------------------------------------------------------------------------------


def test_car_b_arrives(shop, shop_knowledge: Knowledge) -> None:
    signs = ("rail-low-at-torque-peak", "tank-duty-spare", "oil-level-up", "long-crank", "misfire-high-boost")
    reception = arrive(shop, "car-b", shop_knowledge, Arrival(present=signs))
    assert reception.suspects[0].fault == "hp-pump-misfitted"
    assert reception.suspects[1].fault == "plugs-worn"
    assert not reception.gate.go
    assert "oil and filter are changed" in reception.gate.blocked_by[0]
    assert "rail-decay" in [look.inspection for look in reception.looks][:3]
    assert 0.0 < reception.low < reception.high
    beliefs = {p.slot.name: p for p in reception.places}
    assert beliefs["rods"].belief is Belief.CLAIMED
    assert beliefs["rods"].part is None or beliefs["rods"].part.factory  # a claim is no part
    assert any("rods" in s and "only claimed" in s for s in reception.gate.stop_criteria)


def test_car_b_after_oil_change_and_checks_may_run(shop, shop_knowledge: Knowledge) -> None:
    arrival = Arrival(
        present=("oil-level-up",),
        checked=tuple(c for c in CHECKS if c != "oil"),
        repaired=("oil change",),
    )
    assert arrive(shop, "car-b", shop_knowledge, arrival).gate.go
    with pytest.raises(UnknownName, match="no check"):
        arrive(shop, "car-b", shop_knowledge, Arrival(checked=("paint",)))
    with pytest.raises(UnknownName, match="no car"):
        arrive(shop, "nobody", shop_knowledge, Arrival())


def test_inspections_of_car_b_confirm_the_seal(shop_knowledge: Knowledge) -> None:
    # What the demo car answers when it is asked: rail falls in 40 s, fuel in the oil, seat and seal bad, follower good,
    # low side steady, smoke test clean, leak-down and compression even.
    seen = Observation(
        present=("rail-low-at-torque-peak", "oil-level-up", "rail-decays", "fuel-in-oil", "pump-seat-bad"),
        absent=("low-side-falls", "smoke-escapes", "leak-down-high", "compression-uneven", "follower-marked"),
    )
    listed = {s.fault: s.probability for s in suspects(shop_knowledge, seen, 0.0)}
    assert listed["hp-pump-misfitted"] > 0.98
    assert listed["tank-pump-small"] < 0.05
    assert listed["ring-land"] < 0.02


# --- finding signs by words --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("said", "key"),
    [
        ("fuel smell", "oil-level-up"),
        ("Öl riecht nach Benzin", "oil-level-up"),
        ("18", "oil-level-up"),  # its place in the list
        ("rail_low_at_torque_peak", "rail-low-at-torque-peak"),
        ("Long hot crank", "long-crank"),
        ("overboost", "boost-over"),
    ],
)
def test_signs_are_found_by_words(shop_knowledge: Knowledge, said: str, key: str) -> None:
    assert find_sign(said, shop_knowledge).id == key


# --- simulated arrivals ------------------------------------------------------------------------------------------


def arrivals(knowledge: Knowledge, count: int, seed: int) -> tuple[np.ndarray, np.ndarray]:
    """True faults (count, F) and signs (count, S) drawn from a network by its definition."""
    net = network(knowledge)
    rng = np.random.default_rng(seed)
    faults = rng.random((count, len(net.faults))) < net.prior
    away = np.ones((count, len(net.signs))) * (1.0 - net.leak)
    for i in range(len(net.faults)):
        away *= np.where(faults[:, i : i + 1], 1.0 - net.link[i], 1.0)
    return faults, rng.random(away.shape) >= away


def shaken(knowledge: Knowledge, seed: int) -> Knowledge:
    """Truth as wide as the bands of the judgement: priors within a factor of two, chances within 0.2."""
    rng = np.random.default_rng(seed)
    return replace(
        knowledge,
        faults=tuple(
            replace(
                f,
                prior=float(np.clip(f.prior * 2.0 ** rng.normal(0.0, 0.5), 0.002, 0.6)),
                chances={k: float(np.clip(c + rng.normal(0.0, 0.1), 0.06, 0.97)) for k, c in f.chances.items()},
            )
            for f in knowledge.faults
        ),
    )


def test_probabilities_are_calibrated_over_simulated_arrivals(shop_knowledge: Knowledge) -> None:
    net = network(shop_knowledge)
    rng = np.random.default_rng(5)
    stated: list[float] = []
    truth: list[bool] = []
    for part in range(20):
        faults, signs = arrivals(shaken(shop_knowledge, part), 100, part)
        for real, shown in zip(faults, signs, strict=True):
            told = rng.random(24) < np.where(
                shown[:24], 0.8, 0.4
            )  # a customer tells what is there sooner than what is not
            present = [net.signs[j] for j in range(24) if told[j] and shown[j]][:8]
            absent = [net.signs[j] for j in range(24) if told[j] and not shown[j]]
            stated += list(infer(net, present, absent).fault)
            truth += list(real)
    assert len(stated) == 2000 * 41
    assert calibration_error(stated, truth) <= 0.05
    top = [(p, t) for p, t in zip(stated, truth, strict=True) if p > 0.2]
    assert calibration_error([p for p, _ in top], [t for _, t in top]) <= 0.05


HABIT = ("plugs-pull", "coil-swap", "codes-read", "smoke-test", "compression", "borescope", "leak-down", "pump-removal")


def _after(knowledge: Knowledge, order: str, shown: dict[str, bool], seen: Observation, minutes: float) -> Observation:
    """What is known after the time agreed, looking in one order."""
    net = network(knowledge)
    by_id = {i.id: i for i in knowledge.inspections}
    reveals = {
        key: [f for f, fault in enumerate(knowledge.faults) if any(s in fault.chances for s in i.signs)]
        for key, i in by_id.items()
    }
    left = minutes * 60.0
    while True:
        fitting = [i for i in by_id.values() if i.duration <= left and i.id not in seen.done]
        if not fitting:
            return seen
        if order == "habit":
            chosen = next((by_id[h] for h in HABIT if by_id[h] in fitting), None)
        elif order == "cost over probability":
            p = infer(net, seen.present, seen.absent).fault
            chosen = min(fitting, key=lambda i: i.duration / max(1.0 - np.prod(1.0 - p[reveals[i.id]]), 1e-9))
        else:
            looks = [x for x in next_looks(knowledge, seen, left, all_of_them=True) if x.inspection in by_id]
            chosen = next((by_id[x.inspection] for x in looks if by_id[x.inspection] in fitting), None)
        if chosen is None:
            return seen
        fresh = [s for s in chosen.signs if s not in seen.present and s not in seen.absent]
        there = [s for s in fresh if shown[s]][: max(0, MOST_PRESENT - len(seen.present))]
        seen = Observation(
            present=(*seen.present, *there),
            absent=(*seen.absent, *(s for s in fresh if not shown[s])),
            done=(*seen.done, chosen.id),
        )
        left -= chosen.duration


def test_looks_by_value_settle_more_than_habit_and_than_cost_over_probability(shop_knowledge: Knowledge) -> None:
    # Simulated cars, an hour agreed; what is left is the expected misjudgement of faults, those that the complaints do
    # not concern at a quarter. Measured over 40 cars for two seeds: by value 0.30 and 0.28 are settled, by cost over
    # probability 0.29 and 0.26, by habit 0.19 and 0.19.
    on_the_spot = tuple(i for i in shop_knowledge.inspections if not i.rollers and not i.wait)
    knowledge = replace(shop_knowledge, inspections=on_the_spot)
    net = network(knowledge)
    rng = np.random.default_rng(3)
    left: dict[str, list[float]] = {"nothing": [], "value": [], "habit": [], "cost over probability": []}
    for shown in arrivals(knowledge, 45, 77)[1]:
        complaints = [net.signs[j] for j in range(24) if shown[j] and rng.random() < 0.7][:3]
        if not complaints:
            continue
        weight = np.array(
            [f.stake * (0.25 + 0.75 * max(f.chances.get(c, 0.0) for c in complaints)) for f in knowledge.faults]
        )
        state = dict(zip(net.signs, map(bool, shown), strict=True))
        for order, listed in left.items():
            seen = Observation(present=tuple(complaints))
            if order != "nothing":
                seen = _after(knowledge, order, state, seen, 60.0)
            p = infer(net, seen.present, seen.absent).fault
            listed.append(float((weight * p * (1.0 - p)).sum()))
    mean = {order: float(np.mean(listed)) for order, listed in left.items()}
    settled = {order: mean["nothing"] - mean[order] for order in mean}
    assert settled["value"] > settled["cost over probability"]
    assert settled["value"] > 1.15 * settled["habit"]
