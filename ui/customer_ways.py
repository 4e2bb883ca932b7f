"""Blocks 4 and 5 of the customer page: ways to do it, and where the car stops without one of their parts."""

from __future__ import annotations

import math

from graph.plan.record import Plan
from graph.report import Report
from ui.customer_facts import Facts, narrowest, place_word, short
from ui.customer_options import Option
from ui.customer_terms import bill
from ui.customer_words import Words
from ui.printed import Block, Item, Table, Text

MOST_SKIPPED = 6
#: Working hours of a day.
HOURS_A_DAY = 8.0
KEEPS = {
    "keep_engine": {"pistons", "rods", "head_clamp"},
    "keep_gearbox": {"packs", "clutch", "gears"},
    "keep_turbo": {"compressor", "turbine"},
}


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
        items.append(Text(text=f"{how} {_margins(facts, words)}", small=True))
        if facts.report.unknown:
            items.append(Text(text=words.say("told")))
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
    """Why a wish has no set of parts, in the customer's words."""
    for reason in plan.conflict:
        if reason.text.startswith("the engine itself"):
            return words.say("reason_engine")
    for reason in plan.conflict:
        slot = next((p.slot.name for p in facts.report.build.places if reason.text.startswith(f"{p.slot.name}:")), None)
        if slot is not None:
            return words.say("reason_part", slot=place_word(facts, words, slot))
    return words.say("reason_part", slot=place_word(facts, words, next(iter(narrowest(facts.report)), "engine")))


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
            none,
        )
    ]
    for option in options:
        plan, cost, after = option.plan, option.plan.cost, option.plan.after
        if cost is None or after is None:
            continue
        hours = cost.labour / 3600.0
        wait = max((s.lead_time or 0.0 for s in plan.steps if not s.stock), default=0.0) / 86400.0
        kinds = {facts.kind(s.slot) for s in plan.steps}
        kept = [words.say(key) for key, group in KEEPS.items() if not group & kinds]
        columns.append(
            (
                words.number(option.power / 1e3),
                words.span(after.carries_interval),
                words.chance(after.holds_probability),
                words.say("about", value=words.number(round(torque(after, option.power), -1))),
                words.fuel(plan.target.fuel, short=True),
                words.number(len(plan.steps)),
                words.number(hours),
                words.number(math.ceil(hours / HOURS_A_DAY) + math.ceil(wait)),
                words.money(bill(plan, shop)["total"], shop.currency, 50.0),
                ", ".join(kept) if kept else words.say("keep_nothing"),
                words.number(sum(1 for s in plan.steps if s.remove is not None)),
            )
        )
    keys = ("power", "carries", "hold", "torque", "fuel", "parts", "work", "days", "total", "keep", "out")
    rows = tuple((words.say(f"row_{key}"), *cells) for key, *cells in zip(keys, *columns, strict=True))
    return Table(
        head=("", words.say("stand"), *(words.say(o.name) for o in options)),
        rows=rows,
        align="l" + "w" * len(columns),
        strong=(0, 8),
        about=words.say("options"),
    )


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
    steps = [s for s in chosen.plan.steps if s.skip_ceiling is not None]
    steps.sort(key=lambda s: s.skip_ceiling or 0.0)
    # A part whose absence stops the car below the power offered; the others are needed by these.
    below = [s for s in steps if (s.skip_ceiling or 0.0) < chosen.power][:MOST_SKIPPED]
    rows = tuple(
        (
            place_word(facts, words, s.slot),
            words.power(s.skip_ceiling or 0.0, None),
            words.skip(facts.kind(s.slot)),
        )
        for s in below
    )
    items: list[Item] = []
    if rows:
        lead = words.say("skip_lead", option=words.say(chosen.name), power=words.number(chosen.power / 1e3))
        items += [Text(text=lead), Table(rows=rows, align="lrw", about=words.say("skip"))]
    more = len(chosen.plan.steps) - len(rows)
    closing = [words.say("skip_refuse")] if rows else []
    if more:
        closing.append(words.say("skip_more", count=str(more)))
    if closing:
        items.append(Text(text=" ".join(closing), small=True))
    return tuple(items) or (Text(text=words.say("skip_nothing")),)
