"""What a part says, field by field in words, and what two revisions of it say differently."""

from __future__ import annotations

from dataclasses import dataclass

from graph.model import Condition, Curve, Part, Rating


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldChange:
    """One thing that a part says differently: before and after, None where it was not said."""

    field: str
    before: str | None
    after: str | None


def changes(one: Part, other: Part) -> tuple[FieldChange, ...]:
    """What two revisions of a part say differently; where it stands in a sheet does not count."""
    before, after = _said(one), _said(other)
    return tuple(
        FieldChange(field=name, before=before.get(name), after=after.get(name))
        for name in dict.fromkeys([*before, *after])
        if before.get(name) != after.get(name)
    )


def _said(part: Part) -> dict[str, str]:
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
        said[rating.name] = _rating(rating)
    return {name: text for name, text in said.items() if text}


def _number(value: float | None, unit: str) -> str:
    return "" if value is None else f"{value:.6g} {unit}".strip()


def _rating(rating: Rating) -> str:
    value = rating.value
    shown = (
        "; ".join(f"{x:.6g}: {y:.6g}" for x, y in zip(value.x, value.y, strict=True))
        if isinstance(value, Curve)
        else f"{value:.6g}"
    )
    known = ", ".join(t for t in (rating.evidence.kind.value, rating.evidence.date) if t)
    parts = (rating.text or shown, *map(_condition, rating.conditions), rating.meaning.value, known)
    return f"{', '.join(parts)}, ± {rating.spread * 100.0:.3g} %"


def _condition(condition: Condition) -> str:
    value = condition.value if isinstance(condition.value, str) else f"{condition.value:.6g}"
    return f"{condition.name} {value}" + (" (assumed)" if condition.assumed else "")
