"""Files that a browser sent: a name for each that stays within its folder, whatever the browser called it."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from pathlib import Path

#: Longest name that is kept [bytes]; every file system in use allows more.
LONGEST = 120
#: Names that are devices on some systems, whatever their ending.
DEVICES = frozenset({"con", "prn", "aux", "nul", *(f"{port}{n}" for port in ("com", "lpt") for n in range(10))})
FORBIDDEN = frozenset('<>:"|?*')


def safe_name(name: str) -> str:
    """Name of a sent file as it may stand in a folder and in the evidence.

    Parameters
    ----------
    name : str
        As the browser states it: with folders, control characters or direction marks, if it likes.

    Returns
    -------
    str
        The last piece of it with its ending, of letters that are seen; never empty, a device or a way out.
    """
    last = name.replace("\\", "/").rstrip("/").rpartition("/")[2]
    seen = "".join(letter for letter in last if unicodedata.category(letter)[0] != "C" and letter not in FORBIDDEN)
    seen = " ".join(seen.split()).strip(". ")
    stem, dot, ending = seen.rpartition(".") if "." in seen else (seen, "", "")
    ending = _cut(ending, LONGEST // 4)
    stem = _cut(stem, LONGEST - len(ending.encode()) - 1).strip(". ") or "file"
    if stem.partition(".")[0].strip().lower() in DEVICES:
        stem = f"file {stem}"
    return f"{stem}{dot}{ending}"


def safe_names(names: Iterable[str]) -> tuple[str, ...]:
    """The same for files that were sent together; no two share a name, in any case of letters.

    Parameters
    ----------
    names : iterable of str
        As the browser states them.

    Returns
    -------
    tuple of str
        One for each, in their order.
    """
    given: dict[str, str] = {}
    for name in map(safe_name, names):
        path, number = Path(name), 1
        free = name
        while free.lower() in given:
            number += 1
            free = f"{path.stem} ({number}){path.suffix}"
        given[free.lower()] = free
    return tuple(given.values())


def _cut(text: str, most: int) -> str:
    return text.encode()[: max(most, 0)].decode(errors="ignore")
