"""Questions with a name: what a parts-keeper asks of the book, each row with its evidence."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from graph.errors import UnknownName
from graph.kinds import discover
from graph.limit import Kind, RatingSpec
from graph.model import Curve, Meaning, Part, Rating
from graph.projection import walk
from graph.projection.answer import Answer, Cell
from graph.projection.facts import Facts
from graph.projection.network import build_network


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """A question with a name.

    Parameters
    ----------
    arguments : tuple of str
        What must be given, in order; those in brackets may be left out.
    asks : str
        The question in one sentence.
    """

    arguments: tuple[str, ...]
    asks: str


QUESTIONS: Mapping[str, Question] = MappingProxyType(
    {
        "fits-slot-and-carries": Question(
            arguments=("SLOT", "AMOUNT", "[CODE]", "[RATING]"), asks="Which parts for this place carry this much?"
        ),
        "pulls-along": Question(arguments=("PART",), asks="What does this part bring along?"),
        "why-needed": Question(arguments=("PART", "FOR"), asks="Why does the other part need this one?"),
        "no-usable-rating": Question(arguments=(), asks="Which parts and rows cannot be used, and why?"),
        "breaks-if-withdrawn": Question(
            arguments=("PART",), asks="What stands without support if this part can no longer be had?"
        ),
        "goes-in-circles": Question(arguments=(), asks="Which statements of parts lead back to where they began?"),
        "hangs-in-the-air": Question(arguments=(), asks="Which parts fit nothing, or are named and not in the book?"),
    }
)


def rated_by(kind: Kind, name: str | None = None) -> RatingSpec:
    """The rating by which parts of a kind are compared: the one named, else the first that a limit rests on.

    Parameters
    ----------
    kind : Kind
        Part kind.
    name : str or None
        Name of a rating.

    Returns
    -------
    RatingSpec
        Its specification.

    Raises
    ------
    UnknownName
        The kind has no such rating, or none at all.
    """
    ratings = {s.name: s for s in kind.ratings}
    wanted = name if name is not None else next((r.rating for r in kind.limits if r.rating in ratings), None)
    if wanted is None and ratings:
        wanted = next(iter(ratings))
    if wanted is None or wanted not in ratings:
        raise UnknownName(f"rating of a {kind.label}", wanted or "", list(ratings))
    return ratings[wanted]


def fits_slot_and_carries(
    facts: Facts, kind: Kind, at_least: float, *, code: str | None = None, rating: str | None = None
) -> Answer:
    """Parts of a kind whose rating reaches an amount, those with the least in hand first.

    Parameters
    ----------
    facts : Facts
        The book.
    kind : Kind
        What the place takes.
    at_least : float
        What must be carried [SI unit of the rating]; for a rating that is a lower bound, what it must not exceed.
    code : str or None
        Platform, engine or gearbox code that the part must fit.
    rating : str or None
        Name of the rating; None for :func:`rated_by`.

    Returns
    -------
    Answer
        A number that says where a part failed carries nothing. A curve counts with its worst point.

    Raises
    ------
    UnknownName
        No such rating, or no platform has the code.
    """
    spec = rated_by(kind, rating)
    known = sorted({c for p in facts.platforms for c in (p.id, *p.codes)} | {c for p in facts.parts for c in p.fits})
    if code is not None and code not in known:
        raise UnknownName("code", code, known)
    codes = {code}
    for platform in facts.platforms:
        if code == platform.id:
            codes |= set(platform.codes)
    rows: list[tuple[float, tuple[Cell, ...]]] = []
    for part in facts.parts:
        stated = part.rating(spec.name)
        if part.kind != kind.name or stated is None or (code is not None and not codes & set(part.fits)):
            continue
        worst = _worst(stated, spec)
        carries = worst <= at_least if spec.lower_bound else worst >= at_least
        if carries and stated.meaning is not Meaning.FAILED:
            assumed = ", ".join(c.name for c in stated.conditions if c.assumed) or None
            row = (part.id, part.name, spec.name, worst, stated.text, assumed, part.price, part.stock)
            rows.append((worst, (*row, *_evidence(stated))))
    rows.sort(key=lambda r: (-r[0] if spec.lower_bound else r[0], str(r[1][0])))
    columns = ("part", "name", "rating", f"value [{spec.quantity.unit}]", "as written", "assumed", "price [EUR]",
               "stock", "known by", "evidence")  # fmt: skip
    return Answer(question="fits-slot-and-carries", columns=columns, rows=tuple(row for _, row in rows))


def _worst(rating: Rating, spec: RatingSpec) -> float:
    if isinstance(rating.value, Curve):
        return max(rating.value.y) if spec.lower_bound else min(rating.value.y)
    return rating.value


def _evidence(rating: Rating) -> tuple[Cell, Cell]:
    return rating.evidence.kind.value, rating.evidence.source


def pulls_along(facts: Facts, part: str) -> Answer:
    """What a part brings along, followed to the end, with the requirement that brings it."""
    return _steps("pulls-along", facts, walk.cascade(build_network(facts), part))


def why_needed(facts: Facts, part: str, wanted: str) -> Answer:
    """The chain of requirements by which `wanted` needs `part`; no rows where it does not."""
    return _steps("why-needed", facts, walk.why_needed(build_network(facts), part, wanted))


def _steps(question: str, facts: Facts, steps: tuple[walk.Step, ...]) -> Answer:
    rows = []
    for step in steps:
        needed = facts.part(step.needs)
        name = "not in the book" if needed is None else needed.name
        price = None if needed is None else needed.price
        rows.append((step.part, step.needs, name, price, step.text, ", ".join(step.instead) or None, step.source))
    columns = ("part", "needs", "name", "price [EUR]", "because", "or instead", "evidence")
    return Answer(question=question, columns=columns, rows=tuple(rows))


def no_usable_rating(facts: Facts) -> Answer:
    """Parts that cannot be judged and rows that were held back, each with the reason."""
    rows: list[tuple[Cell, ...]] = []
    for part in facts.parts:
        rows.extend(("part", part.id, why, part.source) for why in unusable(part))
    rows.extend(("row", held.begins, held.why, held.source) for held in facts.held)
    return Answer(question="no-usable-rating", columns=("what", "part", "why", "evidence"), rows=tuple(rows))


def unusable(part: Part) -> list[str]:
    """Why a part cannot be judged; empty where it can."""
    kind = discover().get(part.kind)
    if kind is None:
        return [f"{part.kind} is no part kind of this program"]
    why = [] if part.fits else ["it fits nothing"]
    for spec in kind.ratings:
        rating = part.rating(spec.name)
        if rating is None:
            if spec.required and spec.default is None:
                why.append(f"states no {spec.name}: {spec.label}")
            continue
        why.extend(
            f"its {spec.name} cannot be used without the condition {condition.name}"
            for condition in spec.conditions
            if condition.required and rating.condition(condition.name) is None
        )
        if rating.meaning is Meaning.FAILED and spec.required:
            why.append(f"its {spec.name} is where one failed, not what it carries")
    return why


def breaks_if_withdrawn(facts: Facts, part: str) -> Answer:
    """What stands without support once a part can no longer be had."""
    return _findings("breaks-if-withdrawn", walk.breaks_if_withdrawn(build_network(facts), part))


def hangs_in_the_air(facts: Facts) -> Answer:
    """Parts that fit nothing, parts that are named and not in the book, requirements that nothing meets."""
    return _findings("hangs-in-the-air", walk.orphans(build_network(facts, kinds={})))


def _findings(question: str, found: tuple[walk.Finding, ...]) -> Answer:
    rows = tuple((f.what, f.name, f.why, f.source) for f in found)
    return Answer(question=question, columns=("what", "name", "why", "evidence"), rows=rows)


def goes_in_circles(facts: Facts) -> Answer:
    """Statements of parts that lead back to where they began."""
    rows = []
    for circle in walk.cycles(build_network(facts)):
        first = facts.part(circle.parts[0])
        source = "" if first is None else first.source
        rows.append((circle.kind.value, ", ".join(circle.parts), circle.sentence, source))
    columns = ("statement", "parts", "meaning", "evidence")
    return Answer(question="goes-in-circles", columns=columns, rows=tuple(rows))
