"""Blocks 6 to 10 of the customer page: cost, what is not sure, law, afterwards, decision."""

from __future__ import annotations

import datetime
import math

from graph.plan.record import Plan
from ui.customer_facts import Facts, cheapest_look, narrowest
from ui.customer_words import Words
from ui.printed import Block, Item, Table, Text, Ticks
from ui.shop_settings import RULES, ShopSettings

#: Steps of deposits and of the limit of a bill, and hours reckoned for stuck bolts.
STEP, BOLTS = 50.0, 2.0
CALIBRATION = "calibration"


def bill(plan: Plan, shop: ShopSettings) -> dict[str, float]:
    """Cost of a plan in whole units of currency.

    Parameters
    ----------
    plan : Plan
        With its cost.
    shop : ShopSettings
        Share of the deposit and of the overrun.

    Returns
    -------
    dict of str to float
        ``parts``, ``rollers``, ``work``, ``tax``; their sum ``total``; ``deposit`` and ``limit``
        [currency]. Each line is rounded first and then added, so that the sum printed is the sum of what is printed.
    """
    cost = plan.cost
    if cost is None:
        return {}
    rollers = sum(s.price for s in plan.steps if s.slot == CALIBRATION)
    lines = {
        "parts": float(round(cost.parts - rollers)),
        "rollers": float(round(rollers)),
        "work": float(round(cost.work)),
        "tax": float(round(cost.tax)),
    }
    total = sum(lines.values())
    return {
        **lines,
        "total": total,
        "deposit": math.ceil(total * shop.deposit / STEP) * STEP,
        "limit": math.ceil(total * (1.0 + shop.overrun) / STEP) * STEP,
    }


def _hour(shop: ShopSettings, hours: float) -> float:
    """Price of some hours of work with tax [currency]."""
    return hours * shop.hourly_rate * (1.0 + shop.tax)


def _look(facts: Facts, words: Words) -> tuple[str, str, str] | None:
    """The cheapest look in words, its minutes and its price with tax."""
    found = cheapest_look(facts)
    if found is None:
        return None
    key, seconds = found
    name = words.look(key)
    if name is None:
        return None
    price = words.money(_hour(facts.shop, seconds / 3600.0), facts.shop.currency)
    return name, words.number(seconds / 60.0), price


def cost_block(facts: Facts, words: Words) -> Block:
    """Lines that add up, the limit of the bill, and what could change it with its price."""
    shop, chosen = facts.shop, facts.chosen
    if chosen is None or chosen.plan.cost is None:
        text = words.say("cost_no_price", hour=words.money(_hour(shop, 1.0), shop.currency))
        return Block(number=6, heading=words.say("cost_none"), items=(Text(text=text),))
    money = bill(chosen.plan, shop)

    def amount(key: str) -> str:
        return words.money(money[key], shop.currency)

    hours = words.number(chosen.plan.cost.labour / 3600.0, 1)
    rate = words.money(shop.hourly_rate, shop.currency)
    rows = [(words.say("cost_parts"), amount("parts"))]
    if money["rollers"]:
        rows.append((words.say("cost_rollers"), amount("rollers")))
    rows += [
        (words.say("cost_work", hours=hours, rate=rate), amount("work")),
        (words.say("cost_tax", share=words.number(shop.tax * 100.0)), amount("tax")),
        (words.say("cost_total"), amount("total")),
    ]
    last = len(rows) - 1
    if shop.deposit:
        rows.append((words.say("cost_deposit"), amount("deposit")))
    until = words.date(facts.date + datetime.timedelta(days=shop.valid_days))
    rise = money["parts"] * shop.price_rise * (1.0 + shop.tax)
    changes = [(words.say("change_bolts"), _plus(words, _hour(shop, BOLTS), shop))]
    look = _look(facts, words)
    if look is not None:
        changes.append((words.say("change_look", look=look[0]), f"+{look[2]}"))
    changes.append(
        (
            words.say("change_price", date=until, share=words.number(shop.price_rise * 100.0)),
            _plus(words, rise, shop),
        )
    )
    items: tuple[Item, ...] = (
        Table(rows=tuple(rows), align="wr", strong=(last,), ruled=(last,), about=words.say("cost_none")),
        Text(text=words.say("cost_never", limit=amount("limit")), strong=True),
        Text(text=words.say("cost_change")),
        Table(rows=tuple(changes), align="wr", about=words.say("cost_change")),
    )
    return Block(number=6, heading=words.say("cost", option=words.say(chosen.name)), items=items)


def _plus(words: Words, amount: float, shop: ShopSettings) -> str:
    return f"+{words.money(amount, shop.currency)}"


def uncertain_block(facts: Facts, words: Words) -> Block:
    """What is not known, the cheapest look that would settle it, and the chance that the wish holds."""
    report = facts.report
    lines = []
    if report.unknown:
        slots = ", ".join(words.slot(facts.kind(u.slot), u.slot) for u in report.unknown)
        lines.append(words.say("uncertain_slots", slots=slots))
    else:
        lines.append(words.say("uncertain_none"))
    lines.append(words.say("uncertain_rest"))
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
            lines.append(
                words.say(
                    "uncertain_wide",
                    slot=words.slot(facts.kind(widest.slot), widest.slot),
                    range=words.span(widest.ceiling_interval),
                )
            )
    look = _look(facts, words)
    if look is not None:
        key = "uncertain_look" if report.unknown else "uncertain_look_near"
        lines.append(words.say(key, look=look[0], minutes=look[1], price=look[2]))
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
    lines.append(words.say("uncertain_then"))
    return Block(number=7, heading=words.say("uncertain"), items=(Text(text=" ".join(lines)),))


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
    factory = report.build.platform.constants.get("factory power", report.target.power)
    if report.target.power > factory:
        lines.append(words.say("after_brakes"))
    if shop.check_distance is not None:
        lines.append(words.say("after_check", distance=words.number(shop.check_distance)))
    return Block(number=9, heading=words.say("after"), items=(Text(text=" ".join(lines)),))


def decision_block(facts: Facts, words: Words) -> Block:
    """A line for each way and each look, to be accepted, declined or put off."""
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
    look = _look(facts, words)
    if look is not None:
        lines.append(words.say("decision_look", look=look[0], price=look[2]))
    lines.append(words.say("decision_nothing"))
    ticks = Ticks(
        lines=tuple(lines),
        answers=tuple(words.say(f"decision_{a}") for a in ("yes", "no", "later")),
        signatures=(words.say("decision_signature"), words.say("decision_workshop")),
    )
    return Block(
        number=10, heading=words.say("decision"), items=(ticks, Text(text=words.say("decision_record"), small=True))
    )
