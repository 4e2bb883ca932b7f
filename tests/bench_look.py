"""Minutes until the fault is found, over simulated arrivals: by value, by cost over probability, by habit.

    python tests/bench_look.py [cars]

A car gets its faults from the shop's own sheet of faults, each as likely as the sheet says, and shows the signs that
each fault raises. The customer complains of up to three signs. One fault behind the complaints is to be found; it
counts as found once it has a probability of 0.8, reckoned in the same way whatever the order of looking. Only looks
that need no rollers and no laboratory are made; faults that no such look can show are left out.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from graph.diagnose import Observation
from graph.look import next_looks
from graph.posterior import MOST_PRESENT, Network, infer, network
from graph.symptom import Inspection, Knowledge
from ingest.symptom import read_knowledge

SEED = Path(__file__).resolve().parents[1] / "seed_parts" / "knowledge"
#: Plugs first, then what is quick to hand; the order of habit that the trade names.
HABIT = (
    "plugs-pull", "coil-swap", "codes-read", "dipstick", "smoke-test", "voltage-check", "compression", "flap-look",
    "gate-hand-pump", "injector-balance", "rail-decay", "breather-pressure", "inlet-depression", "turbo-play",
    "ethanol-test", "fuel-level", "filter-drop", "borescope", "leak-down", "pump-removal",
)  # fmt: skip
FOUND = 0.8
COMPLAINTS = 24
ORDERS = ("value", "cost over probability", "habit")


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrived:
    """A simulated car: what it shows, what the customer says, and the fault behind it."""

    shown: dict[str, bool]
    said: tuple[str, ...]
    fault: int


def spot(knowledge: Knowledge) -> Knowledge:
    """Only looks that are made at once and without load."""
    return replace(knowledge, inspections=tuple(i for i in knowledge.inspections if not i.rollers and not i.wait))


def arrivals(knowledge: Knowledge, cars: int, seed: int) -> list[Arrived]:
    """Cars drawn from the definition of the network: each fault raises each of its signs by itself."""
    net = network(knowledge)
    rng = np.random.default_rng(seed)
    looked = {s for i in knowledge.inspections for s in i.signs} - set(net.signs[:COMPLAINTS])
    showable = {
        k for k, f in enumerate(knowledge.faults) if max((f.chances.get(s, 0.0) for s in looked), default=0.0) >= 0.8
    }
    found: list[Arrived] = []
    while len(found) < cars:
        faults = rng.random(len(net.faults)) < net.prior
        raised = faults[:, None] & (rng.random(net.link.shape) < net.link)
        shown = raised.any(axis=0) | (rng.random(net.leak.size) < net.leak)
        told = [j for j in range(COMPLAINTS) if shown[j] and rng.random() < 0.7][:3]
        behind = {k: int(raised[k, told].sum()) for k in np.flatnonzero(faults) if k in showable}
        if not told or not behind or max(behind.values()) == 0:
            continue
        found.append(
            Arrived(
                shown=dict(zip(net.signs, map(bool, shown), strict=True)),
                said=tuple(net.signs[j] for j in told),
                fault=max(behind, key=lambda k: behind[k]),
            )
        )
    return found


Choose = Callable[[Observation, list[Inspection]], Inspection]


def choosers(knowledge: Knowledge, net: Network) -> dict[str, Choose]:
    """How each order picks the next look."""
    by_id = {i.id: i for i in knowledge.inspections}
    reveals = {
        i.id: [k for k, f in enumerate(knowledge.faults) if any(s in f.chances for s in i.signs)]
        for i in knowledge.inspections
    }

    def by_habit(seen: Observation, left: list[Inspection]) -> Inspection:
        named = [by_id[h] for h in HABIT if h in by_id and by_id[h] in left]
        return named[0] if named else left[0]

    def by_cost(seen: Observation, left: list[Inspection]) -> Inspection:
        p = infer(net, seen.present, seen.absent).fault
        return min(left, key=lambda i: i.duration / max(1.0 - float(np.prod(1.0 - p[reveals[i.id]])), 1e-9))

    def by_value(seen: Observation, left: list[Inspection]) -> Inspection:
        looks = next_looks(knowledge, seen, 1e9, all_of_them=True)
        return by_id[looks[0].inspection] if looks else left[0]

    return dict(zip(ORDERS, (by_value, by_cost, by_habit), strict=True))


def minutes_to_the_fault(knowledge: Knowledge, net: Network, car: Arrived, choose: Choose) -> tuple[float, bool]:
    """Minutes of looking until the fault is found, or until nothing is left to look at."""
    seen, spent = Observation(present=car.said), 0.0
    while True:
        if infer(net, seen.present, seen.absent).fault[car.fault] >= FOUND:
            return spent / 60.0, True
        left = [i for i in knowledge.inspections if i.id not in seen.done]
        if not left:
            return spent / 60.0, False
        look = choose(seen, left)
        fresh = [s for s in look.signs if s not in seen.present and s not in seen.absent]
        there = [s for s in fresh if car.shown[s]][: max(0, MOST_PRESENT - len(seen.present))]
        seen = Observation(
            present=(*seen.present, *there),
            absent=(*seen.absent, *(s for s in fresh if not car.shown[s])),
            done=(*seen.done, look.id),
        )
        spent += look.duration


def mean_minutes(knowledge: Knowledge, cars: int, seed: int, orders: tuple[str, ...] = ORDERS) -> dict[str, np.ndarray]:
    """Minutes for each car and order, the same cars for all orders."""
    looks = spot(knowledge)
    net = network(looks)
    choices = choosers(looks, net)
    listed = arrivals(looks, cars, seed)
    return {o: np.array([minutes_to_the_fault(looks, net, car, choices[o])[0] for car in listed]) for o in orders}


def main() -> None:
    """Print the figures."""
    cars = int(sys.argv[1]) if len(sys.argv) > 1 else 2000
    started = time.perf_counter()
    found = mean_minutes(read_knowledge(SEED).knowledge, cars, 20_260_000)
    print(f"{cars} simulated arrivals, {time.perf_counter() - started:.0f} s")
    habit, cost = found["habit"], found["cost over probability"]
    for order, minutes in found.items():
        spread = minutes.std(ddof=1) / np.sqrt(minutes.size)
        print(
            f"{order:22} {minutes.mean():6.1f} ± {spread:.1f} min to the fault (median {np.median(minutes):.0f}); "
            f"{(1 - minutes.mean() / habit.mean()) * 100:+.1f} % under habit, "
            f"{(1 - minutes.mean() / cost.mean()) * 100:+.1f} % under cost over probability"
        )


if __name__ == "__main__":
    main()
