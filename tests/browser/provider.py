"""A small OpenID provider for tests: real keys, real tokens, and faults on request. Listens on the loopback address."""

from __future__ import annotations

import secrets
import socket
import threading
import time
from dataclasses import dataclass, field
from urllib.parse import urlencode

import uvicorn
from joserfc import jwt
from joserfc.jwk import RSAKey
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse
from starlette.routing import Route


@dataclass
class Provider:
    """Signs in whoever `email` names, with a token that lasts `lasts` seconds, signed by a stranger if `forged`."""

    email: str = "ben@plant.example"
    verified: bool = True
    lasts: float = 3600.0
    forged: bool = False
    port: int = 0
    codes: dict[str, str] = field(default_factory=dict)
    key: RSAKey = field(default_factory=lambda: RSAKey.generate_key(2048, {"kid": "own", "use": "sig", "alg": "RS256"}))
    stranger: RSAKey = field(
        default_factory=lambda: RSAKey.generate_key(2048, {"kid": "own", "use": "sig", "alg": "RS256"})
    )

    @property
    def issuer(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> None:
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self.port = probe.getsockname()[1]
        routes = [
            Route("/.well-known/openid-configuration", self._about),
            Route("/authorize", self._authorize),
            Route("/token", self._token, methods=["POST"]),
            Route("/keys", self._keys),
        ]
        settings = uvicorn.Config(Starlette(routes=routes), host="127.0.0.1", port=self.port, log_level="error")
        self.server = uvicorn.Server(settings)
        threading.Thread(target=self.server.run, daemon=True).start()
        while not self.server.started:
            time.sleep(0.05)

    def stop(self) -> None:
        self.server.should_exit = True

    async def _about(self, request: Request) -> JSONResponse:
        return JSONResponse(
            {
                "issuer": self.issuer,
                "authorization_endpoint": f"{self.issuer}/authorize",
                "token_endpoint": f"{self.issuer}/token",
                "jwks_uri": f"{self.issuer}/keys",
                "response_types_supported": ["code"],
                "subject_types_supported": ["public"],
                "id_token_signing_alg_values_supported": ["RS256"],
            }
        )

    async def _authorize(self, request: Request) -> RedirectResponse:
        code = secrets.token_urlsafe(16)
        self.codes[code] = request.query_params.get("nonce", "")
        answer = urlencode({"code": code, "state": request.query_params["state"]})
        return RedirectResponse(f"{request.query_params['redirect_uri']}?{answer}", status_code=302)

    async def _token(self, request: Request) -> JSONResponse:
        form = await request.form()
        now = int(time.time())
        claims = {
            "iss": self.issuer,
            "aud": "hoopline",
            "sub": self.email,
            "email": self.email,
            "email_verified": self.verified,
            "name": "whoever they say",
            "iat": now,
            "exp": int(now + self.lasts),
            "nonce": self.codes.pop(str(form["code"])),
        }
        signed = jwt.encode({"alg": "RS256", "kid": "own"}, claims, self.stranger if self.forged else self.key)
        return JSONResponse({"access_token": "opaque", "token_type": "Bearer", "expires_in": 60, "id_token": signed})

    async def _keys(self, request: Request) -> JSONResponse:
        return JSONResponse({"keys": [self.key.as_dict(private=False)]})
