"""One rating cell with its unit, condition, meaning, evidence and spread."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import dataclass

from graph.limit import Kind, RatingSpec
from graph.model import Condition, Curve, Evidence, EvidenceKind, Meaning, Rating
from graph.quantity import Quantity
from ingest.condition import read_conditions
from ingest.evidence import read_evidence
from ingest.line import Line, keep, remember
from ingest.numbered import told_by_value
from ingest.problem import Problem, UnreadableValue
from ingest.rating_number import read_number, width_of
from ingest.units import Measure, read_value
from ingest.vocabulary import Vocabulary, plain_word

Add = Callable[[Problem], None]

#: Fields on which hangs what a row says of a rating beside its number.
_BESIDE = ("rating_of", "unit", "condition", "evidence", "date", "meaning", "spread")


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
    types = line.row.types
    beside = (kind.name, line.header.picks[_BESIDE](line.texts), types, text if line.header.numbered else "")
    said: _Said | None = line.header.clean.get(beside)
    if said is not None:
        value, measure = _remembered_number(line, said.spec, (kind.name, said.spec.name, types, text, unit), add)
        if value is None:
            return None
        if measure is None or _is_plain(measure):
            return _rating(line, said, value, text, unit, condition)
    told = (text, unit, types) if line.header.numbered else ()
    spec = remember(line, ("rating of", kind.name, line.text("rating_of"), told), add, rating_spec, kind, words)
    evidence_key = ("evidence", line.text("evidence"), types, line.text("date"))
    if spec is None:
        remember(line, evidence_key, add, read_evidence, words)
        return None
    value, measure = _remembered_number(line, spec, (kind.name, spec.name, types, text, unit), add)
    behind = measure.condition if measure is not None else ""
    condition_key = ("condition", kind.name, spec.name, behind, condition)
    conditions = remember(line, condition_key, add, read_conditions, spec, words, behind)
    evidence = remember(line, evidence_key, add, read_evidence, words)
    least = measure is not None and "at least" in measure.qualifiers
    meaning = remember(line, ("meaning", line.text("meaning"), least), add, _meaning, least, words)
    width = width_of(measure)
    known = None if evidence is None else evidence[0]
    spread_key = ("spread", types, line.text("spread"), known, width)
    spread = remember(line, spread_key, add, _spread, known, width, words)
    if value is None or conditions is None or evidence is None or meaning is None or spread is None:
        return None
    said = _Said(spec=spec, conditions=conditions, evidence=evidence, meaning=meaning, spread=spread)
    if measure is None or _is_plain(measure):
        keep(line, beside, said)
    return _rating(line, said, value, text, unit, condition)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Said:
    """What a row says of a rating beside its number."""

    spec: RatingSpec
    conditions: tuple[Condition, ...]
    evidence: tuple[EvidenceKind, str, str | None]
    meaning: Meaning
    spread: tuple[float, str]


def _is_plain(measure: Measure) -> bool:
    """Whether a number says nothing that its condition, meaning or spread would have to heed."""
    return not (measure.qualifiers or measure.condition)


def _remembered_number(
    line: Line, spec: RatingSpec, key: tuple[Hashable, ...], add: Add
) -> tuple[float | Curve | None, Measure | None]:
    return remember(line, key, add, read_number, spec) or (None, None)


def _rating(line: Line, said: _Said, value: float | Curve, text: str, unit: str, condition: str) -> Rating:
    known, how, since = said.evidence
    stated, note = said.spread
    if unit := unit or line.unit("rating") or "":
        text = f"{text} {unit}"
    return Rating(
        name=said.spec.name,
        value=value,
        evidence=Evidence(
            kind=known,
            source=line.source("rating"),
            detail=f"{how}; {note}" if note else how,
            date=since,
            by=line.word("by") or None,
        ),
        spread=stated,
        meaning=said.meaning,
        conditions=said.conditions,
        text=f"{text} at {condition}" if condition else text,
    )


def rating_spec(line: Line, kind: Kind, words: Vocabulary, add: Add) -> RatingSpec | None:
    """Which rating of the kind a row states; None and a problem where that is not clear."""
    wanted = plain_word(line.text("rating_of")) or plain_word(line.header.rated)
    names = ", ".join(r.name for r in kind.ratings) or "none"
    field = "rating_of" if line.text("rating_of") or not line.header.rated else "rating"
    if not wanted and line.header.numbered:
        return _told(line, kind, names, add)
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


def _told(line: Line, kind: Kind, names: str, add: Add) -> RatingSpec | None:
    """Which rating one of several cells side by side states, as its number and unit tell."""
    told = told_by_value(line, kind)
    required = [spec for spec in told if spec.required]
    if len(told) == 1 or len(required) == 1:
        return (required or list(told))[0]
    add(
        line.problem(
            "rating",
            f"{line.text('rating')!r}, and not what it rates",
            "one of: " + (", ".join(spec.name for spec in told) or names),
            "give its unit, or head a column 'Rating of' with the same number and say what is rated",
        )
    )
    return None


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
