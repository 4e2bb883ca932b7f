"""Block 6 of the customer page: lines that add up, what it costs in the end, the cap, and what could change it."""

from __future__ import annotations

import datetime

from graph.quote import Quote
from ui.customer_bill import bill, outward, quoted
from ui.customer_facts import Facts, cheapest_look
from ui.customer_words import Words
from ui.printed import Block, Item, Table, Text
from ui.shop_settings import ShopSettings

#: Findings that are named with their price.
MOST_FINDINGS = 3
#: Step of what a finding adds: its range supports no more digits.
COARSE = 10.0


def hour_price(shop: ShopSettings, hours: float) -> float:
    """Price of some hours of work with tax [currency]."""
    return hours * shop.hourly_rate * (1.0 + shop.tax)


def look_line(facts: Facts, words: Words) -> tuple[str, str, str] | None:
    """The cheapest look in words, its minutes and its price with tax."""
    found = cheapest_look(facts)
    if found is None:
        return None
    key, seconds = found
    name = words.look(key)
    if name is None:
        return None
    price = words.money(hour_price(facts.shop, seconds / 3600.0), facts.shop.currency)
    return name, words.number(seconds / 60.0), price


def cost_block(facts: Facts, words: Words) -> Block:
    """Lines that add up, the range and the cap of the bill, and what could change it with its price.

    Parameters
    ----------
    facts : Facts
        What is said.
    words : Words
        In which language.

    Returns
    -------
    Block
        Number 6.
    """
    shop, chosen = facts.shop, facts.chosen
    if chosen is None or chosen.plan.cost is None:
        text = words.say("cost_no_price", hour=words.money(hour_price(shop, 1.0), shop.currency))
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
        (words.say("cost_net"), amount("net")),
        (words.say("cost_tax", share=words.number(shop.tax * 100.0)), amount("tax")),
        (words.say("cost_total"), amount("total")),
    ]
    last = len(rows) - 1
    if shop.deposit:
        rows.append((words.say("cost_deposit"), amount("deposit")))
    sums = Table(rows=tuple(rows), align="wr", strong=(last,), ruled=(last - 2, last), about=words.say("cost_none"))
    items: list[Item] = [sums]
    found = quoted(facts, chosen)
    if found is not None:
        items += _end(found, words, shop)
    changes = _changes(facts, words, money["parts"], found)
    items += [
        Text(text=words.say("cost_change")),
        Table(rows=tuple(changes), align="wlr", about=words.say("cost_change")),
    ]
    return Block(number=6, heading=words.say("cost", option=words.say(chosen.name)), items=tuple(items))


def _end(found: Quote, words: Words, shop: ShopSettings) -> list[Item]:
    """What it costs in the end, and never more than."""
    low, high = (words.money(v, shop.currency) for v in outward(found.low, found.high))
    cap = words.money(found.cap, shop.currency)
    items: list[Item] = [
        Text(text=words.say("cost_range", low=low, high=high)),
        Text(text=words.say("cost_never", limit=cap, chance=words.chance(found.within_cap)), strong=True),
    ]
    if found.reckoned:
        key = "cost_reckoned" if len(found.reckoned) < found.jobs else "cost_reckoned_all"
        items.append(Text(text=words.say(key, count=str(len(found.reckoned))), small=True))
    return items


def _changes(facts: Facts, words: Words, parts: float, found: Quote | None) -> list[tuple[str, str, str]]:
    shop = facts.shop
    rows = []
    for chance in () if found is None else found.chances[:MOST_FINDINGS]:
        low, high = (words.number(round(v / COARSE) * COARSE) for v in (chance.low, chance.high))
        text = words.finding(chance.surprise.key, chance.surprise.text)
        how_often = words.chance(chance.surprise.probability)
        rows.append((text, how_often, f"+{words.say('to', low=low, high=high)} {words.sign(shop.currency)}"))
    look = look_line(facts, words)
    if look is not None:
        rows.append((words.say("change_look", look=look[0]), "", f"+{look[2]}"))
    until = words.date(facts.date + datetime.timedelta(days=shop.valid_days))
    rise = parts * shop.price_rise * (1.0 + shop.tax)
    share = words.number(shop.price_rise * 100.0)
    rows.append((words.say("change_price", date=until, share=share), "", f"+{words.money(rise, shop.currency)}"))
    return rows
