"""The customer page: ten numbered blocks from the facts of one car and one wish, in the words of one language."""

from __future__ import annotations

import datetime
import re
from dataclasses import replace

from graph.gate import Gate
from graph.model import Belief
from graph.plan.wish import MarginPolicy
from graph.report import Verdict
from ui.customer_bill import refuse_wrong_offer
from ui.customer_cost import cost_block
from ui.customer_facts import Facts, narrowest, place_word, short, wish_word
from ui.customer_picture import picture_block
from ui.customer_terms import after_block, decision_block, law_block, uncertain_block
from ui.customer_ways import options_block, skip_block
from ui.customer_words import Words, kilowatts
from ui.mark import ASSUMED, EXPERIENCE, MEASURED, SHEET, how_known
from ui.printed import Block, Item, Sheet, Table, Text, texts


def customer_page(facts: Facts, words: Words) -> Sheet:
    """The whole page.

    Parameters
    ----------
    facts : Facts
        What is said.
    words : Words
        In which language.

    Returns
    -------
    Sheet
        Ten blocks; every number is the same in every language.

    Raises
    ------
    SumMismatch
        The amounts of a way do not add up.
    """
    refuse_wrong_offer(facts)
    power = wish_word(facts, words)
    name = facts.car.name or facts.car.id
    page = Sheet(
        language=words.language,
        title=words.say("title", shop=facts.shop.name, car=name, power=power),
        head=head(facts, words),
        blocks=(
            answer_block(facts, words),
            picture_block(facts, words),
            known_block(facts, words),
            options_block(facts, words),
            skip_block(facts, words),
            cost_block(facts, words),
            uncertain_block(facts, words),
            law_block(facts, words),
            after_block(facts, words),
            decision_block(facts, words),
        ),
        logo=facts.logo,
    )
    return replace(page, foot=glossary(page, facts, words))


def glossary(page: Sheet, facts: Facts, words: Words) -> tuple[str, ...]:
    """Every short word that a page holds, and what it means.

    Parameters
    ----------
    page : Sheet
        The page.
    facts : Facts
        With the codes of the car.
    words : Words
        In which language.

    Returns
    -------
    tuple of str
        One line, or none.
    """
    said = " ".join(texts(page))
    known = {code: words.say("term_code") for code in facts.car.codes} | dict(words.terms())
    used = [f"{term} {meaning}" for term, meaning in known.items() if holds(said, term)]
    return (words.say("terms", terms="; ".join(used)),) if used else ()


def holds(text: str, term: str) -> bool:
    """True where a text holds a term as a word of its own."""
    return re.search(rf"(?<![^\W\d_]){re.escape(term)}(?!\w)", text) is not None


def head(facts: Facts, words: Words) -> tuple[str, ...]:
    """Shop, car, sheet, date, and until when the prices hold."""
    car = ", ".join(dict.fromkeys(filter(None, (facts.car.name, facts.report.build.platform.name, *facts.car.codes))))
    first = words.say("head", shop=facts.shop.name, address=facts.shop.address, car=car or facts.car.id)
    until = words.date(facts.date + datetime.timedelta(days=facts.shop.valid_days))
    second = words.say("head_date", sheet=facts.car.id, date=words.date(facts.date), until=until)
    if facts.car.distance is not None:
        second = f"{words.say('head_distance', distance=words.number(facts.car.distance / 1e3))} · {second}"
    return first.replace(" ·  · ", " · "), second


def answer_block(facts: Facts, words: Words) -> Block:
    """The answer in one sentence, then what the car carries as it stands."""
    report, power = facts.report, wish_word(facts, words)
    narrow, rows = short(report), narrowest(report)
    first = next(iter(narrow.values()), None) or report.weakest or next(iter(rows.values()), None)
    items: list[Item] = []
    if first is None or first.ceiling is None:
        heading = words.say("answer_nothing")
    else:
        said = {
            "power": power,
            "slot": place_word(facts, words, first.slot),
            "ceiling": words.power(first.ceiling, first.ceiling_interval),
        }
        shown_short = sum(
            kilowatts(f.ceiling or 0.0, f.ceiling_interval) < facts.report.target.power / 1e3 for f in narrow.values()
        )
        count = str(shown_short)  # as many as the picture hatches
        if report.reachable is True and report.holds_probability < MarginPolicy().holds:
            heading = words.say("answer_thin", chance=words.chance(report.holds_probability), **said)
        elif report.reachable is True:
            heading = words.say("answer_reached", **said)
        elif shown_short > 1:
            heading = words.say("answer_short", count=count, **said)
        elif narrow:
            heading = words.say("answer_one", **said)
        elif report.unknown:
            heading = words.say("answer_open", **{**said, "count": str(len(report.unknown))})
        else:
            heading = words.say(
                "answer_makes", power=power, ceiling=words.power(report.makes.power, report.carries_interval)
            )
    interval = report.carries_interval
    key = "answer_carries_most" if report.carries_is_upper_bound else "answer_carries"
    line = words.say(key, carries=words.power(report.carries, interval), range=words.span(interval))
    if len(report.tie) > 1:
        line += " " + words.say("answer_tie", slots=", ".join(place_word(facts, words, slot) for slot in report.tie))
    items.append(Text(text=line))
    if facts.offer is not None and facts.offer.refused is not None:
        items.append(Text(text=words.say("answer_no_set")))
    items += _beside_the_picture(facts, words)
    target = report.target
    asked = words.say(
        "asked",
        power=power,
        fuel=words.fuel(target.fuel),
        ambient=words.number(target.weather.temperature - 273.15),
        duration=words.duration(target.duration),
    )
    if target.boost_cap is not None:
        asked += " " + words.say("asked_boost", boost=words.number(target.boost_cap / 1e5, 1))
    items.append(Text(text=asked, small=True))
    return Block(number=1, heading=heading, items=tuple(items), wide=True)


def _beside_the_picture(facts: Facts, words: Words) -> list[Item]:
    """What is not up to the wish and is no limit in kW, and parts that lack others."""
    report = facts.report
    lines = []
    shown = set(narrowest(report))
    other = dict.fromkeys(
        f.slot for f in report.findings if f.verdict is Verdict.EXCEEDED and f.ceiling is None and f.slot not in shown
    )
    if other:
        said = (f"{place_word(facts, words, slot)} ({words.skip(facts.kind(slot))})" for slot in other)
        lines.append(words.say("answer_other", slots=", ".join(said)))
    if report.warnings:
        lines.append(words.say("answer_missing", count=str(len(report.warnings))))
    return [Text(text=" ".join(lines))] if lines else []


def known_block(facts: Facts, words: Words) -> Block:
    """What was told, seen, read and measured on this car, and how its limits are known."""
    build = facts.report.build
    recorded = {i.slot: i for i in facts.car.installed}
    # The customer's own words stand alone; what else was noted, and what is claimed, takes a line each.
    notes = [words.say("known_note", note=note) for note in facts.car.notes]
    rows = [("○", said, words.say("known_told")) for said in (notes[0] if notes else "", ", ".join(notes[1:])) if said]
    claims = [
        words.say("known_claim", slot=place_word(facts, words, p.slot.name), claim=p.claim)
        for p in build.places
        if p.belief is Belief.CLAIMED and p.claim
    ]
    if claims:
        rows.append(("○", ", ".join(claims), words.say("known_claimed")))
    marks = (
        (Belief.SEEN, "◐", "known_seen"),
        (Belief.LABEL_READ, "◉", "known_label"),
        (Belief.MEASURED, "●", "known_measured"),
    )
    for belief, mark, key in marks:
        slots = [
            place_word(facts, words, s)
            for s, i in recorded.items()
            if i.belief is belief and build.place(s) is not None
        ]
        if slots:
            rows.append((mark, ", ".join(slots), words.say(key)))
    rest = [p for p in build.places if p.slot.name not in recorded and p.part is not None]
    if rest:
        rows.append(("○", words.say("known_rest", count=str(len(rest))), words.say("known_factory")))
    items: list[Item] = [Table(rows=tuple(rows), align="lwl", about=words.say("known"))] if rows else []
    found = [f for f in facts.report.findings if f.evidence is not None]
    ways = [how_known(f) for f in found]
    dates = sorted(f.evidence.date for f in found if how_known(f) == MEASURED and f.evidence and f.evidence.date)
    counts = {
        "measured": str(ways.count(MEASURED)),
        "sheet": str(ways.count(SHEET)),
        "experience": str(ways.count(EXPERIENCE)),
        "assumed": str(ways.count(ASSUMED)),
    }
    if dates:
        first, last = (words.date(datetime.date.fromisoformat(d[:10])) for d in (dates[0], dates[-1]))
        items.append(Text(text=words.say("known_limits", first=first, last=last, **counts), small=True))
    else:
        items.append(Text(text=words.say("known_limits_undated", **counts), small=True))
    if facts.gate is not None:
        items.append(Text(text=rollers(facts.gate, words)))
    return Block(number=3, heading=words.say("known"), items=tuple(items), wide=True)


def rollers(gate: Gate, words: Words) -> str:
    """May the car go on the rollers, and what has to be done or looked at first.

    Parameters
    ----------
    gate : Gate
        By what is on record.
    words : Words
        In which language.

    Returns
    -------
    str
        One or more sentences.
    """
    if gate.go:
        return words.say("rollers_go")
    said = [words.say("rollers_not")]
    for key, name, blocks in (
        ("rollers_dangers", "dangers", gate.dangers),
        ("rollers_faults", "checks", gate.not_fine),
        ("rollers_checks", "checks", gate.not_looked_at),
    ):
        if blocks:
            said.append(words.say(key, **{name: ", ".join(map(words.gate, blocks))}))
    return " ".join(said)
