"""What a part says, field by field in words, and what two revisions of it say differently."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from graph.model import Condition, Curve, Part, Rating

#: Puts an SI value into words: kind of part, rating, condition of it or "" for the rating's own value, the value.
Say = Callable[[str, str, str, float], str]


def bare(kind: str, rating: str, condition: str, value: float) -> str:
    """An SI value without its unit, for whoever knows no kinds of part."""
    del kind, rating, condition
    return f"{value:.6g}"


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldChange:
    """One thing that a part says differently: before and after, None where it was not said."""

    field: str
    before: str | None
    after: str | None


def changes(one: Part, other: Part, say: Say = bare) -> tuple[FieldChange, ...]:
    """What two revisions of a part say differently; where it stands in a sheet does not count."""
    before, after = _said(one, say), _said(other, say)
    return tuple(
        FieldChange(field=name, before=before.get(name), after=after.get(name))
        for name in dict.fromkeys([*before, *after])
        if before.get(name) != after.get(name)
    )


def _said(part: Part, say: Say) -> dict[str, str]:
    """Everything that a part says, in words; where it stands does not count."""
    said = {
        "name": part.name,
        "maker": part.maker,
        "slot": part.kind,
        "fits": "; ".join(part.fits),
        "price": _number(part.price, "EUR"),
        "labour": _number(part.labour and part.labour / 3600.0, "h"),
        "lead time": _number(part.lead_time and part.lead_time / 86400.0, "days"),
        "stock": _number(part.stock, ""),
        "requires": "; ".join(r.text for r in part.relations),
        "tasks": "; ".join(part.tasks),
        "interfaces": "; ".join(f"{i.port}: {i.type}" for i in part.interfaces),
        "note": part.note,
    }
    for rating in part.ratings:
        said[rating.name] = _rating(part.kind, rating, say)
    return {name: text for name, text in said.items() if text}


def _number(value: float | None, unit: str) -> str:
    return "" if value is None else f"{value:.6g} {unit}".strip()


def _rating(kind: str, rating: Rating, say: Say) -> str:
    value = rating.value
    shown = (
        "; ".join(f"{x:.6g}: {y:.6g}" for x, y in zip(value.x, value.y, strict=True))
        if isinstance(value, Curve)
        else say(kind, rating.name, "", value)
    )
    written = rating.text.removesuffix(" 1")  # a sheet's column of units says 1 where there is none
    known = ", ".join(t for t in (rating.evidence.kind.value, rating.evidence.date) if t)
    at = (_condition(kind, rating.name, c, say) for c in rating.conditions)
    return f"{', '.join((written or shown, *at, rating.meaning.value, known))}, ± {rating.spread * 100.0:.3g} %"


def _condition(kind: str, rating: str, condition: Condition, say: Say) -> str:
    found = condition.value
    value = found if isinstance(found, str) else say(kind, rating, condition.name, found)
    return f"{condition.name} {value}" + (" (assumed)" if condition.assumed else "")
