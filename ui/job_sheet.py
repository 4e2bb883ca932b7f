"""The job sheet of a plan for the workshop: parts to order, cautions, steps in order."""

from __future__ import annotations

import math

from graph.kinds import discover
from graph.plan.record import Step
from ui.caution import CAUTIONS, cautions
from ui.customer_facts import Facts
from ui.customer_page import answer_block, head
from ui.customer_ways import refusal
from ui.customer_words import Words
from ui.printed import Block, Item, Sheet, Table, Text

#: Order of work by area of the parts book: what is stripped first, and the program last.
AREAS = ("Engine", "Drive", "Exhaust", "Air", "Fuel", "Cooling", "Chassis", "Control")


def job_sheet(facts: Facts, words: Words) -> Sheet:
    """The workshop's version of the page.

    Parameters
    ----------
    facts : Facts
        The same as for the customer.
    words : Words
        In which language; names of parts and cautions stay as the book has them.

    Returns
    -------
    Sheet
        Target, cautions, parts to order, steps in order.
    """
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
        return Sheet(language=words.language, title=title, head=head(facts, words), blocks=tuple(blocks))
    steps = ordered(facts, chosen.plan.steps)
    blocks += [
        Block(number=2, heading=words.say("job_cautions"), items=_cautions(facts, words, steps), wide=True),
        Block(number=3, heading=words.say("job_order"), items=(_order(facts, words, steps),), wide=True),
        Block(number=4, heading=words.say("job_steps"), items=_steps(facts, words, steps), wide=True),
    ]
    return Sheet(language=words.language, title=title, head=head(facts, words), blocks=tuple(blocks))


def ordered(facts: Facts, steps: tuple[Step, ...]) -> tuple[Step, ...]:
    """Steps in the order of work: by area, within it as planned."""
    kinds = discover()

    def area(step: Step) -> int:
        kind = kinds.get(facts.kind(step.slot))
        return AREAS.index(kind.area) if kind is not None and kind.area in AREAS else len(AREAS)

    return tuple(sorted(steps, key=area))


def _unsure(facts: Facts, words: Words) -> tuple[Item, ...]:
    items: list[Item] = []
    unknown = facts.report.unknown
    if unknown:
        slots = ", ".join(words.slot(facts.kind(u.slot), u.slot) for u in unknown)
        items.append(Text(text=words.say("job_unsure", slots=slots), strong=True))
    items += [Text(text=words.say("job_missing", text=warning)) for warning in facts.report.warnings]
    return tuple(items)


def _cautions(facts: Facts, words: Words, steps: tuple[Step, ...]) -> tuple[Item, ...]:
    kinds = discover()
    touched = [kinds[k] for k in dict.fromkeys(facts.kind(s.slot) for s in steps) if k in kinds]
    if "brakes" in kinds:
        touched.append(kinds["brakes"])
    said = set(cautions(touched))
    return tuple(Text(text=words.caution(code, text)) for code, text in CAUTIONS.items() if text in said)


def _order(facts: Facts, words: Words, steps: tuple[Step, ...]) -> Table:
    heads = ("job_part", "job_place", "job_stock", "job_days", "job_price")
    rows = tuple(
        (
            f"{s.install} {s.name}",
            words.slot(facts.kind(s.slot), s.slot),
            "" if s.stock is None else words.number(s.stock),
            "" if s.lead_time is None else words.number(math.ceil(s.lead_time / 86400.0)),
            words.money(s.price, facts.shop.currency),
        )
        for s in steps
        if facts.kind(s.slot) not in ("calibration", "fuel_grade")
    )
    return Table(head=tuple(words.say(h) for h in heads), rows=rows, align="wwrrr", about=words.say("job_order"))


def _steps(facts: Facts, words: Words, steps: tuple[Step, ...]) -> tuple[Item, ...]:
    heads = ("job_step", "job_place", "job_part", "job_comes_out", "job_with", "job_hours", "job_done")
    rows = tuple(
        (
            str(n),
            words.slot(facts.kind(s.slot), s.slot),
            f"{s.install} {s.name}",
            s.remove or "",
            ", ".join(s.tasks),
            words.number(s.labour / 3600.0, 1),
            "□",
        )
        for n, s in enumerate(steps, start=1)
    )
    items: list[Item] = [
        Table(head=tuple(words.say(h) for h in heads), rows=rows, align="rwwlwrr", about=words.say("job_steps"))
    ]
    plan = None if facts.chosen is None else facts.chosen.plan
    if plan is not None:
        items += [
            Text(
                text=words.say(
                    "job_shared",
                    operation=s.operation,
                    jobs=", ".join(s.jobs),
                    hours=words.number(s.saves / 3600.0, 1),
                )
            )
            for s in plan.shared_labour
        ]
        if plan.cost is not None:
            items.append(
                Text(text=words.say("job_total", hours=words.number(plan.cost.labour / 3600.0, 1)), strong=True)
            )
    return tuple(items)
