"""The sign-in file of a plant whose app others reach: OpenID Connect settings, and which claim names a person.

    [auth]
    redirect_uri = "https://plant.example/oauth2callback"
    cookie_secret = "…"
    client_id = "…"
    client_secret = "…"
    server_metadata_url = "https://id.plant.example/.well-known/openid-configuration"

    [names]                       # value of the claim = name in [people] of basis.toml
    "ines@plant.example" = "Ines Vardalen"

`claim` at the top names the claim. The default, `email`, counts only where the token says that the address was
verified; with a provider that does not say so, name another claim, such as `sub`.
"""

from __future__ import annotations

import ipaddress
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from pipeline.errors import Problem

SIGN_IN_NAME = "sign-in.toml"
_NEEDED = ("redirect_uri", "cookie_secret", "client_id", "client_secret", "server_metadata_url")


@dataclass(frozen=True)
class Names:
    """Which claim of a token names a person, and the names its values stand for."""

    claim: str
    names: Mapping[str, str]

    def name_in(self, claims: Mapping[str, object]) -> str | None:
        """Return the person's name by the plant's basis; None where the token does not say one to be trusted."""
        value = claims.get(self.claim)
        if not isinstance(value, str) or not value.strip():
            return None
        if self.claim == "email" and claims.get("email_verified") is not True:
            return None
        return self.names.get(value, value)


def is_loopback(address: str) -> bool:
    """Return whether an address is reached from this machine only."""
    if address == "localhost":
        return True
    try:
        return ipaddress.ip_address(address).is_loopback
    except ValueError:
        return False


def names_of(path: Path) -> Names:
    """Read the sign-in file; raises Problem where it is missing or incomplete, with what is lacking."""
    try:
        stated = tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as fault:
        raise Problem(
            f"{path}: cannot be read ({fault.strerror}); the app needs it on any address but 127.0.0.1"
        ) from None
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as fault:
        raise Problem(f"{path}: cannot be read as TOML ({fault}); correct it") from None
    auth = stated.get("auth")
    if not isinstance(auth, dict):
        raise Problem(f"{path}: has no [auth] table; OpenID Connect needs {', '.join(_NEEDED)} there")
    lacking = [key for key in _NEEDED if not isinstance(auth.get(key), str) or not auth[key].strip()]
    if lacking:
        raise Problem(f"{path}: [auth] lacks {', '.join(lacking)}")
    if len(auth["cookie_secret"]) < 32:
        raise Problem(f"{path}: cookie_secret is shorter than 32 characters; use a long random one")
    names = stated.get("names", {})
    claim = stated.get("claim", "email")
    if not isinstance(claim, str) or not isinstance(names, dict) or not all(isinstance(v, str) for v in names.values()):
        raise Problem(f"{path}: claim must be text, and [names] a table of claim value = name")
    return Names(claim, dict(names))
