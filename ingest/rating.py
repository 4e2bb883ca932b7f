"""One rating cell with its unit, condition, meaning, evidence and spread."""

from __future__ import annotations

import re
from collections.abc import Callable

from graph.limit import ConditionSpec, Kind, RatingSpec
from graph.model import Condition, Curve, Evidence, Meaning, Rating
from graph.quantity import Quantity
from ingest.evidence import evidence_kind
from ingest.problem import Problem, UnreadableValue
from ingest.sheet import Line, date_text
from ingest.units import Measure, parse_quantity

_POINT = re.compile(r"\s*([^:;]+?)\s*:\s*([^:;]+?)\s*$")


def read_rating(line: Line, kind: Kind, add: Callable[[Problem], None]) -> Rating | None:
    """Read the rating of one row.

    Parameters
    ----------
    line : Line
        A data row with a rating.
    kind : Kind
        Of the part.
    add : callable
        Takes every defect found.

    Returns
    -------
    Rating or None
        None where a defect makes it unusable; then at least one problem was added.
    """
    spec = _spec(line, kind, add)
    if spec is None:
        return None
    value = _value(line, spec, add)
    conditions, usable = _conditions(line, spec, add)
    evidence = _evidence(line, add)
    meaning = _meaning(line, add)
    spread = _spread(line, add)
    if value is None or evidence is None or meaning is None or spread is None or not usable:
        return None
    if not _plausible(line, spec, value, add):
        return None
    unit = line.text("unit")
    text = " ".join(t for t in (line.text("rating"), unit, "at" if line.text("condition") else "", line.text("condition")) if t)
    return Rating(
        name=spec.name, value=value, evidence=evidence, spread=spread, meaning=meaning, conditions=conditions, text=text
    )


def _spec(line: Line, kind: Kind, add: Callable[[Problem], None]) -> RatingSpec | None:
    wanted = line.text("rating_of").lower()
    names = ", ".join(r.name for r in kind.ratings) or "none"
    if not wanted:
        required = [r for r in kind.ratings if r.required]
        if len(required) == 1:
            return required[0]
        add(line.problem("rating_of", "nothing", f"one of: {names}", "say what is rated"))
        return None
    for spec in kind.ratings:
        if spec.name == wanted:
            return spec
    add(line.problem("rating_of", repr(wanted), f"a rating of {kind.label}: {names}", "use one of these names"))
    return None


def _value(line: Line, spec: RatingSpec, add: Callable[[Problem], None]) -> float | Curve | None:
    text = line.text("rating")
    column = line.header.columns["rating"]
    unit = line.text("unit") or line.header.units.get(column) or None
    if spec.over is not None and ":" in text:
        return _curve(line, text, unit, spec, spec.over, add)
    measure = _measure(line, "rating", text, spec.quantity, unit, add)
    return None if measure is None else measure.value


def _measure(
    line: Line, field: str, text: str, quantity: Quantity, unit: str | None, add: Callable[[Problem], None]
) -> Measure | None:
    try:
        measure = parse_quantity(text, quantity, declared_unit=unit)
    except UnreadableValue as defect:
        at = "unit" if unit is None and "unit" in line.header.columns and _bare(text) else field
        add(line.problem(at, defect.found, defect.expected, defect.remedy))
        return None
    if measure.low is not None or measure.high is not None or measure.qualifiers:
        said = ", ".join(measure.qualifiers) or "a range"
        add(
            line.problem(
                field, f"{text!r} ({said})", "one number", "write one number; say in the column Meaning what it means"
            )
        )
        return None
    if measure.condition:
        add(
            line.problem(
                field,
                f"{text!r} with a condition in the number",
                "the condition in its own column",
                f"move {measure.condition!r} to the column Condition with its name and unit",
            )
        )
        return None
    return measure


def _bare(text: str) -> bool:
    return re.fullmatch(r"[\s\d.,:;eE+\-−]+", text) is not None


def _curve(
    line: Line, text: str, unit: str | None, spec: RatingSpec, over: Quantity, add: Callable[[Problem], None]
) -> Curve | None:
    xs: list[float] = []
    ys: list[float] = []
    for piece in filter(None, (p.strip() for p in text.split(";"))):
        point = _POINT.match(piece)
        if point is None:
            add(line.problem("rating", repr(piece), "points as 'x: y; x: y'", "write each point with one colon"))
            return None
        x = _measure(line, "rating", point.group(1), over, None if _has_unit(point.group(1)) else "1", add)
        y = _measure(line, "rating", point.group(2), spec.quantity, unit, add)
        if x is None or y is None:
            return None
        xs.append(x.value)
        ys.append(y.value)
    if len(xs) < 2 or any(b <= a for a, b in zip(xs[:-1], xs[1:], strict=True)):
        add(line.problem("rating", repr(text), "at least two points in rising order", "sort the points"))
        return None
    return Curve(x=tuple(xs), y=tuple(ys))


def _has_unit(text: str) -> bool:
    return re.search(r"[^\d\s.,+\-−eE]", text) is not None


def _conditions(
    line: Line, spec: RatingSpec, add: Callable[[Problem], None]
) -> tuple[tuple[Condition, ...], bool]:
    found: dict[str, Condition] = {}
    usable = True
    text = line.text("condition").lstrip("@ ")
    for item in filter(None, (p.strip() for p in re.split(r";|,(?=\s)", text))):
        condition = _condition(line, item, spec, add)
        if condition is None:
            usable = False
        else:
            found[condition.name] = condition
    for wanted in spec.conditions:
        if wanted.name in found:
            continue
        if wanted.default is not None:
            found[wanted.name] = Condition(name=wanted.name, value=wanted.default, assumed=True)
        elif wanted.required:
            add(
                line.problem(
                    "condition",
                    repr(text) if text else "nothing",
                    f"the condition {wanted.name!r}, without which this rating cannot be used",
                    f"write '{wanted.name}' with its value and unit",
                )
            )
            usable = False
    return tuple(found[c.name] for c in spec.conditions if c.name in found), usable


def _condition(line: Line, item: str, spec: RatingSpec, add: Callable[[Problem], None]) -> Condition | None:
    named = [c for c in spec.conditions if item.lower().startswith(c.name)]
    if named:
        wanted = max(named, key=lambda c: len(c.name))
        return _stated(line, wanted, item[len(wanted.name) :].lstrip(" :="), add)
    for wanted in spec.conditions:
        if wanted.quantity is None and item.lower() in wanted.words:
            return Condition(name=wanted.name, value=item.lower())
    readable = [c for c in spec.conditions if c.quantity is not None and _reads(item, c.quantity)]
    if len(readable) == 1:
        return _stated(line, readable[0], item, add)
    names = ", ".join(c.name for c in spec.conditions) or "none"
    add(line.problem("condition", repr(item), f"conditions of {spec.name}: {names}", "name the condition, or move it to the note"))
    return None


def _reads(item: str, quantity: Quantity) -> bool:
    try:
        parse_quantity(item, quantity)
    except UnreadableValue:
        return False
    return True


def _stated(line: Line, wanted: ConditionSpec, text: str, add: Callable[[Problem], None]) -> Condition | None:
    if wanted.quantity is None:
        if text.lower() in wanted.words:
            return Condition(name=wanted.name, value=text.lower())
        add(line.problem("condition", f"{wanted.name} {text!r}", "one of " + ", ".join(wanted.words), "use one of these words"))
        return None
    measure = _measure(line, "condition", text, wanted.quantity, None, add)
    return None if measure is None else Condition(name=wanted.name, value=measure.value)


def _evidence(line: Line, add: Callable[[Problem], None]) -> Evidence | None:
    words = line.text("evidence")
    kind = evidence_kind(words)
    if kind is None:
        add(
            line.problem(
                "evidence",
                repr(words) if words else "nothing",
                "how the number is known: own bench, own dyno, own log, maker sheet, shop experience or estimate",
                "say where the number comes from; 'estimate' if nobody knows",
            )
        )
        return None
    date: str | None = None
    if line.text("date"):
        date = date_text(line.cells["date"].value, line.text("date"))
        if date is None:
            add(line.problem("date", repr(line.text("date")), "a date such as 2026-03-02", "write the date as year-month-day"))
            return None
    return Evidence(kind=kind, source=line.source("rating"), detail=words, date=date)


def _meaning(line: Line, add: Callable[[Problem], None]) -> Meaning | None:
    text = line.text("meaning").lower()
    if not text:
        return Meaning.NOMINAL
    for meaning in Meaning:
        if text == meaning.value:
            return meaning
    words = ", ".join(m.value for m in Meaning)
    add(line.problem("meaning", repr(text), f"one of: {words}", "use one of these words"))
    return None


def _spread(line: Line, add: Callable[[Problem], None]) -> float | None:
    text = line.text("spread")
    if not text:
        return 0.0
    measure = _measure(line, "spread", text, Quantity.RATIO, "%", add)
    if measure is None:
        return None
    if not 0.0 <= measure.value <= 1.0:
        add(line.problem("spread", repr(text), "0 to 100 %", "give the relative standard deviation in per cent"))
        return None
    return measure.value


def _plausible(line: Line, spec: RatingSpec, value: float | Curve, add: Callable[[Problem], None]) -> bool:
    low, high = spec.plausible
    numbers = value.y if isinstance(value, Curve) else (value,)
    if all(low <= n <= high for n in numbers):
        return True
    unit = line.text("unit")
    worst = next(n for n in numbers if not low <= n <= high)
    add(
        line.problem(
            "rating",
            f"{line.text('rating')!r} {unit} ({worst:.4g} {spec.quantity.unit})".replace("  ", " "),
            f"{spec.label}: between {low:.4g} and {high:.4g} {spec.quantity.unit}",
            "check the unit and the decimal point",
        )
    )
    return False
