"""The job sheet of a plan for the workshop: cautions, parts to order, steps in order with the care that each needs."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from types import MappingProxyType

from graph.kinds import discover
from graph.plan.record import Plan, Step
from graph.quote import lasts
from ui.caution import CAUTIONS, cautions
from ui.customer_bill import refuse_wrong_offer
from ui.customer_facts import Facts
from ui.customer_page import answer_block, head
from ui.customer_ways import refusal
from ui.customer_words import Words
from ui.printed import Block, Item, Sheet, Table, Text

#: Order of work by area of the parts book: what is stripped first, and the program last.
AREAS = ("Engine", "Drive", "Exhaust", "Air", "Fuel", "Cooling", "Chassis", "Control")
#: What comes after everything else.
LAST = ("fuel_grade", "calibration")
#: A place that is reached with the job on its neighbour.
REACHED_WITH: Mapping[str, str] = MappingProxyType(
    {
        "rods": "pistons",
        "turbine": "compressor",
        "injector_seals": "injectors",
        "follower": "high_pressure_pump",
        "pump_heat_plate": "pump_controller",
    }
)
DAY = 86400.0


def job_sheet(facts: Facts, words: Words) -> Sheet:
    """The workshop's version of the page.

    Parameters
    ----------
    facts : Facts
        The same as for the customer.
    words : Words
        In which language; names of parts stay as the book has them.

    Returns
    -------
    Sheet
        Target, cautions, parts to order, steps in order.

    Raises
    ------
    SumMismatch
        The amounts of a way do not add up.
    """
    refuse_wrong_offer(facts)
    chosen = facts.chosen
    power = facts.report.target.power if chosen is None else chosen.power
    title = words.say("job_title", car=facts.car.name or facts.car.id, power=words.number(power / 1e3))
    first = answer_block(facts, words)
    blocks = [
        Block(
            number=1, heading=title, items=(Text(text=first.heading), *first.items, *_unsure(facts, words)), wide=True
        )
    ]
    if chosen is None:
        refused = None if facts.offer is None else facts.offer.refused
        text = words.say("no_plan") if refused is None else words.say("job_none", reason=refusal(facts, words, refused))
        blocks.append(Block(number=2, heading=words.say("job_steps"), items=(Text(text=text),), wide=True))
    else:
        steps = ordered(facts, chosen.plan)
        blocks += [
            Block(number=2, heading=words.say("job_cautions"), items=_cautions(facts, words, steps), wide=True),
            Block(number=3, heading=words.say("job_order"), items=_order(facts, words, steps, chosen.plan), wide=True),
            Block(number=4, heading=words.say("job_steps"), items=_steps(facts, words, steps, chosen.plan), wide=True),
        ]
    return Sheet(language=words.language, title=title, head=head(facts, words), blocks=tuple(blocks), logo=facts.logo)


def ordered(facts: Facts, plan: Plan) -> tuple[Step, ...]:
    """Steps in the order of work.

    Parameters
    ----------
    facts : Facts
        With the kinds of the places.
    plan : Plan
        With its steps and shared strip-downs.

    Returns
    -------
    tuple of Step
        Jobs that share a strip-down stand together, the largest strip-down first and in it the longest job, which opens
        the way; the others follow by area; fuel and calibration come last.
    """
    kinds = discover()
    opened = sorted(plan.shared_labour, key=lambda s: (-s.saves, s.operation))
    by_kind = {facts.kind(s.slot): s for s in plan.steps}

    def group(step: Step) -> tuple[int, float]:
        name = facts.kind(step.slot)
        if name in LAST:
            return len(opened) + len(AREAS) + 1 + LAST.index(name), 0.0
        for n, shared in enumerate(opened):
            if step.install in shared.jobs:
                return n, -step.labour
        area = AREAS.index(kinds[name].area) if name in kinds and kinds[name].area in AREAS else len(AREAS)
        return len(opened) + area, 0.0

    placed = {s.install: n for n, s in enumerate(plan.steps)}

    def order(step: Step) -> tuple[int, float, int, bool]:
        leader = by_kind.get(REACHED_WITH.get(facts.kind(step.slot), ""), step)
        return (*group(leader), placed[leader.install], leader is not step)

    return tuple(sorted(plan.steps, key=order))


def waits(facts: Facts, plan: Plan) -> frozenset[str]:
    """Numbers of the parts that cannot be fitted yet: not on the shelf, or reached with one that is not.

    Parameters
    ----------
    facts : Facts
        With the kinds of the places.
    plan : Plan
        With its steps and shared strip-downs.

    Returns
    -------
    frozenset of str
        Part numbers.
    """
    late = {s.install for s in plan.steps if not s.stock}
    by_kind = {facts.kind(s.slot): s.install for s in plan.steps}
    together = [set(shared.jobs) for shared in plan.shared_labour]
    for _ in together:
        for jobs in together:
            late |= jobs if late & jobs else set()
    followers = {
        by_kind[kind] for kind, leader in REACHED_WITH.items() if kind in by_kind and by_kind.get(leader) in late
    }
    return frozenset(late | followers)


def spans(numbers: Sequence[int], words: Words) -> str:
    """Rising numbers with their runs drawn together, such as ``1, 3 to 5``."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][1] + 1:
            runs[-1][1] = number
        else:
            runs.append([number, number])
    return ", ".join(str(low) if low == high else words.say("to", low=str(low), high=str(high)) for low, high in runs)


def _unsure(facts: Facts, words: Words) -> tuple[Item, ...]:
    items: list[Item] = []
    unknown = facts.report.unknown
    if unknown:
        slots = ", ".join(words.slot(facts.kind(u.slot), u.slot) for u in unknown)
        items.append(Text(text=words.say("job_unsure", slots=slots), strong=True))
    items += [Text(text=words.say("job_missing", text=warning)) for warning in facts.report.warnings]
    return tuple(items)


def _codes(facts: Facts, slot: str) -> tuple[str, ...]:
    """Codes of the cautions that belong to work in a place."""
    kind = discover().get(facts.kind(slot))
    return () if kind is None else tuple(code for code in CAUTIONS if code in kind.cautions)


def _cautions(facts: Facts, words: Words, steps: tuple[Step, ...]) -> tuple[Item, ...]:
    kinds = discover()
    touched = [kinds[k] for k in dict.fromkeys(facts.kind(s.slot) for s in steps) if k in kinds]
    if "brakes" in kinds:
        touched.append(kinds["brakes"])
    said = set(cautions(touched))
    rows = tuple((words.care(code), words.caution(code, text)) for code, text in CAUTIONS.items() if text in said)
    table = Table(rows=rows, align="lw", about=words.say("job_cautions"))
    return table, Text(text=words.say("job_torque"), small=True)


def _order(facts: Facts, words: Words, steps: tuple[Step, ...], plan: Plan) -> tuple[Item, ...]:
    """Parts to order, what takes longest and is not on the shelf first; and what can start without waiting."""
    heads = ("job_part", "job_place", "job_stock", "job_days", "job_price")
    bought = [s for s in steps if facts.kind(s.slot) not in LAST]
    bought.sort(key=lambda s: (bool(s.stock), -(s.lead_time or 0.0)))
    rows = tuple(
        (
            f"{s.install} {s.name}",
            words.slot(facts.kind(s.slot), s.slot),
            "?" if s.stock is None else words.number(s.stock),
            "?" if s.lead_time is None else words.number(math.ceil(s.lead_time / DAY)),
            words.money(s.price, facts.shop.currency),
        )
        for s in bought
    )
    items: list[Item] = []
    waiting = [s for s in bought if not s.stock]
    if waiting:
        longest = waiting[0]
        days = "?" if longest.lead_time is None else words.number(math.ceil(longest.lead_time / DAY))
        items.append(Text(text=words.say("job_first", part=f"{longest.install} {longest.name}", days=days)))
        late = waits(facts, plan)
        now = [n for n, s in enumerate(steps, start=1) if s.install not in late and facts.kind(s.slot) not in LAST]
        if now:
            items.append(Text(text=words.say("job_now", steps=spans(now, words))))
    else:
        items.append(Text(text=words.say("job_all_here")))
    items.append(Table(head=tuple(words.say(h) for h in heads), rows=rows, align="wwrrr", about=words.say("job_order")))
    return tuple(items)


def _hours(facts: Facts, words: Words, step: Step) -> str:
    if step.labour <= 0.0:
        return "–"
    spread = lasts(step.install, facts.kind(step.slot), step.labour, facts.experience)
    low, high = (words.number(v / 3600.0, 1) for v in (spread.low, spread.high))
    return f"{words.number(step.labour / 3600.0, 1)} ({words.say('to', low=low, high=high)})"


def _steps(facts: Facts, words: Words, steps: tuple[Step, ...], plan: Plan) -> tuple[Item, ...]:
    heads = ("job_step", "job_place", "job_part", "job_comes_out", "job_with", "job_care", "job_hours", "job_done")
    rows = tuple(
        (
            str(n),
            words.slot(facts.kind(s.slot), s.slot),
            f"{s.install} {s.name}",
            s.remove or "",
            ", ".join(s.tasks),
            ", ".join(words.care(code) for code in _codes(facts, s.slot)),
            _hours(facts, words, s),
            "□",
        )
        for n, s in enumerate(steps, start=1)
    )
    items: list[Item] = [
        Table(head=tuple(words.say(h) for h in heads), rows=rows, align="rwwlwwrr", about=words.say("job_steps")),
        Text(text=words.say("job_hours_mean"), small=True),
    ]
    items += [
        Text(
            text=words.say(
                "job_shared", operation=s.operation, jobs=", ".join(s.jobs), hours=words.number(s.saves / 3600.0, 1)
            )
        )
        for s in plan.shared_labour
    ]
    if plan.cost is not None:
        items.append(Text(text=words.say("job_total", hours=words.number(plan.cost.labour / 3600.0, 1)), strong=True))
    return tuple(items)
