"""The book as somebody looks a part up: the words of every part, made once for each state of the data."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from graph.model import Part


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Index:
    """Parts with their words.

    Parameters
    ----------
    lines : tuple of (Part, str)
        Each part with its number, name, maker, kind and ratings in lower case.
    kinds, codes : tuple of str
        Kinds and platform codes that occur.
    """

    lines: tuple[tuple[Part, str], ...]
    kinds: tuple[str, ...]
    codes: tuple[str, ...]

    def find(self, wanted: Sequence[str], kind: str, code: str, *, most: int) -> tuple[list[Part], int]:
        """The first parts that hold every word, and how many there are.

        Parameters
        ----------
        wanted : sequence of str
            Words or pieces of words, in lower case.
        kind, code : str
            Kind of part and platform code; empty for any.
        most : int
            So many parts are given [1].

        Returns
        -------
        found : list of Part
            In the order of the book.
        count : int
            Of all that match [1].
        """
        found = [
            part
            for part, words in self.lines
            if (not kind or part.kind == kind)
            and (not code or code in part.fits)
            and all(word in words for word in wanted)
        ]
        return found[:most], len(found)


def index_of(parts: Iterable[Part]) -> Index:
    """The index of some parts.

    Parameters
    ----------
    parts : iterable of Part
        Of the book.

    Returns
    -------
    Index
        In their order.
    """
    kept = tuple(parts)
    return Index(
        lines=tuple((p, _words(p)) for p in kept),
        kinds=tuple(sorted({p.kind for p in kept})),
        codes=tuple(sorted({code for p in kept for code in p.fits})),
    )


def _words(part: Part) -> str:
    return " ".join((part.id, part.name, part.maker, part.kind, *(r.text for r in part.ratings))).lower()
