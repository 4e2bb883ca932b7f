"""Block 2 of the customer page: the picture, its key, and how many places it leaves out."""

from __future__ import annotations

from graph.report import Finding
from ui.customer_chart import Bar, draw
from ui.customer_facts import Facts, narrowest, place_word, wish_word
from ui.customer_words import Words, kilowatts
from ui.mark import KNOWN, how_known
from ui.printed import Block, Picture, Text

#: Rows of the picture, how many of them may lie above the wish, and how many there are at least if the car has them.
MOST_BARS, MOST_ABOVE, LEAST_BARS = 13, 3, 8


def picture_block(facts: Facts, words: Words) -> Block:
    """The picture, its key, and how many places it leaves out."""
    report = facts.report
    bars, shown, count = picture_bars(facts, words)
    wish = wish_word(facts, words)
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
    return Block(number=2, heading=words.say("picture"), items=(picture, Text(text=key, small=True)), wide=True)


def picture_bars(facts: Facts, words: Words) -> tuple[tuple[Bar, ...], int, int]:
    """Rows of the picture: what is short, the next ones above, what is not known; how many, and of how many."""
    report = facts.report
    power = report.target.power
    unknown = {u.slot: u for u in report.unknown}
    known = [(s, f) for s, f in narrowest(report).items() if s not in unknown]
    below = [(s, f) for s, f in known if f.ceiling is not None and f.ceiling < power]
    above = [(s, f) for s, f in known if f.ceiling is not None and f.ceiling >= power]
    room = max(1, MOST_BARS - len(unknown))
    chosen = below[:room] + above[: max(0, min(max(MOST_ABOVE, LEAST_BARS - len(below)), room - len(below)))]
    bars = [_bar(facts, words, slot, finding, first=n == 0) for n, (slot, finding) in enumerate(chosen)]
    for slot in unknown:
        place = report.build.place(slot)
        claim = place.claim if place is not None else ""
        note = words.say("picture_told", claim=claim) if claim else words.say("picture_unknown")
        bars.append(Bar(label=place_word(facts, words, slot), value=None, text="?", note=note))
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
        label=place_word(facts, words, slot),
        value=value,
        text=words.number(value),
        low=None if interval is None else interval.low / 1e3,
        high=None if interval is None or interval.high is None else interval.high / 1e3,
        mark=KNOWN[how_known(finding)],
        note=note,
        first=first,
    )
