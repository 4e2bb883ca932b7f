"""Conditions of a rating: named (``voltage 13.2 V``), or told by their quantity (``@ 5.5 bar, 13.2 V``)."""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import lru_cache

from graph.limit import ConditionSpec, RatingSpec
from graph.model import Condition
from graph.quantity import Quantity
from ingest.line import Line
from ingest.problem import Problem, UnreadableValue
from ingest.units import Measure, parse_quantity
from ingest.vocabulary import Vocabulary, plain_word

_EXAMPLES = "write it as 'name value unit', several parted by ';'"


def read_conditions(
    line: Line, spec: RatingSpec, words: Vocabulary, behind: str, add: Callable[[Problem], None]
) -> tuple[Condition, ...] | None:
    """Read the conditions of a rating and fill in what the sheet does not say.

    Parameters
    ----------
    line : Line
        A data row.
    spec : RatingSpec
        The rating.
    words : Vocabulary
        Names of conditions in other languages.
    behind : str
        What stands behind ``@`` in the rating's own cell.
    add : callable
        Takes every defect found.

    Returns
    -------
    tuple of Condition or None
        In the order of the rating's specification [SI]; those that were assumed are marked. None where a condition
        cannot be read, or is missing and the rating cannot be used without it.
    """
    found: dict[str, Condition] = {}
    usable = True
    for field, text in (("rating", behind), ("condition", line.text("condition"))):
        for clause in _clauses(text):
            condition = _read(line, field, clause, spec, words, add)
            if condition is not None and condition.name in found:
                add(
                    line.problem(
                        field, f"{clause!r}, {condition.name} again", "each condition once", "remove one of them"
                    )
                )
                condition = None
            if condition is None:
                usable = False
            else:
                found[condition.name] = condition
    for wanted in spec.conditions:
        if wanted.name in found:
            continue
        if wanted.default is not None:
            found[wanted.name] = Condition(name=wanted.name, value=_default(wanted), assumed=True)
        elif wanted.required and usable:
            add(
                line.problem(
                    "condition",
                    repr(line.text("condition")) if line.text("condition") else "nothing",
                    f"the condition {wanted.name!r}, without which {spec.name} cannot be used",
                    f"write '{wanted.name}' with its value and unit",
                )
            )
            usable = False
    return tuple(found[c.name] for c in spec.conditions if c.name in found) if usable else None


def _clauses(text: str) -> list[str]:
    pieces = re.split(r"[;\n]|,(?=\s)", text.strip().lstrip("@"))
    return [piece.strip() for piece in pieces if piece.strip()]


def _default(wanted: ConditionSpec) -> float | str:
    """The kind's default; that of a quantity is a number however the kind writes it."""
    assert wanted.default is not None
    return wanted.default if wanted.quantity is None else float(wanted.default)


def _read(
    line: Line, field: str, clause: str, spec: RatingSpec, words: Vocabulary, add: Callable[[Problem], None]
) -> Condition | None:
    named = _named(clause, spec, words)
    if named is not None:
        wanted, rest = named
        if wanted.quantity is None:
            if plain_word(rest) in map(plain_word, wanted.words):
                return Condition(name=wanted.name, value=_word(rest, wanted))
            add(
                line.problem(
                    field, repr(clause), f"{wanted.name}: one of {', '.join(wanted.words)}", "use one of these words"
                )
            )
            return None
        try:
            measure = parse_condition(rest, wanted.quantity)
        except UnreadableValue as defect:
            add(line.problem(field, f"{wanted.name}: {defect.found}", defect.expected, defect.remedy))
            return None
        return Condition(name=wanted.name, value=measure.value)
    for wanted in spec.conditions:
        if wanted.quantity is None and plain_word(clause) in map(plain_word, wanted.words):
            return Condition(name=wanted.name, value=_word(clause, wanted))
    readable = [
        (c, m) for c in spec.conditions if c.quantity is not None and (m := _try(clause, c.quantity)) is not None
    ]
    if len(readable) == 1:
        return Condition(name=readable[0][0].name, value=readable[0][1].value)
    names = ", ".join(c.name for c, _ in readable) or ", ".join(c.name for c in spec.conditions) or "none"
    expected = (
        f"one condition of {spec.name}; it may be {names}" if readable else f"a condition of {spec.name}: {names}"
    )
    add(line.problem(field, repr(clause), expected, _EXAMPLES + ", or move it to the note"))
    return None


def _named(clause: str, spec: RatingSpec, words: Vocabulary) -> tuple[ConditionSpec, str] | None:
    """The condition whose name opens the clause, the longest one, and what stands behind it."""
    by_name = {c.name: c for c in spec.conditions}
    openings = {plain_word(name): name for name in by_name}
    openings.update((word, name) for word, name in words.words["condition"].items() if name in by_name)
    for cut in sorted((m.start() for m in re.finditer(r"[\s=:]|$", clause)), reverse=True):
        name = openings.get(plain_word(clause[:cut]))
        if name is not None:
            return by_name[name], clause[cut:].strip(" \u00a0=:")
    return None


def _word(text: str, wanted: ConditionSpec) -> str:
    return next(w for w in wanted.words if plain_word(w) == plain_word(text))


@lru_cache(maxsize=8192)  # a book repeats its words
def parse_condition(text: str, quantity: Quantity) -> Measure:
    """Read the value of a condition: one number, without a bound or a range.

    A bar without ``abs`` or ``gauge`` is what the condition is defined as; a ratio may stand bare.

    Parameters
    ----------
    text : str
        Such as ``13.2 V``.
    quantity : Quantity
        What is stated.

    Returns
    -------
    Measure
        [SI]

    Raises
    ------
    UnreadableValue
        When the text has no certain reading as one number.

    Examples
    --------
    >>> parse_condition("8.0 1", Quantity.RATIO).value
    8.0
    """
    declared = None
    if quantity is Quantity.RATIO:
        text, declared = re.sub(r"\s+1$", "", text.strip()), "1"
    measure = parse_quantity(text, quantity, declared_unit=declared)
    if measure.qualifiers or measure.condition:
        raise UnreadableValue(
            f"{text!r}, not one plain number", f"one {quantity.label}", "write one number with its unit"
        )
    return measure


def _try(clause: str, quantity: Quantity) -> Measure | None:
    try:
        return parse_condition(clause, quantity) if quantity is not Quantity.RATIO else parse_quantity(clause, quantity)
    except UnreadableValue:
        return None
