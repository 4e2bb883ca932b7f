"""What answering a query may use: time, memory, and the length of the texts that its functions make.

A few lines of SPARQL can double a text forty times or pair every row with every other. The meter stops both; it looks
at the clock and at the memory of the process while the query walks the graph and calls its functions.
"""

from __future__ import annotations

import contextlib
import os
import re
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from rdflib import Literal
from rdflib.plugins.sparql.evalutils import _eval
from rdflib.plugins.sparql.parserutils import CompValue, Expr

#: Longest text that a function may give, and longest that joining rows may give [1].
LONGEST_TEXT = 20_000
LONGEST_JOIN = 10_000_000
#: Most memory that answering may take on top of what the process holds [bytes].
MOST_MEMORY = 400 << 20
#: Longest text that a pattern is held against outside the main thread [1].
PATTERN_TEXT = 500
_REPEAT = re.compile(r"[*+{]")
_REPEATED_GROUP = re.compile(r"\)[*+{]")
_EVERY = 256
_HELD = Path("/proc/self/statm")


class Stopped(BaseException):
    """A limit is reached; no handler of errors on the way may take it for one."""

    def __init__(self, why: str) -> None:
        super().__init__(why)
        self.why = why


class Meter:
    """Counts for one query.

    Parameters
    ----------
    seconds : float
        Longest time [s].
    """

    def __init__(self, seconds: float) -> None:
        self.seconds = seconds
        self.end = time.monotonic() + seconds
        self.before = held()
        self.steps = self.joined = 0

    def step(self) -> None:
        """Count a step; every so often look at the clock and the memory.

        Raises
        ------
        Stopped
            There is no more of one of them.
        """
        self.steps += 1
        if self.steps % 64 == 0 and time.monotonic() > self.end:
            self.late()
        if self.steps % _EVERY == 0 and held() - self.before > MOST_MEMORY:
            raise Stopped(f"needs more than {MOST_MEMORY >> 20} MB of memory")

    def late(self) -> None:
        """Stop because the time is up.

        Raises
        ------
        Stopped
            Always.
        """
        raise Stopped(f"took more than {self.seconds:g} s")

    def attach(self, part: CompValue) -> None:
        """Measure the functions of a prepared query.

        Parameters
        ----------
        part : CompValue
            One node of its algebra; is changed.
        """
        if (
            part.name in ("Builtin_REGEX", "Builtin_REPLACE")
            and threading.current_thread() is not threading.main_thread()
        ):
            part._evalfn = self._simple(part, part._evalfn)
        if isinstance(part, Expr) and part._evalfn is not None:
            part._evalfn = self._measured(part._evalfn)  # type: ignore[assignment]
        if part.name == "Aggregate_GroupConcat":
            part["vars"] = Expr("Joined", self._counted(part["vars"]))

    def _measured(self, function: Callable[[Any], Any]) -> Callable[[Any], Any]:
        def call(context: Any) -> Any:
            self.step()
            found = function(context)
            if isinstance(found, Literal) and len(found) > LONGEST_TEXT:
                raise Stopped(f"makes a text of more than {LONGEST_TEXT} letters")
            return found

        return call

    def _simple(self, part: CompValue, function: Callable[[Any], Any]) -> Callable[[Any], Any]:
        """A pattern cannot be stopped outside the main thread: only one that ends soon is begun there."""

        def call(context: Any) -> Any:
            pattern, text = (
                str(_eval(part.pattern, context)),
                str(_eval(part["text" if "text" in part else "arg"], context)),
            )
            if len(text) > PATTERN_TEXT or _REPEATED_GROUP.search(pattern) or len(_REPEAT.findall(pattern)) > 2:
                raise Stopped("has a pattern that may take for ever")
            return function(context)

        return call

    def _counted(self, joined: Any) -> Callable[[Any, Any], Any]:
        def call(_: Any, context: Any) -> Any:
            self.step()
            found = _eval(joined, context)
            self.joined += len(str(found)) + 1
            if self.joined > LONGEST_JOIN:
                raise Stopped(f"joins more than {LONGEST_JOIN} letters")
            return found

        return call


def held() -> int:
    """Memory that the process holds now [bytes]; 0 where the system does not tell."""
    with contextlib.suppress(OSError, ValueError, IndexError):
        return int(_HELD.read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE")
    return 0
