"""Who sits at this machine, where no sign-in says so."""

from __future__ import annotations

import getpass
import os
import socket
from dataclasses import replace

from graph.actor import LOCAL, Actor


def local_user() -> str:
    """Name of the user that runs the program; a container's user may have none."""
    try:
        return getpass.getuser()
    except (OSError, KeyError, ImportError):
        return f"user {os.getuid()}" if hasattr(os, "getuid") else "unnamed user"


def local_actor(way_in: str) -> Actor:
    """The user of this machine, who may do what the rights of the database's file or account let them.

    Parameters
    ----------
    way_in : str
        ``command line`` or ``pages``.

    Returns
    -------
    Actor
        With every role.
    """
    return replace(LOCAL, place=f"{way_in} on {socket.gethostname()}")
