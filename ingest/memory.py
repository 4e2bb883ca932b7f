"""Reading many records without searching for garbage meanwhile."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def uncollected() -> Iterator[None]:
    """Pause the search for cycles of garbage; a context and a decorator.

    Records hold each other in no cycle and live on: the search would look through millions of them again and again and
    find nothing.

    Examples
    --------
    >>> with uncollected():
    ...     gc.isenabled()
    False
    """
    enabled = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if enabled:
            gc.enable()
