"""The errors of the program: a small tree, each message one sentence that a person can act on.

A verdict ("this pump is too small") is an answer and never an error.
"""

from __future__ import annotations

import difflib

#: Names that a message lists [1].
SHOWN = 12


class PinchpointError(Exception):
    """Base of every foreseen error; the message is fit to be printed as it stands."""


class UsageError(PinchpointError):
    """The question cannot be asked as it stands: an unknown car, a fuel that does not exist."""


class OutOfRange(PinchpointError):
    """A quantity lies outside what the physics or the record allows.

    Parameters
    ----------
    what : str
        The object and the quantity.
    found : str
        What was given, with its unit.
    allowed : str
        What is allowed, with its unit.
    remedy : str
        What to do.
    """

    def __init__(self, what: str, found: str, allowed: str, remedy: str) -> None:
        super().__init__(f"{what}: found {found}, allowed is {allowed}; {remedy}")
        self.what = what
        self.found = found
        self.allowed = allowed
        self.remedy = remedy


class UnknownName(UsageError):
    """A name that is in no list; the message offers the names that are.

    Parameters
    ----------
    what : str
        What kind of name was looked up, such as "car".
    name : str
        The name that was not found.
    known : list of str
        The names that exist; of a long list the message shows the nearest first.
    """

    def __init__(self, what: str, name: str, known: list[str]) -> None:
        near = difflib.get_close_matches(name, known, n=3) if len(known) > SHOWN else []
        listed = [*near, *(n for n in known if n not in near)]
        shown = ", ".join(listed[:SHOWN]) + (f" and {len(known) - SHOWN} more" if len(known) > SHOWN else "")
        super().__init__(f"no {what} is called {name!r}; known: {shown or 'none yet'}")
        self.name = name
        self.known = known


class MissingRecord(PinchpointError):
    """The book lacks something that the question needs, such as a platform's displacement."""


class StoreError(PinchpointError):
    """The database cannot be opened, read or written."""


class NoAddress(StoreError, UsageError):
    """What was given as the address of a database is none."""


class Conflict(PinchpointError):
    """Somebody else changed the record after it was read; nothing was overwritten."""


class NotAllowed(PinchpointError):
    """The person's roles do not cover what was asked; nothing was done."""
