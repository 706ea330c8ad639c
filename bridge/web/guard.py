"""Who may ask the board for what: Host, Origin, token, and the policy that every answer carries.

Sources: the Host check against DNS rebinding and the Origin check of a WebSocket, OWASP (Application Security
Verification Standard 4, 14.5; WebSocket Security Cheat Sheet) and RFC 6455, section 10.2; the policy, Content Security
Policy Level 3 and the Fetch standard (nosniff, cross-origin resource policy).
"""

from __future__ import annotations

import hmac
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

Role = Literal["teacher", "viewer"]

#: What a page on this machine may call it.
LOOPBACK = ("127.0.0.1", "localhost")
#: So much of a token is compared; no token of ours is longer.
_LONGEST_TOKEN = 64
#: Browsers heed it where they trust the line alone, which over plain http is on this machine (Secure Contexts, W3C,
#: section 3.1), and complain of it anywhere else.
_OPENER = {"Cross-Origin-Opener-Policy": "same-origin"}
_STEADY_HEADERS = {
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=(), payment=(), usb=(), serial=(), midi=()",
    # Nothing of a page whose address may hold a token stays in a cache, and a new version is seen at once.
    "Cache-Control": "no-store",
    # Not which server, in which version.
    "Server": "reedwire",
}


@dataclass(frozen=True)
class Tokens:
    """What the addresses hold that ``--lan`` prints: one for the teacher, who steers, another for those who watch."""

    teacher: str
    viewer: str


@dataclass(frozen=True)
class Guard:
    """The checks for a board at ``port`` that is called by ``names``; without ``tokens`` only this machine can ask."""

    port: int
    names: Sequence[str] = LOOPBACK
    tokens: Tokens | None = None

    def host_allowed(self, host: str | None) -> bool:
        """Whether a request means this server: a page elsewhere whose name was made to lead here says its own name."""
        return host is not None and host.lower() in {f"{name}:{self.port}" for name in self.names}

    def origin_allowed(self, origin: str | None, host: str | None) -> bool:
        """Whether what asks comes from this very server's page; ``null`` and another port or scheme are none."""
        return origin is not None and host is not None and origin.lower() == f"http://{host.lower()}"

    def role(self, token: str | None) -> Role | None:
        """What the holder of ``token`` may do; None: nothing. Compared in constant time."""
        if self.tokens is None:
            return "teacher"
        given = (token or "")[:_LONGEST_TOKEN].encode("utf-8", "replace")
        teacher = hmac.compare_digest(given, self.tokens.teacher.encode())
        viewer = hmac.compare_digest(given, self.tokens.viewer.encode())
        return "teacher" if teacher else "viewer" if viewer else None


def safe_headers(host: str) -> dict[str, str]:
    """The headers of every answer given to an allowed ``host``.

    The WebSocket is named beside ``'self'``, which does not cover it in older browsers.
    """
    policy = {
        "default-src": "'none'",
        "script-src": "'self'",
        "style-src": "'self'",
        "img-src": "'self'",
        "connect-src": f"'self' ws://{host}",
        "base-uri": "'none'",
        "form-action": "'none'",
        "frame-ancestors": "'none'",
    }
    opener = _OPENER if host.rpartition(":")[0].lower() in LOOPBACK else {}
    return {
        **_STEADY_HEADERS,
        **opener,
        "Content-Security-Policy": "; ".join(f"{what} {who}" for what, who in policy.items()),
    }
