"""One rating cell with its unit, condition, meaning, evidence and spread."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from itertools import pairwise

from graph.limit import Kind, RatingSpec
from graph.model import Curve, Evidence, EvidenceKind, Meaning, Rating
from graph.quantity import Quantity
from ingest.condition import parse_condition, read_conditions
from ingest.evidence import read_evidence
from ingest.line import Line, remember
from ingest.problem import Problem, UnreadableValue
from ingest.units import Measure, parse_quantity, read_unit, read_value
from ingest.vocabulary import Vocabulary, plain_word

Add = Callable[[Problem], None]

_BARE = re.compile(r"[\s\d.,:;eE+\-−]+")
_REFERRED = (Quantity.ABSOLUTE_PRESSURE, Quantity.GAUGE_PRESSURE)
_FLOWS = (Quantity.MASS_FLOW, Quantity.VOLUME_FLOW)
_A_POWER = (
    "a power is no flow: which power it carries hangs on injection window, mixture and consumption; "
    "ask for the flow at a stated pressure"
)
#: Ratings that are stated at the wheel side of the gearing.
_AT_THE_WHEEL = ("shaft torque",)


def read_rating(line: Line, kind: Kind, words: Vocabulary, add: Add) -> Rating | None:
    """Read the rating of one row; every defect of the row is found, not only the first.

    Parameters
    ----------
    line : Line
        A data row with a rating.
    kind : Kind
        Of the part.
    words : Vocabulary
        For evidence, meanings and names.
    add : callable
        Takes every defect found.

    Returns
    -------
    Rating or None
        [SI]; None where a defect makes it unusable, and then at least one problem was added.
    """
    text, unit, condition = line.text("rating"), line.text("unit"), line.text("condition")
    spec = remember(
        line, ("rating of", kind.name, line.text("rating_of")), lambda a: rating_spec(line, kind, words, a), add
    )
    key = ("evidence", line.text("evidence"), type(line.value("date")), line.text("date"))
    if spec is None:
        remember(line, key, lambda a: read_evidence(line, words, a), add)
        return None
    named = (kind.name, spec.name)
    number = remember(
        line, ("rating", named, type(line.value("rating")), text, unit), lambda a: _number(line, spec, a), add
    )
    value, measure = number if number is not None else (None, None)
    behind = measure.condition if measure is not None else ""
    conditions = remember(
        line, ("condition", named, behind, condition), lambda a: read_conditions(line, spec, words, a, behind), add
    )
    evidence = remember(line, key, lambda a: read_evidence(line, words, a), add)
    least = measure is not None and "at least" in measure.qualifiers
    meaning = remember(line, ("meaning", line.text("meaning"), least), lambda a: _meaning(line, least, words, a), add)
    width = _width(measure)
    known = None if evidence is None else evidence[0]
    spread = remember(
        line,
        ("spread", type(line.value("spread")), line.text("spread"), known, width),
        lambda a: _spread(line, known, width, words, a),
        add,
    )
    if value is None or conditions is None or evidence is None or meaning is None or spread is None:
        return None
    stated, note = spread
    if unit := unit or line.unit("rating") or "":
        text = f"{text} {unit}"
    return Rating(
        name=spec.name,
        value=value,
        evidence=Evidence(
            kind=evidence[0],
            source=line.source("rating"),
            detail=f"{evidence[1]}; {note}" if note else evidence[1],
            date=evidence[2],
            by=line.word("by") or None,
        ),
        spread=stated,
        meaning=meaning,
        conditions=conditions,
        text=f"{text} at {condition}" if condition else text,
    )


def rating_spec(line: Line, kind: Kind, words: Vocabulary, add: Add) -> RatingSpec | None:
    """Which rating of the kind a row states; None and a problem where that is not clear."""
    wanted = plain_word(line.text("rating_of")) or plain_word(line.header.rated)
    names = ", ".join(r.name for r in kind.ratings) or "none"
    field = "rating_of" if line.text("rating_of") or not line.header.rated else "rating"
    if not wanted:
        required = [r for r in kind.ratings if r.required] or list(kind.ratings)
        if len(required) == 1:
            return required[0]
        at = "rating_of" if "rating_of" in line.header.columns else "rating"
        add(line.problem(at, "nothing", f"one of: {names}", "say what is rated"))
        return None
    for name in (wanted, words.words["rating"].get(wanted, wanted)):
        for spec in kind.ratings:
            if plain_word(spec.name) == name:
                return spec
    add(line.problem(field, repr(line.text("rating_of") or line.header.rated), f"a rating of {kind.label}: {names}", "use one of these names"))  # fmt: skip
    return None


def _number(line: Line, spec: RatingSpec, add: Add) -> tuple[float | Curve | None, Measure | None]:
    """The rating's number and how it was read; no number where it is none, or out of all bounds."""
    value, measure = _value(line, spec, add)
    return (value if value is not None and _plausible(line, spec, value, add) else None), measure


def _value(line: Line, spec: RatingSpec, add: Add) -> tuple[float | Curve | None, Measure | None]:
    text = line.text("rating")
    unit = line.text("unit") or line.unit("rating")
    if unit is not None:
        try:
            read_unit(unit, spec.quantity)
        except UnreadableValue as defect:
            add(line.problem("unit" if line.text("unit") else "rating", defect.found, defect.expected, defect.remedy))
            return None, None
    if spec.over is not None and ":" in text:
        return _curve(line, text, unit, spec, spec.over, add), None
    try:
        measure = read_value(line.value("rating"), spec.quantity, declared_unit=unit)
    except UnreadableValue as defect:
        field = "unit" if unit is None and "unit" in line.header.columns and _BARE.fullmatch(text) else "rating"
        remedy = _A_POWER if spec.quantity in _FLOWS and _is_power(text, unit) else defect.remedy
        add(line.problem(field, defect.found, defect.expected, remedy))
        return None, None
    refused = _refused(measure, spec, unit)
    if refused is not None:
        add(line.problem("rating", *refused))
        return None, measure
    return measure.value, measure


def _is_power(text: str, unit: str | None) -> bool:
    try:
        return bool(parse_quantity(text.partition(" at ")[0], Quantity.POWER, declared_unit=unit).value)
    except UnreadableValue:
        return False


def _refused(measure: Measure, spec: RatingSpec, unit: str | None) -> tuple[str, str, str] | None:
    """What makes a readable value unusable as a rating: found, expected, remedy."""
    shown = repr(measure.text.strip())
    for qualifier in ("doubtful", "approximately", "at most"):
        if qualifier in measure.qualifiers:
            return (
                f"{shown} ({qualifier})",
                "a number that somebody stands for",
                "measure it, or write the number and a wider ± %",
            )
    if unit is not None and not measure.declared and read_unit(unit, spec.quantity).unit.label != measure.unit:
        return f"{shown} and the unit {unit!r}", "one unit", "write the unit once, in its column or behind the number"
    if spec.quantity in _REFERRED and measure.reference is None:
        word = "abs" if spec.quantity is Quantity.ABSOLUTE_PRESSURE else "gauge"
        return (
            f"{shown} {unit or ''}".strip() + ", which says neither abs nor gauge",
            f"a {spec.quantity.label}",
            f"write 'bar {word}' if that is what it is; the two differ by the air pressure of the day",
        )
    if measure.basis == "wheel" and spec.name not in _AT_THE_WHEEL:
        return f"{shown}, at the wheel", f"{spec.quantity.label} at the crank", "state the value at the crank"
    return None


def _curve(line: Line, text: str, unit: str | None, spec: RatingSpec, over: Quantity, add: Add) -> Curve | None:
    points: list[tuple[float, float]] = []
    for piece in (p.strip() for p in text.split(";")):
        if not piece:
            continue
        left, colon, right = piece.partition(":")
        if not colon or ":" in right:
            add(line.problem("rating", repr(piece), "points as 'x: y; x: y'", "write each point with one colon"))
            return None
        field = "rating"
        try:
            x = parse_condition(left, over)
            field = "unit" if unit is None and "unit" in line.header.columns and _BARE.fullmatch(right) else "rating"
            y = parse_quantity(right, spec.quantity, declared_unit=unit)
        except UnreadableValue as defect:
            add(line.problem(field, f"{defect.found} in the point {piece!r}", defect.expected, defect.remedy))
            return None
        refused = _refused(y, spec, unit) or (
            (f"{piece!r}", "one number for each point", "write one number") if y.qualifiers or y.condition else None
        )
        if refused is not None:
            add(line.problem("rating", *refused))
            return None
        points.append((x.value, y.value))
    if len(points) < 2 or any(b[0] <= a[0] for a, b in pairwise(points)):
        add(
            line.problem(
                "rating", repr(text), "two or more points in rising order", "sort the points and remove doubles"
            )
        )
        return None
    return Curve(x=tuple(x for x, _ in points), y=tuple(y for _, y in points))


def _meaning(line: Line, least: bool, words: Vocabulary, add: Add) -> Meaning | None:
    said = line.word("meaning")
    if not said:
        return Meaning.GUARANTEED if least else Meaning.NOMINAL
    meaning = words.meaning("meaning", said)
    if meaning is None:
        add(
            line.problem(
                "meaning", repr(said), "one of: " + ", ".join(words.known("meaning")), "use one of these words"
            )
        )
        return None
    return Meaning(meaning)


def _width(measure: Measure | None) -> float:
    """Relative standard deviation [1] of a range, which is taken as evenly spread; 0 where the number is no range."""
    if measure is None or measure.low is None or measure.high is None or not measure.value:
        return 0.0
    return (measure.high - measure.low) / math.sqrt(12.0) / abs(measure.value)


def _spread(
    line: Line, known: EvidenceKind | None, width: float, words: Vocabulary, add: Add
) -> tuple[float, str] | None:
    """Relative standard deviation [1] and, where it was assumed, a note that says so."""
    if not line.text("spread"):
        if width:
            return width, ""
        if known is None:
            return None
        assumed = words.spread[known.value]
        return assumed, f"spread of {assumed * 100:g} % assumed for {known.value}"
    percent = "%" in line.header.names[line.header.columns["spread"]] or line.unit("spread") == "%"
    try:
        stated = read_value(line.value("spread"), Quantity.RATIO, declared_unit="%" if percent else None)
    except UnreadableValue as defect:
        add(line.problem("spread", defect.found, "a relative standard deviation such as 4 %", defect.remedy))
        return None
    if stated.qualifiers or not 0.0 <= stated.value <= 0.6:
        add(
            line.problem(
                "spread",
                repr(line.text("spread")),
                "one number from 0 to 60 %",
                "give the relative standard deviation in per cent",
            )
        )
        return None
    return max(stated.value, width), ""


def _plausible(line: Line, spec: RatingSpec, value: float | Curve, add: Add) -> bool:
    low, high = spec.plausible
    worst = [n for n in (value.y if isinstance(value, Curve) else (value,)) if not low <= n <= high]
    if worst:
        unit = line.text("unit") or line.unit("rating") or ""
        found = f"{line.text('rating')!r} {unit}".strip()
        add(
            line.problem(
                "rating",
                f"{found} ({worst[0]:.4g} {spec.quantity.unit})",
                f"{spec.label}: between {low:.4g} and {high:.4g} {spec.quantity.unit}",
                "check the unit and the decimal sign",
            )
        )
    return not worst
