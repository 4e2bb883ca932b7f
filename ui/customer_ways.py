"""Blocks 4 and 5 of the customer page: ways to do it, and where the car stops without one of their parts."""

from __future__ import annotations

import math
import re

from graph.plan.record import Plan, Step
from graph.report import Report
from ui.customer_bill import STEP, bill, outward, quoted
from ui.customer_facts import Facts, place_word, short
from ui.customer_options import Option
from ui.customer_words import Words
from ui.printed import Block, Item, Table, Text
from ui.way_rule import ENGINE, FUEL, GEARBOX, TURBO

MOST_SKIPPED = 6
#: With more places than these in the way no one is named.
MOST_BLAMED = 4
OWN = "engine"
#: Working hours of a day.
HOURS_A_DAY = 8.0
KEEPS = {"keep_fuel": FUEL, "keep_turbo": TURBO, "keep_engine": ENGINE, "keep_gearbox": GEARBOX}


def torque(report: Report, power: float) -> float:
    """Torque that belongs to a power, from the curve of what the engine makes, never more than that [N.m]."""
    makes = report.makes
    return makes.torque * min(1.0, power / makes.power)


def options_block(facts: Facts, words: Words) -> Block:
    """Good, better, best with the same rows; or what can be had as it stands."""
    items: list[Item] = []
    offer = facts.offer
    if offer is not None and offer.options:
        items.append(_options_table(facts, words, offer.options))
        unproven = [words.number(o.power / 1e3) for o in offer.options if not o.plan.proven]
        how = words.say("cheapest_found", powers=", ".join(unproven)) if unproven else words.say("cheapest")
        told = f" {words.say('told')}" if facts.report.unknown else ""
        items.append(Text(text=f"{how} {_margins(facts, words)}{told}", small=True))
    else:
        items.append(_stand_table(facts, words))
    if offer is None:
        items.append(Text(text=words.say("no_plan")))
    elif offer.refused is not None:
        power = words.number(facts.report.target.power / 1e3)
        items.append(Text(text=words.say("no_set", power=power, reason=refusal(facts, words, offer.refused))))
    if offer is not None:
        items += [
            Text(text=words.say("not_found", power=words.number(power / 1e3)), small=True) for power in offer.stopped
        ]
    return Block(number=4, heading=words.say("options"), items=tuple(items), wide=True)


def _margins(facts: Facts, words: Words) -> str:
    if facts.offer is None:
        return ""
    policy = facts.offer.policy
    return words.say("margins", harm=words.number(policy.harm * 100.0), cost=words.number(policy.cost * 100.0))


def refusal(facts: Facts, words: Words, plan: Plan) -> str:
    """Why a wish has no set of parts, in the customer's words: one place is blamed only where it alone is to blame."""
    if not plan.irreducible:  # some of the reasons may not be to blame at all
        return words.say("reason_whole")
    slots = [slot for reason in plan.conflict if (slot := _place_blamed(facts, reason.text))]
    places = list(dict.fromkeys(slots))
    if len(slots) < len(plan.conflict) or not 0 < len(places) <= MOST_BLAMED:
        return words.say("reason_whole")
    if places == [OWN]:
        return words.say("reason_engine")
    if len(places) == 1:
        return _blamed_alone(facts, words, places[0])
    return words.say("reason_several", places=", ".join(place_word(facts, words, slot) for slot in places))


def _blamed_alone(facts: Facts, words: Words, slot: str) -> str:
    """One place, and how far what is on the car goes, where that looks like enough."""
    name = place_word(facts, words, slot)
    found = next((f for f in facts.report.findings if f.slot == slot), None)
    if found is None or found.ceiling_interval is None or (found.ceiling or 0.0) < facts.report.target.power:
        return words.say("reason_part", slot=name)
    ceiling, span = words.power(found.ceiling or 0.0, found.ceiling_interval), words.span(found.ceiling_interval)
    return words.say("reason_part_today", slot=name, ceiling=ceiling, range=span)


def _place_blamed(facts: Facts, text: str) -> str | None:
    """The place that a reason speaks of; None where it speaks of the whole car or of a part that is to stay."""
    if text.startswith("the engine itself"):
        return OWN
    if text.endswith("is to stay"):
        return None
    head = re.split(r"[:,]", text, maxsplit=1)[0]
    return head if any(p.slot.name == head for p in facts.report.build.places) else None


def _stand_table(facts: Facts, words: Words) -> Table:
    report = facts.report
    interval = report.carries_interval
    rows = (
        (words.say("row_carries"), words.span(interval)),
        (words.say("row_torque"), words.say("about", value=words.number(round(torque(report, report.carries), -1)))),
        (words.say("row_fuel"), words.fuel(report.target.fuel, short=True)),
        (words.say("row_keep"), words.say("keep_all")),
    )
    return Table(head=("", words.say("stand")), rows=rows, align="lw", about=words.say("options"))


def _options_table(facts: Facts, words: Words, options: tuple[Option, ...]) -> Table:
    shop = facts.shop
    interval = facts.report.carries_interval
    none = "–"
    columns = [
        (
            none,
            words.span(interval),
            none,
            words.say("about", value=words.number(round(torque(facts.report, facts.report.carries), -1))),
            words.fuel(facts.report.target.fuel, short=True),
            *(none,) * 4,
            words.say("keep_all"),
        )
    ]
    for option in options:
        plan, cost, after = option.plan, option.plan.cost, option.plan.after
        if cost is None or after is None:
            continue
        hours = cost.labour / 3600.0
        wait = max((s.lead_time or 0.0 for s in plan.steps if not s.stock), default=0.0) / 86400.0
        days = math.ceil(hours / HOURS_A_DAY) + math.ceil(wait)
        kinds = {facts.kind(s.slot) for s in plan.steps}
        kept = [words.say(key) for key, group in KEEPS.items() if not group & kinds]
        columns.append(
            (
                words.number(option.power / 1e3),
                words.span(after.carries_interval),
                words.chance(after.holds_probability),
                words.say("about", value=words.number(round(torque(after, option.power), -1))),
                words.fuel(plan.target.fuel, short=True),
                words.say("parts_out", count=str(len(plan.steps)), out=str(sum(1 for s in plan.steps if s.remove))),
                words.say("work_days", hours=words.number(hours), days=words.number(days)),
                words.money(bill(plan, shop)["total"], shop.currency, STEP),
                _bills(facts, words, option),
                ", ".join(kept) if kept else words.say("keep_nothing"),
            )
        )
    keys = ("power", "carries", "hold", "torque", "fuel", "parts", "work", "total", "bills", "keep")
    rows = tuple((words.say(f"row_{key}"), *cells) for key, *cells in zip(keys, *columns, strict=True))
    return Table(
        head=("", words.say("stand"), *(words.say(o.name) for o in options)),
        rows=rows,
        align="l" + "w" * len(columns),
        strong=(0, 7),
        about=words.say("options"),
    )


def _bills(facts: Facts, words: Words, option: Option) -> str:
    """Between what nine bills in ten end."""
    found = quoted(facts, option)
    if found is None:
        return ""
    low, high = outward(found.low, found.high)
    return words.say("to", low=words.number(low), high=words.money(high, facts.shop.currency))


def skip_block(facts: Facts, words: Words) -> Block:
    """For each part of the plan where the car stops without it; without a plan, where it stops as it stands."""
    chosen = facts.chosen
    if chosen is not None:
        return Block(number=5, heading=words.say("skip"), items=_skipped(facts, words, chosen))
    narrow = short(facts.report)
    if not narrow:
        return Block(number=5, heading=words.say("skip"), items=(Text(text=words.say("skip_nothing")),))
    rows = tuple(
        (
            place_word(facts, words, slot),
            words.power(f.ceiling or 0.0, f.ceiling_interval),
            words.skip(facts.kind(slot)),
        )
        for slot, f in list(narrow.items())[:MOST_SKIPPED]
    )
    table = Table(rows=rows, align="lrw", about=words.say("skip"))
    items = (Text(text=words.say("skip_stand")), table, Text(text=words.say("skip_refuse"), small=True))
    return Block(number=5, heading=words.say("skip"), items=items)


def _skipped(facts: Facts, words: Words, chosen: Option) -> tuple[Item, ...]:
    """The parts without which the car stops earliest; one that keeps a margin, or serves another, says so."""
    steps = [s for s in chosen.plan.steps if facts.kind(s.slot) not in ("calibration", "fuel_grade")]
    steps.sort(key=lambda s: math.inf if s.skip_ceiling is None else s.skip_ceiling)
    rows = tuple(_row(facts, words, chosen, step) for step in steps[:MOST_SKIPPED])
    if not rows:
        return (Text(text=words.say("skip_nothing")),)
    lead = words.say("skip_lead", option=words.say(chosen.name), power=words.number(chosen.power / 1e3))
    closing = [words.say("skip_refuse")]
    if any(row[1] == words.say("skip_margin") for row in rows):
        closing.append(words.say("skip_margin_means"))
    more = len(steps) - len(rows)
    if more:
        closing.append(words.say("skip_more", count=str(more)))
    table = Table(rows=rows, align="wrw", about=words.say("skip"))
    return Text(text=lead), table, Text(text=" ".join(closing), small=True)


def _row(facts: Facts, words: Words, chosen: Option, step: Step) -> tuple[str, str, str]:
    ceiling = step.skip_ceiling
    printed = words.say("skip_margin") if ceiling is None or ceiling >= chosen.power else words.power(ceiling, None)
    return place_word(facts, words, step.slot), printed, words.skip(facts.kind(step.slot))
