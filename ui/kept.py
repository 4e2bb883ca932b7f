"""Finished frontiers kept on disk, one file for a car, a book, a day, a policy, wishes and a step."""

from __future__ import annotations

import hashlib
import json
import os
import tempfile
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import asdict
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from graph.plan.record import Point
    from graph.proposal import Bureau

#: Most files kept; the oldest go first.
MOST = 60
#: Age at which a half-written file is nobody's [s].
ABANDONED = 3600.0


def frontier(
    bureau: Bureau, stride: float, said: Callable[[Point], None], folder: Path | None = None
) -> tuple[Point, ...]:
    """Money against power, from disk where it was found before.

    Parameters
    ----------
    bureau : Bureau
        The car and the book.
    stride : float
        Step of the powers [W].
    said : callable
        Called with every point.
    folder : Path or None
        Where the files are; None for the user's cache.

    Returns
    -------
    tuple of Point
        As the search gives them.
    """
    from graph import sweep

    return looked_up(f"{bureau.fingerprint} {stride!r}", lambda: sweep.frontier(bureau, stride, said), said, folder)


def looked_up(
    asked: str,
    find: Callable[[], tuple[Point, ...]],
    said: Callable[[Point], None],
    folder: Path | None = None,
) -> tuple[Point, ...]:
    """Points from disk, or found and written there if every one of them is proven.

    Parameters
    ----------
    asked : str
        All that the points depend on besides the program.
    find : callable
        Finds them.
    said : callable
        Called with every point that is read from disk.
    folder : Path or None
        Where the files are; None for the user's cache.

    Returns
    -------
    tuple of Point
        A file that cannot be read, or that another version of the program wrote, is not used.
    """
    name = hashlib.sha256(f"{_program()} {asked}".encode()).hexdigest()
    path = (folder or _folder()) / f"{name}.json"
    known = _read(path)
    if known is not None:
        for point in known:
            said(point)
        return known
    points = find()
    if all(point.proven for point in points):
        with suppress(OSError):
            text = json.dumps([asdict(point) for point in points])
            _write(path, f"{_digest(text)}\n{text}")
    return points


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


def _read(path: Path) -> tuple[Point, ...] | None:
    """Points of a file; None where there is none, or where it is not letter for letter what was written."""
    from graph.plan.record import Point

    with suppress(OSError, ValueError, TypeError):
        digest, _, text = path.read_text("utf-8").partition("\n")
        if digest == _digest(text):
            return tuple(Point(**{**row, "parts": tuple(row["parts"])}) for row in json.loads(text))
    return None


def _folder() -> Path:
    from platformdirs import user_cache_path

    return user_cache_path("pinchpoint") / "frontiers"


@cache
def _program() -> str:
    """A digest of all that works an answer out."""
    import graph

    found = hashlib.sha256()
    for file in sorted(Path(str(graph.__file__)).parent.rglob("*.py")):
        found.update(file.read_bytes())
    return found.hexdigest()


def _write(path: Path, text: str) -> None:
    """Write a file whole or not at all, and let the oldest go, with what a killed program left half-written."""
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(dir=path.parent, suffix=".part")
    try:
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            file.write(text)
        Path(name).replace(path)
    finally:
        Path(name).unlink(missing_ok=True)
    for part in path.parent.glob("*.part"):
        if time.time() - part.stat().st_mtime > ABANDONED:
            part.unlink(missing_ok=True)
    there = sorted(path.parent.glob("*.json"), key=lambda p: p.stat().st_mtime)
    for old in there[: max(0, len(there) - MOST)]:
        old.unlink(missing_ok=True)
