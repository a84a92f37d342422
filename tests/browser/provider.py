"""A small OpenID provider for tests: real keys, real tokens, and faults on request. Listens on the loopback address."""

from __future__ import annotations

import secrets
import socket
import threading
import time
from dataclasses import dataclass
from types import TracebackType
from urllib.parse import urlencode

import uvicorn
from joserfc import jwt
from joserfc.jwk import RSAKey
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse
from starlette.routing import Route

CLIENT = "hoopline"
#: Seconds by which the library that signs people in forgives a token that ran out; within them the app must not.
LEEWAY = 120


@dataclass(frozen=True)
class Token:
    """Whom the next identity token names, how many seconds it lasts (it ran out where negative), for whom it is, and
    whether somebody else signed it."""

    email: str
    verified: bool = True
    lasts: int = 3600
    audience: str = CLIENT
    forged: bool = False


class Provider:
    """Signs in, without asking, whoever `next` names; `given` counts the tokens."""

    def __init__(self) -> None:
        self.next = Token("nobody@plant.example")
        self.given = 0
        self._nonces: dict[str, str] = {}
        # Both keys go by the same name, so that only the signature tells them apart.
        self._key, self._stranger = (
            RSAKey.generate_key(2048, {"kid": "own", "use": "sig", "alg": "RS256"}) for _ in range(2)
        )
        # The socket is bound here and handed over, so that the port is held from the first moment on.
        self._socket = socket.create_server(("127.0.0.1", 0))
        self.issuer = f"http://127.0.0.1:{self._socket.getsockname()[1]}"
        routes = [
            Route("/.well-known/openid-configuration", self._about),
            Route("/authorize", self._authorize),
            Route("/token", self._token, methods=["POST"]),
            Route("/keys", self._keys),
        ]
        self._server = uvicorn.Server(uvicorn.Config(Starlette(routes=routes), log_level="error", lifespan="off"))
        self._thread = threading.Thread(target=self._server.run, args=([self._socket],), daemon=True)

    def __enter__(self) -> Provider:
        self._thread.start()
        until = time.monotonic() + 60
        while not self._server.started:
            if not self._thread.is_alive() or time.monotonic() > until:
                raise RuntimeError("the provider did not start")
            time.sleep(0.02)
        return self

    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._server.should_exit = self._server.force_exit = True
        self._thread.join(timeout=20)
        self._socket.close()

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
        self._nonces[code] = request.query_params.get("nonce", "")
        answer = urlencode({"code": code, "state": request.query_params["state"]})
        return RedirectResponse(f"{request.query_params['redirect_uri']}?{answer}", status_code=302)

    async def _token(self, request: Request) -> JSONResponse:
        form = await request.form()
        token = self.next
        now = int(time.time())
        claims = {
            "iss": self.issuer,
            "aud": token.audience,
            "sub": token.email,
            "email": token.email,
            "email_verified": token.verified,
            "name": "whoever they say",
            "iat": now + min(token.lasts, 0),
            "exp": now + token.lasts,
            "nonce": self._nonces.pop(str(form["code"])),
        }
        signed = jwt.encode({"alg": "RS256", "kid": "own"}, claims, self._stranger if token.forged else self._key)
        self.given += 1
        return JSONResponse({"access_token": "opaque", "token_type": "Bearer", "expires_in": 60, "id_token": signed})

    async def _keys(self, request: Request) -> JSONResponse:
        return JSONResponse({"keys": [self._key.as_dict(private=False)]})
