"""Blocks 7 to 10 of the customer page: what is not sure, law, afterwards, decision."""

from __future__ import annotations

import datetime
import math

from graph.decision import BRAKES, LOOK, NOTHING, WAYS, Decision, still_open
from graph.report import Interval, Report
from ui.customer_bill import STEP, bill
from ui.customer_cost import look_line
from ui.customer_facts import Facts, narrowest, place_word
from ui.customer_words import Words
from ui.printed import Block, Item, Table, Text, Ticks
from ui.shop_settings import RULES


def _settles(report: Report) -> str:
    return "uncertain_look" if report.unknown else "uncertain_look_near"


def uncertain_block(facts: Facts, words: Words) -> Block:
    """What is not known, the cheapest look that would settle it, and the chance that the wish holds."""
    report = facts.report
    slots = ", ".join(words.slot(facts.kind(u.slot), u.slot) for u in report.unknown)
    first = words.say("uncertain_slots", slots=slots) if slots else words.say("uncertain_none")
    lines = [f"{first} {words.say('uncertain_rest')}"]
    rows = narrowest(report)
    tied = [rows[s] for s in report.tie if s in rows and rows[s].ceiling_interval is not None]
    if tied:
        widest = max(
            tied,
            key=lambda f: (
                math.inf
                if f.ceiling_interval is None or f.ceiling_interval.high is None
                else f.ceiling_interval.high - f.ceiling_interval.low
            ),
        )
        if widest.ceiling_interval is not None:
            lines.append(_widest(facts, words, widest.slot, widest.ceiling_interval))
    look = look_line(facts, words)
    if look is not None:
        lines.append(words.say(_settles(report), look=look[0], minutes=look[1], price=look[2]))
    elif report.unknown:
        lines.append(words.say("uncertain_no_look"))
    if report.samples:
        lines.append(
            words.say(
                "uncertain_chance",
                power=words.number(report.target.power / 1e3),
                chance=words.chance(report.holds_probability),
                samples=words.number(report.samples),
            )
        )
    chosen = facts.chosen
    if chosen is not None and chosen.plan.after is not None:
        after = chosen.plan.after
        power, low = (words.power(p, after.carries_interval) for p in (chosen.power, after.carries_interval.low))
        said = {
            "option": words.say(chosen.name),
            "power": words.number(chosen.power / 1e3),
            "chance": words.chance(after.holds_probability),
        }
        lines.append(
            words.say("uncertain_sure", **said) if low == power else words.say("uncertain_way", low=low, **said)
        )
    if look is not None:
        lines[-1] += " " + words.say("uncertain_then")
    return Block(number=7, heading=words.say("uncertain"), items=tuple(Text(text=line) for line in lines))


def _widest(facts: Facts, words: Words, slot: str, interval: Interval) -> str:
    """The widest range among the narrowest places; one without an upper end is said so."""
    place = place_word(facts, words, slot)
    if interval.high is None:
        return words.say("uncertain_wide_open", slot=place, low=words.power(interval.low, interval))
    return words.say("uncertain_wide", slot=place, range=words.span(interval))


def law_block(facts: Facts, words: Words) -> Block:
    """Law, insurance and warranty: not checked, unless the shop entered a rule with its source."""
    items = []
    for name in RULES:
        rule = facts.shop.rules.get(name)
        if rule is None:
            items.append(Text(text=words.say(f"{name}_not_checked")))
        else:
            items.append(Text(text=words.say(f"{name}_rule", text=rule.text, source=rule.source)))
    return Block(number=8, heading=words.say("law"), items=tuple(items))


def after_block(facts: Facts, words: Words) -> Block:
    """A card for the glovebox."""
    shop, chosen = facts.shop, facts.chosen
    report = facts.report
    fuel = report.target.fuel if chosen is None else chosen.plan.target.fuel
    lines = [words.say("after_fuel", fuel=words.fuel(fuel))]
    if shop.oil_distance is not None:
        lines.append(words.say("after_oil", distance=words.number(shop.oil_distance)))
    if shop.warm_oil is not None:
        lines.append(words.say("after_warm", temperature=words.number(shop.warm_oil)))
    lines.append(words.say("after_launch"))
    if above_factory(facts):
        lines.append(words.say("after_brakes"))
    if shop.check_distance is not None:
        lines.append(words.say("after_check", distance=words.number(shop.check_distance)))
    return Block(number=9, heading=words.say("after"), items=(Text(text=" ".join(lines)),))


def decision_block(facts: Facts, words: Words) -> Block:
    """A line for each way and each look, to be accepted, declined or put off, and what was declined before.

    Parameters
    ----------
    facts : Facts
        What is said.
    words : Words
        In which language.

    Returns
    -------
    Block
        Number 10; what can do harm has room for the customer's initials.
    """
    lines = []
    if facts.offer is not None:
        for option in facts.offer.options:
            total = bill(option.plan, facts.shop)["total"]
            lines.append(
                words.say(
                    "decision_option",
                    option=words.say(option.name),
                    power=words.number(option.power / 1e3),
                    total=words.money(total, facts.shop.currency, STEP),
                )
            )
    look = look_line(facts, words)
    if look is not None:
        lines.append(words.say("decision_look", look=look[0], price=look[2]))
    initialled = []
    if above_factory(facts):
        initialled.append(len(lines))
        lines.append(words.say("decision_brakes"))
    lines.append(words.say("decision_nothing"))
    ticks = Ticks(
        lines=tuple(lines),
        answers=tuple(words.say(f"decision_{a}") for a in ("yes", "no", "later")),
        signatures=(words.say("decision_signature"), words.say("decision_workshop")),
        initialled=tuple(initialled),
        initials=words.say("decision_initials") if initialled else "",
    )
    items: list[Item] = [ticks, Text(text=words.say("decision_record"), small=True)]
    before = still_open(facts.decisions)
    if before:
        rows = tuple(_before(facts, words, d) for d in before)
        items += [
            Text(text=words.say("decision_before"), strong=True),
            Table(rows=rows, align="lww", about=words.say("decision_before")),
        ]
    return Block(number=10, heading=words.say("decision"), items=tuple(items))


def above_factory(facts: Facts) -> bool:
    """True where more power is wished for than the factory gave."""
    target = facts.report.target.power
    return target > facts.report.build.platform.constants.get("factory power", target)


def _before(facts: Facts, words: Words, decision: Decision) -> tuple[str, str, str]:
    """One earlier answer: when, what, and what was said."""
    if decision.line in WAYS:
        what = words.say(decision.line)
    elif decision.line in (LOOK, BRAKES, NOTHING):
        what = words.say(f"before_{decision.line}")
    else:
        what = place_word(facts, words, decision.line)
    if decision.power is not None:
        what += f", {words.number(decision.power / 1e3)} kW"
    if decision.total is not None:
        what += f", {words.money(decision.total, facts.shop.currency, STEP)}"
    day = words.date(datetime.date.fromisoformat(decision.at[:10])) if decision.at else ""
    said = words.say(f"decision_{decision.answer.value}")
    if decision.reason:
        said += f": {decision.reason}"
    if decision.initials:
        said += f" ({decision.initials})"
    return day, what, said
