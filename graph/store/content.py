"""What a part says as canonical JSON: what its columns hold, and the hash by which revisions are told apart.

A book repeats its words: each is written once. The text of a part is the one that :func:`json.dumps` gives for its
rows with sorted keys; a test holds the two together.

References
----------
RFC 8259, The JavaScript Object Notation (JSON) Data Interchange Format, 2017.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from json.encoder import encode_basestring_ascii as quoted

from graph.model import Condition, Curve, Part, Rating
from graph.store.record import canonical, curve_body, interface_row, relation_row

NULL = "null"
#: Words that are kept in their quoted form.
MOST_KEPT = 50_000


class Quoted(dict[str, str]):
    """Words to JSON; as long as they are not too many, each is quoted once."""

    def __missing__(self, word: str) -> str:
        """Quote a new word."""
        said = quoted(word)
        if len(self) < MOST_KEPT:
            self[word] = said
        return said

    def or_null(self, word: str | None) -> str:
        """A word, or the sign for none."""
        return NULL if word is None else self[word]


class Canon:
    """Writes parts as canonical JSON, in one run over a book."""

    def __init__(self) -> None:
        self._words = Quoted()
        self._conditions: dict[int, tuple[object, str]] = {}

    def cells(self, cells: Mapping[str, str]) -> str:
        """Cells of a row as read: header to text."""
        words = self._words
        return "{" + ", ".join([f"{words[name]}: {words[text]}" for name, text in cells.items()]) + "}"

    def listed(self, items: Iterable[object]) -> str:
        """A list of words or of rows."""
        found = list(items)
        return canonical(found) if found else "[]"

    def curve(self, value: float | Curve) -> str:
        """Points of a curve; the sign for none where the value is a number."""
        return canonical(curve_body(value)) if isinstance(value, Curve) else NULL

    def conditions(self, conditions: tuple[Condition, ...]) -> str:
        """Conditions of a rating."""
        known = self._conditions.get(id(conditions))
        if known is None:  # the conditions are kept, so that their place is not given to others
            rows = [{"name": c.name, "value": c.value, "assumed": c.assumed} for c in conditions]
            known = self._conditions[id(conditions)] = conditions, canonical(rows)
        return known[1]

    def rating(self, rating: Rating) -> str:
        """One rating."""
        value, evidence, words = rating.value, rating.evidence, self._words
        return (
            f'{{"conditions": {self.conditions(rating.conditions)}, "curve": {self.curve(value)}, '
            f'"evidence_by": {words.or_null(evidence.by)}, "evidence_date": {words.or_null(evidence.date)}, '
            f'"evidence_detail": {words[evidence.detail]}, "evidence_kind": {words[evidence.kind._value_]}, '
            f'"evidence_source": {quoted(evidence.source)}, "meaning": {words[rating.meaning._value_]}, '
            f'"name": {words[rating.name]}, "spread": {_number(rating.spread)}, "text": {quoted(rating.text)}, '
            f'"value": {NULL if isinstance(value, Curve) else _number(value)}}}'
        )

    def part(self, part: Part) -> str:
        """Everything that a part says."""
        words = self._words
        ratings = ", ".join([self.rating(r) for r in part.ratings])
        return (
            f'{{"fits": [{", ".join([words[code] for code in part.fits])}], '
            f'"interfaces": {self.listed(map(interface_row, part.interfaces))}, '
            f'"part": {{"factory": {"true" if part.factory else "false"}, "kind": {words[part.kind]}, '
            f'"labour": {_number(part.labour)}, "lead_time": {_number(part.lead_time)}, '
            f'"maker": {words[part.maker]}, "name": {quoted(part.name)}, "note": {words[part.note]}, '
            f'"part_id": {quoted(part.id)}, "price": {_number(part.price)}, "source": {quoted(part.source)}, '
            f'"stock": {_number(part.stock)}, "tasks": {self.listed(part.tasks)}}}, '
            f'"ratings": [{ratings}], '
            f'"relations": {self.listed(map(relation_row, part.relations))}}}'
        )


def part_content(part: Part, canon: Canon | None = None) -> str:
    """Hash of everything that a part says.

    Parameters
    ----------
    part : Part
        As recorded.
    canon : Canon or None
        Of the run over a book; None for a single part.

    Returns
    -------
    str
        SHA-256 of its canonical JSON.
    """
    return hashlib.sha256((canon or Canon()).part(part).encode("ascii")).hexdigest()


def _number(value: float | None) -> str:
    """A number in canonical JSON; what is none is refused as there."""
    if type(value) is float and value - value == 0.0:  # neither infinite nor no number
        return repr(value)
    return NULL if value is None else canonical(value)
