"""A check as text: the answer in one sentence, then the ladder of ceilings with the target as a line."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping
from types import MappingProxyType

from graph.breakdown import Breakdown
from graph.kinds import discover
from graph.quantity import Quantity
from graph.report import Finding, Remedy, Report, Verdict
from ui.caution import cautions
from ui.engine_text import learnt_lines
from ui.format import NOT_KNOWN, boost, duration, gap, kilowatts, number, percent, power_unit, quantity

MARKS: Mapping[Verdict, str] = MappingProxyType(
    {Verdict.CLEAR: "▷", Verdict.MARGINAL: "‖", Verdict.EXCEEDED: "◀", Verdict.UNKNOWN: "?"}
)
WORDS: Mapping[Verdict, str] = MappingProxyType(
    {
        Verdict.CLEAR: "clear",
        Verdict.MARGINAL: "within the margin",
        Verdict.EXCEEDED: "short",
        Verdict.UNKNOWN: "not known",
    }
)
BAR = 30
WIDTH = 118


def ladder(report: Report, *, evidence: bool = True) -> str:
    """The whole answer as plain text.

    Parameters
    ----------
    report : Report
        Of a check.
    evidence : bool
        True to print under each row where its rating comes from.

    Returns
    -------
    str
        Lines of at most 120 characters.
    """
    blocks = [*_wrapped(headline(report), 0), _conditions(report), "", *_rows(report, evidence), ""]
    for line in _answer(report):
        blocks += _wrapped(line, 0)
    blocks += (
        _circumstances(report)
        + _extrapolated(report)
        + _unknown(report)
        + _warnings(report)
        + _remedies(report)
        + _cautions(report)
    )
    return "\n".join(blocks) + "\n"


def breakdown_text(found: Breakdown) -> str:
    """Where the power between the car and the target went, as plain text.

    Parameters
    ----------
    found : Breakdown
        Of the car at the target.

    Returns
    -------
    str
        Lines of at most 120 characters.
    """
    boost = f"{number(found.boost_cap / 1e5, 1)} bar" + ("" if found.cap_given else " (no cap asked; what it reaches)")
    reach = f"{kilowatts(found.shortfall)} {power_unit()} short of" if found.shortfall > 0.0 else "no shortfall against"
    lines = _wrapped(
        f"Where the power went: at {boost}, hard limits of parts not counted, the car makes {kilowatts(found.makes)} {power_unit()}, "
        f"{reach} the target of {kilowatts(found.target)} {power_unit()}; ended because {found.ended_by}.",
        0,
    )
    lines.append(
        f"  {'cause':21}{'alone':>6}{'last':>7}  {power_unit()} if wholly taken away: alone, and after all the others"
    )
    for share in found.shares:
        row = f"{share.loss.label:21}{gap(share.alone):>6}{gap(share.last):>7}  {share.loss.relaxed}"
        lines += _wrapped(row, 2, 38)
    lines.append(f"  {'interaction':21}{gap(found.interaction):>6}")
    lines.append(
        f"  {'remainder':21}{gap(found.remainder):>6}         to the target; displacement, speed, cap, inlet losses"
    )
    lines += _wrapped(
        f"{found.note} All at once: {kilowatts(found.together)} {power_unit()}; ended because {found.together_ended_by}.",
        0,
    )
    return "\n".join(lines) + "\n"


def headline(report: Report) -> str:
    """The answer in one sentence."""
    weakest = report.weakest
    if weakest is None:
        return f"{report.build.car}: no limit with a ceiling is known."
    first = f"The {weakest.slot} stops {report.build.car} at {kilowatts(weakest.ceiling)} {power_unit()}"
    if len(report.tie) > 1:
        others = [slot for slot in report.tie if slot != weakest.slot]
        chance = {slot: sum(f.weakest_probability for f in report.findings if f.slot == slot) for slot in report.tie}
        return (
            f"{first}, one of a near tie of {len(report.tie)}: {weakest.slot} "
            f"({percent(chance.get(weakest.slot))}), "
            + ", ".join(f"{slot} ({percent(chance[slot])})" for slot in others)
            + "."
        )
    return f"{first}."


def _conditions(report: Report) -> str:
    target = report.target
    cap = "no boost cap" if target.boost_cap is None else f"boost up to {boost(target.boost_cap)}"
    speed = target.power_speed or report.build.platform.constants["power speed"]
    return (
        f"target {kilowatts(target.power)} {power_unit()} crank at {number(speed * 60)} 1/min · {cap} · {target.fuel.name} · "
        f"{number(target.weather.temperature - 273.15)} °C · {number(target.weather.pressure / 1e2)} hPa · "
        f"full load for {duration(target.duration)}"
    )


def _scale(report: Report) -> tuple[float, float]:
    known = [f.ceiling for f in report.findings if f.ceiling is not None]
    low = min([*known, report.target.power]) * 0.92
    return low, max([*known, report.target.power]) * 1.02


def _rows(report: Report, evidence: bool) -> list[str]:
    low, high = _scale(report)
    lines = [
        f"{'':2}{'slot':19}{'part':10}{'alone':>6}{'9 in 10':>12}{'gap':>6}{'here':>6}  "
        f"{f'crank {power_unit()}, | is the target':{BAR}}{'worst at':>10}{'first':>7}"
    ]
    for finding in report.findings:
        if finding.ceiling is None:
            continue
        lines.append(_row(finding, report, low, high))
        if evidence and finding.evidence is not None:
            assumed = " (condition assumed)" if finding.assumed else ""
            lines += _wrapped(
                f"{finding.condition}{assumed}, {finding.evidence.detail}, from {finding.evidence.source}", 4
            )
    rest = [f for f in report.findings if f.ceiling is None]
    if rest:
        lines.append("")
        lines.append("without a ceiling in range, and why:")
        for finding in rest:
            text = f"{finding.slot:19}{finding.part or '':10}{finding.rule}: {finding.ceiling_reason or NOT_KNOWN}"
            lines += _wrapped(f"{MARKS[finding.verdict]} {text}", 0, 31)
    return lines


def _wrapped(text: str, first: int, following: int | None = None) -> list[str]:
    """Text in lines of the page's width, indented."""
    return textwrap.wrap(
        text,
        WIDTH,
        initial_indent=" " * first,
        subsequent_indent=" " * (first if following is None else following),
        break_long_words=False,
        break_on_hyphens=False,
    )


def _row(finding: Finding, report: Report, low: float, high: float) -> str:
    ceiling = finding.ceiling or 0.0
    interval = finding.ceiling_interval
    span = (
        ""
        if interval is None
        else f"{kilowatts(interval.low)} to {'…' if interval.high is None else kilowatts(interval.high)}"
    )
    here = "·" if finding.ceiling_here is None else kilowatts(finding.ceiling_here)
    speed = "" if finding.worst_speed is None else number(finding.worst_speed * 60)
    bar = _bar(ceiling, report.target.power, low, high, finding.verdict)
    return (
        f"{MARKS[finding.verdict]} {finding.slot:19}{finding.part or '':10}{kilowatts(ceiling):>6}{span:>12}"
        f"{gap(ceiling - report.target.power):>6}{here:>6}  {bar}{speed:>10}{percent(finding.weakest_probability):>7}"
    )


def _bar(ceiling: float, target: float, low: float, high: float, verdict: Verdict) -> str:
    def place(power: float) -> int:
        return max(0, min(BAR - 2, round((power - low) / (high - low) * (BAR - 2))))

    filled = place(ceiling)
    cells = ["━" if i <= filled else " " for i in range(BAR - 1)]
    line = place(target)
    if verdict is Verdict.UNKNOWN:
        cells = ["·"] * (BAR - 1)
    for i in range(filled + 1, line):
        cells[i] = "╵"
    cells[line] = "|"
    return "".join(cells) + " "


def _answer(report: Report) -> list[str]:
    bound = "at most " if report.carries_is_upper_bound else ""
    interval = report.carries_interval
    high = "…" if interval.high is None else kilowatts(interval.high)
    makes = report.makes
    reach = {True: "is reached", False: "is not reached", None: "cannot be promised: a part that matters is not known"}
    return [
        f"{report.build.car} carries {bound}{kilowatts(report.carries)} {power_unit()} as it stands (9 in 10: {kilowatts(interval.low)} to {high} {power_unit()}); "
        f"chance that it holds {kilowatts(report.target.power)} {power_unit()}: {percent(report.holds_probability)}.",
        f"With nothing broken the rollers would show {kilowatts(makes.power)} {power_unit()} and {quantity(makes.torque, Quantity.TORQUE)} at the crank, "
        f"{boost(makes.boost)} boost at {number(makes.speed * 60)} 1/min; what ends it: {makes.cause}.",
        f"The engine alone, every other part adequate, makes {kilowatts(report.engine_alone)} {power_unit()}. "
        f"The target of {kilowatts(report.target.power)} {power_unit()} {reach[report.reachable]}.",
        "Adequate means: " + "; ".join(report.reference) + ".",
        *learnt_lines(report, "--as-stated leaves out what was learnt"),
    ]


def _circumstances(report: Report) -> list[str]:
    if not report.circumstances:
        return []
    lines = ["", "In other circumstances (alone, here):"]
    for found in report.circumstances:
        alone, here = (
            f"{kilowatts(c)} {power_unit()}" if c is not None else "not reached"
            for c in (found.ceiling, found.ceiling_here)
        )
        text = f"{found.slot:19}{found.part or '':10}{found.circumstance}: {alone}, {here}; {found.rule}: {found.why}"
        lines += _wrapped(f"· {text}; {found.remedy}", 0, 31)
    return lines


def _extrapolated(report: Report) -> list[str]:
    if not report.extrapolated:
        return []
    said = "Beyond the range of a formula, so with more doubt: " + "; ".join(report.extrapolated) + "."
    return ["", *_wrapped(said, 0)]


def _unknown(report: Report) -> list[str]:
    if not report.unknown:
        return []
    return ["", "Not known:"] + [f"? {u.slot:19}{'·' * BAR} {u.why}" for u in report.unknown]


def _warnings(report: Report) -> list[str]:
    if not report.warnings:
        return []
    return ["", "On the car and not in order:", *(line for w in report.warnings for line in _wrapped(f"- {w}", 0, 2))]


def _remedies(report: Report) -> list[str]:
    if not report.remedies and not report.without_remedy:
        return []
    fuel = report.remedies_fuel
    on = ""
    if fuel is not None and fuel != report.target.fuel.name:
        on = f"; judged on {fuel}, because the engine alone ends at {kilowatts(report.engine_alone)} {power_unit()} on {report.target.fuel.name}"
    power = kilowatts(report.target.power)
    lines = [
        "",
        *_wrapped(
            f"What would clear {power} {power_unit()}, cheapest first for each limit (net prices, labour not shared{on}):",
            0,
        ),
    ]
    for slot in dict.fromkeys(r.slot for r in report.remedies):
        options = [r for r in report.remedies if r.slot == slot]
        for option in options:
            lines += _wrapped(_remedy(option), 2, 33)
    lines += [
        f"  {slot:19} no {'fuel' if slot == 'engine' else 'part'} in the book that fits clears it"
        for slot in report.without_remedy
    ]
    return lines


def _remedy(remedy: Remedy) -> str:
    price = NOT_KNOWN if remedy.price is None else number(remedy.price)
    text = f"{remedy.slot:19} {remedy.part:9} {remedy.name}, {price}"
    if remedy.pulls:
        total = NOT_KNOWN if remedy.total is None else number(remedy.total)
        text += f"; pulls along {', '.join(remedy.pulls)} (together {total})"
    if remedy.conflicts:
        text += "; note: " + "; ".join(remedy.conflicts)
    return text


def _cautions(report: Report) -> list[str]:
    kinds = discover()
    slots = {r.slot for r in report.remedies}
    touched = [kinds[p.slot.kind] for p in report.build.places if p.slot.name in slots]
    touched += [kinds[kind] for r in report.remedies for kind in r.kinds]
    if report.target.power > report.build.platform.constants.get("factory power", report.target.power):
        touched.append(kinds["brakes"])
    found = cautions(touched)
    if not found:
        return []
    return ["", "With this work:", *(line for c in found for line in _wrapped(f"- {c}", 0, 2))]
