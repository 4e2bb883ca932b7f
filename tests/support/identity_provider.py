"""A small OpenID Connect provider on this machine, for tests: it signs in whoever the test says, without a password."""

from __future__ import annotations

import secrets
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any
from urllib.parse import urlencode

import uvicorn
from joserfc import jwt
from joserfc.jwk import KeySet, RSAKey
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import Route

CLIENT, SECRET = "pages", "the-client-secret-of-the-test"


class Provider:
    """Who is signed in next, and what was handed out.

    OpenID Connect Core 1.0, section 3.1 (authorization code flow), and Discovery 1.0, section 4.
    """

    def __init__(self) -> None:
        self.claims: dict[str, Any] = {}
        self.handed_out: list[str] = []
        self.address = ""
        self._key = RSAKey.generate_key(2048, parameters={"kid": "test", "use": "sig", "alg": "RS256"})
        self._nonces: dict[str, str] = {}

    async def discovery(self, _request: Request) -> Response:
        names = {"authorization_endpoint": "authorize", "token_endpoint": "token", "jwks_uri": "keys"}
        listed = {name: f"{self.address}/{path}" for name, path in names.items()}
        return JSONResponse(
            {
                "issuer": self.address,
                **listed,
                "response_types_supported": ["code"],
                "subject_types_supported": ["public"],
                "id_token_signing_alg_values_supported": ["RS256"],
            }
        )

    async def authorize(self, request: Request) -> Response:
        asked = request.query_params
        code = secrets.token_urlsafe(24)
        self._nonces[code] = asked.get("nonce", "")
        self.handed_out.append(code)
        return RedirectResponse(f"{asked['redirect_uri']}?{urlencode({'code': code, 'state': asked['state']})}", 302)

    async def token(self, request: Request) -> Response:
        form = await request.form()
        nonce = self._nonces.pop(str(form.get("code")), None)
        if nonce is None:
            return JSONResponse({"error": "invalid_grant"}, status_code=400)
        now = int(time.time())
        claims = {"iss": self.address, "aud": CLIENT, "sub": "1", "iat": now, "exp": now + 3600, "nonce": nonce}
        token = jwt.encode({"alg": "RS256", "kid": "test"}, {**claims, **self.claims}, self._key)
        access = secrets.token_urlsafe(24)
        self.handed_out += [token, access]
        return JSONResponse({"access_token": access, "token_type": "Bearer", "expires_in": 3600, "id_token": token})

    async def keys(self, _request: Request) -> Response:
        return JSONResponse(KeySet([self._key]).as_dict(private=False))


@contextmanager
def running_provider(port: int) -> Iterator[Provider]:
    """Serve a provider on 127.0.0.1."""
    provider = Provider()
    provider.address = f"http://127.0.0.1:{port}"
    routes = [
        Route("/.well-known/openid-configuration", provider.discovery),
        Route("/authorize", provider.authorize),
        Route("/token", provider.token, methods=["POST"]),
        Route("/keys", provider.keys),
    ]
    server = uvicorn.Server(uvicorn.Config(Starlette(routes=routes), host="127.0.0.1", port=port, log_level="error"))
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.02)
    try:
        yield provider
    finally:
        server.should_exit = True
        thread.join(timeout=10)
