"""Which part is this: candidates of the book for what can still be read, measured or seen of a part."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from graph.errors import UsageError
from graph.model import Curve, Part

#: Chance that a clue is as seen if this is the part, if the book states otherwise, and if the book is silent
#: (expert judgement: labels are misread, sizes mismeasured) [1].
AGREES, DISAGREES, SILENT = 0.9, 0.05, 0.3
#: Weight of a part of the book that does not state that it fits the car [1].
STRANGER = 0.1
#: Weight of everything that the book does not hold against one part of it [1].
UNLISTED = 0.15
_SIZE = re.compile(r"(\d+(?:[.,]\d+)?)\s*(mm|cm³|cc|bar|A|L/h|g/s)?", re.I)


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """A part that it may be.

    Parameters
    ----------
    part : Part
        Of the book.
    probability : float
        Among the parts of the book and one that it does not hold [1].
    agrees, disagrees : tuple of str
        Clues that fit and that do not.
    tell : str
        What tells it from the next candidate; empty where the book states nothing.
    """

    part: Part
    probability: float
    agrees: tuple[str, ...]
    disagrees: tuple[str, ...]
    tell: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Identified:
    """The answer.

    Parameters
    ----------
    candidates : tuple of Candidate
        The most probable first.
    unlisted : float
        Probability that it is none of the book [1].
    """

    candidates: tuple[Candidate, ...]
    unlisted: float


def identify(
    parts: Iterable[Part],
    *,
    label: str = "",
    ports: Mapping[str, str] | None = None,
    sizes: Collection[str] = (),
    codes: Collection[str] = (),
) -> Identified:
    """Find the parts that fit what is known of one in hand.

    Parameters
    ----------
    parts : iterable of Part
        Parts of one kind.
    label : str
        What can be read of its label; ``?`` for one character that cannot, ``*`` for any number of them.
    ports : mapping of str to str or None
        Connectors, flanges and bores by name, such as ``compressor inlet`` to ``76 mm``.
    sizes : collection of str
        Measured or printed figures, such as ``76 mm``.
    codes : collection of str
        Of the car; a part that does not fit them is less probable, not impossible.

    Returns
    -------
    Identified
        Candidates with what tells them apart.

    Raises
    ------
    UsageError
        Nothing is known of the part.
    """
    words = [w for w in re.split(r"[\s,;]+", label) if re.sub(r"[^0-9a-z]", "", w.lower())]
    if not words and not ports and not sizes:
        raise UsageError("nothing is known of the part; give what its label says, a size or a connector")
    weights: list[tuple[float, Part, list[str], list[str]]] = []
    for part in parts:
        weight = 1.0 if not codes or set(codes) & set(part.fits) else STRANGER
        agrees: list[str] = []
        disagrees: list[str] = []
        for clue, fits in _clues(part, words, ports or {}, sizes):
            weight *= AGREES if fits else SILENT if fits is None else DISAGREES
            if fits is not None:
                (agrees if fits else disagrees).append(clue)
        weights.append((weight, part, agrees, disagrees))
    weights.sort(key=lambda w: (-w[0], w[1].id))
    clues = len(words) + len(ports or {}) + len(sizes)
    rest = UNLISTED * SILENT**clues * max(len(weights), 1)
    total = sum(w[0] for w in weights) + rest
    found = [
        Candidate(
            part=part,
            probability=weight / total,
            agrees=tuple(agrees),
            disagrees=tuple(disagrees),
            tell=_tell(part, weights[1 if k == 0 else 0][1]) if len(weights) > 1 else "",
        )
        for k, (weight, part, agrees, disagrees) in enumerate(weights)
    ]
    return Identified(candidates=tuple(found), unlisted=rest / total)


def _clues(
    part: Part, words: Iterable[str], ports: Mapping[str, str], sizes: Iterable[str]
) -> Iterable[tuple[str, bool | None]]:
    text = _plain(" ".join((part.id, part.maker, part.name)))
    for word in words:
        yield f"label {word!r}", re.search(_pattern(word), text) is not None
    stated = {i.port.lower(): i.type for i in part.interfaces}
    for port, kind in ports.items():
        own = stated.get(port.lower())
        yield f"{port} {kind}", None if own is None else _plain(own) == _plain(kind)
    figures = _figures(part)
    for size in sizes:
        wanted = _SIZE.fullmatch(size.strip())
        if wanted is None:
            raise UsageError(f"size {size!r}: expected is a number with its unit, such as '76 mm'")
        yield f"size {size}", _figure(wanted) in figures


def _plain(text: str) -> str:
    return re.sub(r"[^0-9a-z²³µ.]", "", text.lower())


def _pattern(word: str) -> str:
    """A regular expression of a fragment of a label."""
    kept = re.sub(r"[^0-9a-z²³µ.?*]", "", word.lower())
    return "".join("." if c == "?" else ".*" if c == "*" else re.escape(c) for c in kept)


def _figure(match: re.Match[str]) -> tuple[float, str]:
    return float(match[1].replace(",", ".")), (match[2] or "").lower()


def _figures(part: Part) -> set[tuple[float, str]]:
    """Every figure that the book states of a part, with its unit and without."""
    text = " ".join((part.name, part.note, *(i.type for i in part.interfaces), *(r.text for r in part.ratings)))
    found = {_figure(m) for m in _SIZE.finditer(text)}
    return found | {(value, "") for value, _ in found}


def _tell(part: Part, other: Part) -> str:
    """What the book states differently of two parts, the easiest to see first."""
    theirs = {i.port: i.type for i in other.interfaces}
    said = [
        f"{i.port} {i.type}, on {other.id} {theirs[i.port]}"
        for i in part.interfaces
        if i.port in theirs and theirs[i.port] != i.type
    ]
    said += [f"it has a {i.port} ({i.type}), {other.id} states none" for i in part.interfaces if i.port not in theirs]
    for rating in part.ratings:
        twin = other.rating(rating.name)
        if twin is None or isinstance(rating.value, Curve) or rating.value == twin.value:
            continue
        if rating.text and twin.text:
            own, theirs_too = (re.sub(r" 1$", "", text) for text in (rating.text, twin.text))
            said.append(f"{rating.name} {own}, of {other.id} {theirs_too}")
    return "; ".join(said[:3]) or f"the number on it: {part.id}, not {other.id}"
