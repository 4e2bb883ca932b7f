"""What the pages and their worker hand each other: what is wanted, a word on the way, what was made."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from graph.plan.wish import Wishes
    from graph.proposal import Terms
    from graph.service import Request


@dataclass(frozen=True, slots=True, kw_only=True)
class News:
    """A word from the worker.

    Parameters
    ----------
    words : str
        The step it is at, or what went wrong.
    best : object
        Best answer so far; None before the first.
    done : bool
        True with the last word.
    failed : bool
        True where the last word is what went wrong.
    """

    words: str
    best: Any = None
    done: bool = False
    failed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Commission:
    """Everything a plan depends on, apart from its power: one bureau serves all powers of it."""

    url: str
    state: str
    car: str
    request: Request
    terms: Terms
    wishes: Wishes


@dataclass(frozen=True, slots=True, kw_only=True)
class Printed:
    """One sheet in both forms."""

    pdf: bytes
    html: bytes
