"""The words that sheets use, English and German, and what each means; a shop adds its own in a file.

The words stand in ``vocabulary.toml`` beside this module, so that a new spelling of a column needs no programming.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache, lru_cache
from pathlib import Path
from types import MappingProxyType
from typing import Any

from graph.errors import UsageError
from ingest.spelling import normalise_text

BUILT_IN = Path(__file__).with_name("vocabulary.toml")
_UMLAUTS = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue", "ß": "ss"})


@lru_cache(maxsize=8192)  # a book repeats its words
def plain_word(text: str) -> str:
    """Return a word or header in the form in which it is looked up.

    Parameters
    ----------
    text : str
        As written.

    Returns
    -------
    str
        Lower case, umlauts written out, hyphens and underscores as spaces, single spaces, no full stop or colon
        at the end.

    Examples
    --------
    >>> plain_word(" High-Pressure  Pump: ")
    'high pressure pump'
    >>> plain_word("Größe")
    'groesse'
    """
    text = normalise_text(text).replace("\u00a0", " ").casefold().translate(_UMLAUTS)
    text = re.sub(r"(?<=\w)[-_‐–](?=\w)", " ", text)
    return re.sub(r"\s+", " ", text).strip().rstrip(".:").strip()


@dataclass(frozen=True, slots=True, kw_only=True)
class Vocabulary:
    """Every word that a sheet may use.

    Parameters
    ----------
    header : mapping of str to mapping of str to str
        For each kind of table: plain header -> field.
    words : mapping of str to mapping of str to str
        For each list (``evidence``, ``meaning``, ``belief``, ``rating``, ``condition``, ``property``, ``clause``,
        ``word``): plain word -> meaning.
    spread : mapping of str to float
        Assumed relative standard deviation for each kind of evidence [1].
    """

    header: Mapping[str, Mapping[str, str]]
    words: Mapping[str, Mapping[str, str]]
    spread: Mapping[str, float]

    def meaning(self, group: str, text: str) -> str | None:
        """What a word means in a list, or None where the list does not hold it.

        Parameters
        ----------
        group : str
            Name of the list.
        text : str
            As written.

        Returns
        -------
        str or None
            The program's word.
        """
        return self.words[group].get(plain_word(text))

    def known(self, group: str) -> list[str]:
        """The program's words of a list, in the order of the file."""
        return list(dict.fromkeys(self.words[group].values()))


@cache
def read_vocabulary(extra: Path | None = None) -> Vocabulary:
    """Read the built-in words and, where there are any, a shop's own.

    Parameters
    ----------
    extra : Path or None
        A file of the form of ``vocabulary.toml`` that adds words or changes an assumed spread.

    Returns
    -------
    Vocabulary
        Both together.

    Raises
    ------
    UsageError
        The file cannot be read, names a table or field that does not exist, or gives a word a second meaning.
    """
    built_in = tomllib.loads(BUILT_IN.read_text(encoding="utf-8"))
    layers = [built_in]
    if extra is not None:
        try:
            layers.append(tomllib.loads(extra.read_text(encoding="utf-8")))
        except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
            raise UsageError(f"the list of words {extra.name} cannot be read: {error}") from None
    header: dict[str, dict[str, str]] = {name: {} for name in built_in["header"]}
    words: dict[str, dict[str, str]] = {name: {} for name in built_in if name not in ("header", "spread")}
    spread: dict[str, float] = {}
    for layer in layers:
        for name, table in layer.items():
            if name == "header":
                for sheet, fields in table.items():
                    _require(sheet, built_in["header"], "table", "header")
                    _add(header[sheet], fields, built_in["header"][sheet], f"header.{sheet}")
            elif name == "spread":
                for kind, percent in table.items():
                    _require(kind, built_in["spread"], "kind of evidence", "spread")
                    if not isinstance(percent, int | float) or not 0 <= percent <= 60:
                        raise UsageError(f"[spread] {kind}: found {percent!r}, allowed is 0 to 60 percent")
                    spread[kind] = percent / 100.0
            else:
                _require(name, built_in, "table", "the file")
                known = None if name in ("rating", "condition", "property") else built_in[name]
                _add(words[name], table, known, name)
    for name in words:
        if name not in ("clause", "word"):
            for meaning in list(dict.fromkeys(words[name].values())):
                words[name].setdefault(plain_word(meaning), meaning)
    return Vocabulary(
        header=MappingProxyType({n: MappingProxyType(t) for n, t in header.items()}),
        words=MappingProxyType({n: MappingProxyType(t) for n, t in words.items()}),
        spread=MappingProxyType(spread),
    )


def _require(name: str, known: Mapping[str, Any], what: str, where: str) -> None:
    if name not in known:
        raise UsageError(f"[{where}] has no {what} {name!r}; known: {', '.join(known)}")


def _add(target: dict[str, str], table: Mapping[str, Any], known: Mapping[str, Any] | None, where: str) -> None:
    """Add words to a list; a word with two meanings is refused."""
    for meaning, spellings in table.items():
        if known is not None:
            _require(meaning, known, "entry", where)
        if not isinstance(spellings, list) or not all(isinstance(s, str) for s in spellings):
            raise UsageError(f"[{where}] {meaning}: found {spellings!r}, expected a list of words in quotation marks")
        for spelling in spellings:
            word = plain_word(spelling)
            if target.setdefault(word, meaning) != meaning:
                raise UsageError(f"[{where}] {spelling!r} means {target[word]!r} already, it cannot mean {meaning!r}")
