"""The customer page: ten numbered blocks from the facts of one car and one wish, in the words of one language."""

from __future__ import annotations

import datetime
import math

from graph.model import Belief
from graph.plan.record import Plan
from graph.report import Finding
from ui.customer_chart import Bar, draw
from ui.customer_facts import Facts, narrowest, short
from ui.customer_options import Option
from ui.customer_terms import after_block, bill, cost_block, decision_block, law_block, uncertain_block
from ui.customer_words import Words, kilowatts
from ui.mark import ASSUMED, EXPERIENCE, KNOWN, MEASURED, SHEET, how_known
from ui.printed import Block, Item, Picture, Sheet, Table, Text

#: Rows of the picture, and how many of them may lie above the wish.
MOST_BARS, MOST_ABOVE = 20, 3
MOST_SKIPPED = 6
#: Working hours of a day.
HOURS_A_DAY = 8.0
KEEPS = {
    "keep_engine": {"pistons", "rods", "head_clamp"},
    "keep_gearbox": {"packs", "clutch", "gears"},
    "keep_turbo": {"compressor", "turbine"},
}


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
    """
    power = _wish(facts, words)
    name = facts.car.name or facts.car.id
    return Sheet(
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
    )


def head(facts: Facts, words: Words) -> tuple[str, ...]:
    """Shop, car, sheet, date, and until when the prices hold."""
    car = ", ".join(dict.fromkeys(filter(None, (facts.car.name, facts.report.build.platform.name, *facts.car.codes))))
    first = words.say("head", shop=facts.shop.name, address=facts.shop.address, car=car or facts.car.id)
    until = words.date(facts.date + datetime.timedelta(days=facts.shop.valid_days))
    second = words.say("head_date", sheet=facts.car.id, date=words.date(facts.date), until=until)
    if facts.car.distance is not None:
        second = f"{words.say('head_distance', distance=words.number(facts.car.distance / 1e3))} · {second}"
    return first.replace(" ·  · ", " · "), second


def _wish(facts: Facts, words: Words) -> str:
    return words.number(facts.report.target.power / 1e3)


def _slot(facts: Facts, words: Words, slot: str) -> str:
    return words.slot(facts.kind(slot), slot)


def answer_block(facts: Facts, words: Words) -> Block:
    """The answer in one sentence, then what the car carries as it stands."""
    report, power = facts.report, _wish(facts, words)
    narrow, rows = short(report), narrowest(report)
    first = next(iter(narrow.values()), None) or report.weakest or next(iter(rows.values()), None)
    items: list[Item] = []
    if first is None or first.ceiling is None:
        heading = words.say("answer_nothing")
    else:
        said = {
            "power": power,
            "slot": _slot(facts, words, first.slot),
            "ceiling": words.power(first.ceiling, first.ceiling_interval),
        }
        count = str(len(narrow))
        if report.reachable is True:
            heading = words.say("answer_reached", **said)
        elif len(narrow) > 1:
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
        line += " " + words.say("answer_tie", slots=", ".join(_slot(facts, words, slot) for slot in report.tie))
    items.append(Text(text=line))
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


def picture_block(facts: Facts, words: Words) -> Block:
    """The picture, its key, and how many places it leaves out."""
    report = facts.report
    bars, shown, count = picture_bars(facts, words)
    wish = _wish(facts, words)
    rows = " ".join(
        words.say("picture_alt_unknown", slot=b.label)
        if b.value is None
        else words.say("picture_alt_row", slot=b.label, ceiling=b.text)
        for b in bars
    )
    picture = Picture(
        svg=draw(
            bars,
            report.target.power / 1e3,
            words.say("picture_target", power=wish),
            words.say("picture_axis", value="{value}"),
        ),
        alternative=words.say("picture_alt", count=str(len(bars)), power=wish, rows=rows),
    )
    key = " ".join(
        (
            words.say("picture_key"),
            words.say("picture_marks"),
            words.say("picture_count", shown=str(shown), all=str(count)),
        )
    )
    return Block(
        number=2, heading=words.say("picture"), items=(picture, Text(text=key, small=True)), wide=True
    )


def picture_bars(facts: Facts, words: Words) -> tuple[tuple[Bar, ...], int, int]:
    """Rows of the picture: what is short, the next ones above, what is not known; how many, and of how many."""
    report = facts.report
    power = report.target.power
    unknown = {u.slot: u for u in report.unknown}
    known = [(s, f) for s, f in narrowest(report).items() if s not in unknown]
    below = [(s, f) for s, f in known if f.ceiling is not None and f.ceiling < power]
    above = [(s, f) for s, f in known if f.ceiling is not None and f.ceiling >= power]
    room = max(1, MOST_BARS - len(unknown))
    chosen = below[:room] + above[: max(0, min(MOST_ABOVE, room - len(below)))]
    bars = [_bar(facts, words, slot, finding, first=n == 0) for n, (slot, finding) in enumerate(chosen)]
    for slot in unknown:
        place = report.build.place(slot)
        claim = place.claim if place is not None else ""
        note = words.say("picture_told", claim=claim) if claim else words.say("picture_unknown")
        bars.append(Bar(label=_slot(facts, words, slot), value=None, text="?", note=note))
    return tuple(bars), len(bars), len(known) + len(unknown)


def _bar(facts: Facts, words: Words, slot: str, finding: Finding, *, first: bool) -> Bar:
    interval = finding.ceiling_interval
    value = kilowatts(finding.ceiling or 0.0, interval)
    target = facts.report.target.power / 1e3
    note = ""
    if first:
        gap = target - value
        note = words.say("picture_short", gap=words.number(gap)) if gap > 0 else words.say("picture_first")
    return Bar(
        label=_slot(facts, words, slot),
        value=value,
        text=words.number(value),
        low=None if interval is None else interval.low / 1e3,
        high=None if interval is None or interval.high is None else interval.high / 1e3,
        mark=KNOWN[how_known(finding)],
        note=note,
        first=first,
    )


def known_block(facts: Facts, words: Words) -> Block:
    """What was told, seen, read and measured on this car, and how its limits are known."""
    build = facts.report.build
    recorded = {i.slot: i for i in facts.car.installed}
    rows = [("○", words.say("known_note", note=note), words.say("known_told")) for note in facts.car.notes]
    rows += [
        ("○", words.say("known_claim", slot=_slot(facts, words, p.slot.name), claim=p.claim), words.say("known_claimed"))
        for p in build.places
        if p.belief is Belief.CLAIMED and p.claim
    ]
    marks = (
        (Belief.SEEN, "◐", "known_seen"),
        (Belief.LABEL_READ, "◉", "known_label"),
        (Belief.MEASURED, "●", "known_measured"),
    )
    for belief, mark, key in marks:
        slots = [_slot(facts, words, s) for s, i in recorded.items() if i.belief is belief and build.place(s) is not None]
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
    return Block(number=3, heading=words.say("known"), items=tuple(items))


def options_block(facts: Facts, words: Words) -> Block:
    """Good, better, best with the same rows; or what can be had as it stands."""
    items: list[Item] = []
    offer = facts.offer
    if offer is not None and offer.options:
        items.append(_options_table(facts, words, offer.options))
        items.append(Text(text=f"{words.say('cheapest')} {_margins(facts, words)}", small=True))
    else:
        items.append(_stand_table(facts, words))
    if offer is None:
        items.append(Text(text=words.say("no_plan")))
    elif offer.refused is not None:
        power = words.number(facts.report.target.power / 1e3)
        items.append(Text(text=words.say("no_set", power=power, reason=refusal(facts, words, offer.refused))))
    return Block(number=4, heading=words.say("options"), items=tuple(items))


def _margins(facts: Facts, words: Words) -> str:
    if facts.offer is None:
        return ""
    policy = facts.offer.policy
    return words.say("margins", harm=words.number(policy.harm * 100.0), cost=words.number(policy.cost * 100.0))


def refusal(facts: Facts, words: Words, plan: Plan) -> str:
    """Why a wish has no set of parts, in the customer's words."""
    if not plan.proven:
        return words.say("reason_time")
    for reason in plan.conflict:
        if reason.text.startswith("the engine itself"):
            return words.say("reason_engine")
    for reason in plan.conflict:
        slot = next((p.slot.name for p in facts.report.build.places if reason.text.startswith(f"{p.slot.name}:")), None)
        if slot is not None:
            return words.say("reason_part", slot=_slot(facts, words, slot))
    return words.say("reason_part", slot=_slot(facts, words, next(iter(narrowest(facts.report)), "engine")))


def _stand_table(facts: Facts, words: Words) -> Table:
    report = facts.report
    interval = report.carries_interval
    rows = (
        (words.say("row_carries"), words.span(interval)),
        (words.say("row_torque"), words.say("about", value=words.number(round(report.makes.torque, -1)))),
        (words.say("row_fuel"), words.fuel(report.target.fuel, short=True)),
        (words.say("row_keep"), words.say("keep_all")),
    )
    return Table(head=("", words.say("stand")), rows=rows, align="lw", about=words.say("options"))


def _options_table(facts: Facts, words: Words, options: tuple[Option, ...]) -> Table:
    shop = facts.shop
    columns = []
    for option in options:
        plan, cost, after = option.plan, option.plan.cost, option.plan.after
        if cost is None or after is None:
            continue
        hours = cost.labour / 3600.0
        wait = max((s.lead_time or 0.0 for s in plan.steps if not s.stock), default=0.0) / 86400.0
        kinds = {facts.kind(s.slot) for s in plan.steps}
        kept = [words.say(key) for key, group in KEEPS.items() if not group & kinds]
        torque = after.makes.torque * min(1.0, option.power / after.makes.power)
        columns.append(
            (
                words.number(option.power / 1e3),
                words.span(after.carries_interval),
                words.chance(after.holds_probability),
                words.say("about", value=words.number(round(torque, -1))),
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
        head=("", *(words.say(o.name) for o in options)),
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
            _slot(facts, words, slot),
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
            _slot(facts, words, s.slot),
            words.say("skip_at", ceiling=words.power(s.skip_ceiling or 0.0, None)),
            words.skip(facts.kind(s.slot)),
        )
        for s in below
    )
    items: list[Item] = []
    if rows:
        lead = words.say("skip_lead", option=words.say(chosen.name), power=words.number(chosen.power / 1e3))
        items += [Text(text=lead), Table(rows=rows, align="llw", about=words.say("skip"))]
    more = len(chosen.plan.steps) - len(rows)
    closing = [words.say("skip_refuse")] if rows else []
    if more:
        closing.append(words.say("skip_more", count=str(more)))
    if closing:
        items.append(Text(text=" ".join(closing), small=True))
    return tuple(items) or (Text(text=words.say("skip_nothing")),)
