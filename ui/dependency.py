"""What the program runs on: every library that comes with it, with version and licence, from what is installed."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from importlib.metadata import Distribution, PackageNotFoundError, distribution

from packaging.requirements import Requirement

PROGRAM = "pinchpoint"


@dataclass(frozen=True, slots=True, kw_only=True)
class Dependency:
    """One library.

    Parameters
    ----------
    name, version : str
        As installed.
    licence : str
        As its makers state it: an SPDX expression where they give one.
    needed_by : str
        The first that needs it.
    """

    name: str
    version: str
    licence: str
    needed_by: str


def dependencies(wanted: Iterable[str] | None = None) -> tuple[Dependency, ...]:
    """Libraries that a plain installation brings, without extras of the program.

    Parameters
    ----------
    wanted : iterable of str or None
        Requirements to start from, as a project states them; None for those of the installed program.

    Returns
    -------
    tuple of Dependency
        In the order of their names.
    """
    start = _needed(PROGRAM, frozenset()) if wanted is None else [Requirement(text) for text in wanted]
    found: dict[str, Dependency] = {}
    waiting = [(PROGRAM, requirement) for requirement in start]
    seen: set[tuple[str, frozenset[str]]] = set()
    while waiting:
        needed_by, requirement = waiting.pop(0)
        name, extras = _plain(requirement.name), frozenset(requirement.extras)
        if (name, extras) in seen:
            continue
        seen.add((name, extras))
        try:
            installed = distribution(requirement.name)
        except PackageNotFoundError:  # for another system or an older Python
            continue
        if name not in found:
            found[name] = Dependency(
                name=name, version=installed.version, licence=_licence(installed), needed_by=needed_by
            )
        waiting += [(name, further) for further in _needed(name, extras)]
    return tuple(found[name] for name in sorted(found))


def _needed(name: str, extras: frozenset[str]) -> list[Requirement]:
    listed = [Requirement(text) for text in distribution(name).requires or ()]
    settings = [{"extra": extra} for extra in extras or {""}]
    return [r for r in listed if r.marker is None or any(r.marker.evaluate(s) for s in settings)]


def _plain(name: str) -> str:
    return re.sub(r"[-_.]+", "-", name).lower()


def _licence(installed: Distribution) -> str:
    """Licence as stated: the expression, else the classifiers, else the first line of the text."""
    facts = installed.metadata
    if "License-Expression" in facts:
        return str(facts["License-Expression"])
    classifiers = [c.rpartition(" :: ")[2] for c in facts.get_all("Classifier") or () if c.startswith("License ::")]
    if classifiers and classifiers != ["OSI Approved"]:
        return "; ".join(classifiers)
    lines = str(facts["License"]).strip().splitlines() if "License" in facts else []
    return lines[0] if lines else "not stated"
