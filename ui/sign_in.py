"""Who signed in: the shop's identity provider says so through OpenID Connect; on this machine alone nobody has to.

The settings stand in a TOML file of which the page server reads the table ``[auth]`` itself::

    [auth]
    redirect_uri = "https://book.example/oauth2callback"
    cookie_secret = "at least 32 random characters"
    client_id = "..."
    client_secret = "..."
    server_metadata_url = "https://id.example/.well-known/openid-configuration"
"""

from __future__ import annotations

import ipaddress
import os
import time
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from graph.actor import Actor
from graph.errors import UsageError
from ui.local_user import local_actor

SETTINGS = "PINCHPOINT_SIGN_IN"  # names the file
NEEDED = ("redirect_uri", "cookie_secret", "client_id", "client_secret", "server_metadata_url")
CALLBACK = "/oauth2callback"
SHORTEST_SECRET = 32
LONGEST_SESSION = 12 * 3600  # a working day; then the provider is asked again [s]


@dataclass(frozen=True, slots=True, kw_only=True)
class SignIn:
    """How people sign in. What must stay secret is not kept here.

    Parameters
    ----------
    path : Path
        The settings file.
    origin : str
        Address of the pages as a browser names it: ``https://book.example``.
    """

    path: Path
    origin: str

    @property
    def host(self) -> str:
        """Host name of the pages."""
        return urlsplit(self.origin).hostname or ""

    @property
    def encrypted(self) -> bool:
        """True where browsers come by https."""
        return urlsplit(self.origin).scheme == "https"


def is_loopback(host: str) -> bool:
    """True for an address that only this machine reaches."""
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"


def read_sign_in(path: Path) -> SignIn:
    """Read and check the settings.

    Parameters
    ----------
    path : Path
        TOML.

    Returns
    -------
    SignIn
        Without the secrets.

    Raises
    ------
    UsageError
        The file cannot be read, others may read it, or an entry is missing or too weak; no secret is shown.
    """
    try:
        text = path.read_text(encoding="utf-8")
        readable = path.stat().st_mode & 0o077
    except (OSError, UnicodeDecodeError) as error:
        raise UsageError(
            f"{path}: the sign-in settings cannot be read ({type(error).__name__}); check name and rights"
        ) from None
    if os.name == "posix" and readable:
        raise UsageError(f"{path}: other users may read the secrets in it; run: chmod 600 {path}")
    try:
        auth = tomllib.loads(text).get("auth", {})
    except tomllib.TOMLDecodeError:
        raise UsageError(f'{path}: this is no TOML; a line looks like client_id = "..."') from None
    missing = [name for name in NEEDED if not isinstance(auth.get(name), str) or not auth[name]]
    if missing:
        raise UsageError(f"{path}: the table [auth] lacks {', '.join(missing)}")
    if len(auth["cookie_secret"]) < SHORTEST_SECRET:
        raise UsageError(f"{path}: cookie_secret is shorter than {SHORTEST_SECRET} characters; take random ones")
    address = urlsplit(auth["redirect_uri"])
    if address.scheme not in ("http", "https") or not address.hostname or address.path != CALLBACK:
        raise UsageError(f"{path}: redirect_uri is the address of the pages with {CALLBACK} behind it")
    for name in ("redirect_uri", "server_metadata_url"):
        named = urlsplit(auth[name])
        if named.scheme != "https" and not is_loopback(named.hostname or ""):
            raise UsageError(f"{path}: {name} must begin with https:// unless it is on this machine")
    return SignIn(path=path, origin=f"{address.scheme}://{address.netloc}")


def in_force() -> SignIn | None:
    """The settings that the server was started with; None where nobody has to sign in."""
    named = os.environ.get(SETTINGS)
    return read_sign_in(Path(named)) if named else None


def person(claims: Mapping[str, Any], now: float | None = None) -> str | None:
    """Mail address of somebody who signed in.

    Parameters
    ----------
    claims : mapping of str to object
        What the provider says of the person.
    now : float or None
        Seconds since 1970 [s]; None for now.

    Returns
    -------
    str or None
        In lower case; None without a sign-in, without an address, with one that the provider has not verified, or
        after a working day.
    """
    mail = claims.get("email")
    if not claims.get("is_logged_in") or not isinstance(mail, str) or "@" not in mail:
        return None
    if claims.get("email_verified", True) not in (True, "true"):
        return None
    issued = claims.get("iat")
    if not isinstance(issued, int | float) or (time.time() if now is None else now) - issued > LONGEST_SESSION:
        return None
    return mail.strip().lower()


def actor() -> Actor:
    """Who looks at the pages. The roles of somebody who signed in are looked up by the store."""
    if in_force() is None:
        return local_actor("pages")
    import streamlit as st

    return Actor(name=person(dict(st.user)) or "nobody", place=f"pages, {st.context.ip_address or 'this machine'}")
