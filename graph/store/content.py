"""What a part says as canonical JSON: what its columns hold, and the hash by which revisions are told apart.

A book repeats its words: each is written once. The text of a part is the one that :func:`json.dumps` gives for its
rows with sorted keys; a test holds the two together.

References
----------
RFC 8259, The JavaScript Object Notation (JSON) Data Interchange Format, 2017.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
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


class Figures(dict[float, str]):
    """Finite floats other than zero to JSON; as long as they are not too many, each is written once."""

    def __missing__(self, value: float) -> str:
        """Write a new number; what is none is refused."""
        said = repr(value) if value - value == 0.0 else canonical(value)
        if len(self) < MOST_KEPT:
            self[value] = said
        return said


class Canon:
    """Writes parts as canonical JSON, in one run over a book.

    What many rows or ratings have in common is written once, as a form with gaps for what is their own.
    """

    def __init__(self) -> None:
        self._words = Quoted()
        self._figures = Figures()
        self._conditions: dict[int, tuple[object, str]] = {}
        self._rows: dict[tuple[str, ...], str] = {}
        self._ratings: dict[tuple[str | None, ...], str] = {}

    def cells(self, cells: Mapping[str, str]) -> str:
        """Cells of a row as read: header to text."""
        names = tuple(cells)
        form = self._rows.get(names)
        if form is None:
            form = "{" + ", ".join([f"{_literal(quoted(name))}: %s" for name in names]) + "}"
            if len(self._rows) < MOST_KEPT:
                self._rows[names] = form
        return form % tuple(map(quoted, cells.values()))

    def listed(self, items: Sequence[object]) -> str:
        """A list of words or of rows."""
        return canonical(items) if items else "[]"

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

    def number(self, value: float | None) -> str:
        """A number, or the sign for none."""
        if value and type(value) is float:  # zero has two signs, and a whole number equals a float
            return self._figures[value]
        if value is None:
            return NULL
        return repr(value) if type(value) is int else canonical(value)

    def rating(self, rating: Rating) -> str:
        """One rating."""
        value, evidence = rating.value, rating.evidence
        by, date, detail = evidence.by, evidence.date, evidence.detail
        conditions = self.conditions(rating.conditions)
        said = (conditions, by, date, detail, evidence.kind._value_, rating.meaning._value_, rating.name)
        form = self._ratings.get(said)
        if form is None:
            form = self._rating_form(*said)
            if len(self._ratings) < MOST_KEPT:
                self._ratings[said] = form
        curve, single = (self.curve(value), NULL) if isinstance(value, Curve) else (NULL, self.number(value))
        return form % (curve, quoted(evidence.source), self.number(rating.spread), quoted(rating.text), single)

    def _rating_form(
        self, conditions: str, by: str | None, date: str | None, detail: str, kind: str, meaning: str, name: str
    ) -> str:
        """A rating with gaps for its curve, its source, its spread, its text and its value."""
        words = self._words
        return (
            f'{{"conditions": {_literal(conditions)}, "curve": %s, '
            f'"evidence_by": {_literal(words.or_null(by))}, "evidence_date": {_literal(words.or_null(date))}, '
            f'"evidence_detail": {_literal(words[detail])}, "evidence_kind": {words[kind]}, '
            f'"evidence_source": %s, "meaning": {words[meaning]}, '
            f'"name": {_literal(words[name])}, "spread": %s, "text": %s, "value": %s}}'
        )

    def part(self, part: Part) -> str:
        """Everything that a part says."""
        words, number = self._words, self.number
        return (
            f'{{"fits": [{", ".join([words[code] for code in part.fits])}], '
            f'"interfaces": {self.listed([interface_row(i) for i in part.interfaces])}, '
            f'"part": {{"factory": {"true" if part.factory else "false"}, "kind": {words[part.kind]}, '
            f'"labour": {number(part.labour)}, "lead_time": {number(part.lead_time)}, '
            f'"maker": {words[part.maker]}, "name": {quoted(part.name)}, "note": {words[part.note]}, '
            f'"part_id": {quoted(part.id)}, "price": {number(part.price)}, "source": {quoted(part.source)}, '
            f'"stock": {number(part.stock)}, "tasks": {self.listed(part.tasks)}}}, '
            f'"ratings": [{", ".join(map(self.rating, part.ratings))}], '
            f'"relations": {self.listed([relation_row(r) for r in part.relations])}}}'
        )


def _literal(text: str) -> str:
    """A text that stands in a form as it is."""
    return text.replace("%", "%%")


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
