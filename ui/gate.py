"""What stands before every page, download, upload and websocket: who may not enter gets nothing, whatever they ask for."""

from __future__ import annotations

import html
import json
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import HTTPConnection
from starlette.responses import HTMLResponse, PlainTextResponse, Response

from ui.sign_in import CALLBACK, SignIn, is_loopback, person

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

COOKIE = "_streamlit_user"
#: What answers before the sign-in: whether the server lives, and the way to the provider and back.
OPEN = ("/health", "/_stcore/health", "/auth/login", "/auth/logout", CALLBACK)
PROTECTION = {
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "content-security-policy": "frame-ancestors 'none'",
    "referrer-policy": "same-origin",
}
_PAGE = """<!doctype html><html lang="en"><meta charset="utf-8"><title>Pinchpoint</title>
<style>body{{font:16px/1.5 sans-serif;max-width:34em;margin:12vh auto;padding:0 1em}}</style>
<h1>Pinchpoint</h1><p>{said}</p><p><a href="{way}">Sign in</a></p></html>"""


class Gate:
    """Lets in whom the settings let in, before anything of the pages answers.

    Parameters
    ----------
    app : ASGIApp
        The pages.
    sign_in : SignIn or None
        None for this machine alone.
    names : tuple of str
        Host names by which the pages may be called.
    """

    def __init__(self, app: ASGIApp, sign_in: SignIn | None, names: tuple[str, ...]) -> None:
        self.app, self.sign_in, self.names = app, sign_in, names

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, or answer it."""
        if scope["type"] not in ("http", "websocket"):
            await self.app(scope, receive, send)
            return
        refusal = self._refusal(scope)
        if refusal is None:
            await self.app(scope, receive, self._protecting(send))
        elif scope["type"] == "websocket":
            await receive()
            await send({"type": "websocket.close", "code": 1008, "reason": "sign in"})  # before it is accepted: 403
        else:
            await refusal(scope, receive, self._protecting(send))

    def _refusal(self, scope: Scope) -> Response | None:
        headers = Headers(scope=scope)
        called = urlsplit(f"//{headers.get('host', '')}").hostname or ""
        if scope["path"] in ("/health", "/_stcore/health"):
            return None
        if called.lower() not in self.names:
            return PlainTextResponse("These pages are not called by this name.", status_code=403)
        if self.sign_in is None:
            client = scope.get("client")
            if client is None or not is_loopback(client[0]) or "x-forwarded-for" in headers or "forwarded" in headers:
                return PlainTextResponse("Without a sign-in these pages are for this machine alone.", status_code=403)
            return None
        if scope["path"] in OPEN or self._knows(scope, headers):
            return None
        if scope["type"] == "http" and scope["method"] == "GET" and "text/html" in headers.get("accept", ""):
            page = _PAGE.format(said="The shop's book opens for those who sign in.", way=html.escape(_way_in()))
            return HTMLResponse(page, status_code=401)
        return PlainTextResponse("Sign in first.", status_code=401)

    def _knows(self, scope: Scope, headers: Headers) -> bool:
        assert self.sign_in is not None
        if scope["type"] == "websocket" and headers.get("origin", self.sign_in.origin) != self.sign_in.origin:
            return False
        claims = _claims(HTTPConnection(scope).cookies)
        return claims.get("origin") == self.sign_in.origin and person(claims) is not None

    def _protecting(self, send: Send) -> Send:
        encrypted = self.sign_in is not None and self.sign_in.encrypted

        async def protected(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in PROTECTION.items():
                    headers.setdefault(name, value)
                if encrypted:
                    message["headers"] = [
                        (
                            name,
                            value + b"; Secure"
                            if name.lower() == b"set-cookie" and b"; Secure" not in value
                            else value,
                        )
                        for name, value in message["headers"]
                    ]
            await send(message)

        return protected


def _claims(cookies: Mapping[str, str]) -> dict[str, Any]:
    """What the signed cookie says of a person; nothing where its signature is not ours."""
    from streamlit.auth_util import get_cookie_with_chunks
    from streamlit.web.server.server_util import get_cookie_secret
    from streamlit.web.server.starlette.starlette_app_utils import decode_signed_value

    secret = get_cookie_secret()

    def single(name: str) -> bytes | None:
        value = cookies.get(name)
        return None if value is None else decode_signed_value(secret, name, value.encode("latin-1", "replace"))

    signed = get_cookie_with_chunks(single, COOKIE)
    try:
        claims = json.loads(signed) if signed else {}
    except ValueError:
        return {}
    return claims if isinstance(claims, dict) else {}


def _way_in() -> str:
    """Address that leads to the provider."""
    from streamlit.auth_util import encode_provider_token

    return f"/auth/login?provider={encode_provider_token('default')}"
