"""Who may talk to the second look: the browser that was given its address, and no other page or machine.

Any page in a browser can send requests to 127.0.0.1. It must not read or write here:

- the address has a token of 256 random bits as the first part of its path, so that it cannot be guessed. A cookie would
  be sent to every other port of 127.0.0.1 as well (RFC 6265, 8.5), a path is not;
- `Host` must be this very address, so that a name of somebody's own that is made to lead to 127.0.0.1 gets nothing;
- what writes must say by `Origin` (RFC 6454) that it comes from here; and what `Sec-Fetch-Site` (W3C, Fetch Metadata
  Request Headers) calls another site is refused, reading too;
- no page may frame this one, and nothing is loaded or kept from it anywhere (CSP, no-store).
"""

from __future__ import annotations

import hmac
import secrets
from collections.abc import Mapping
from dataclasses import dataclass

TOKEN_BYTES = 32
HEADERS = {
    "Content-Security-Policy": "default-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'; "
    "object-src 'none'",
    "X-Frame-Options": "DENY",
    "X-Content-Type-Options": "nosniff",
    # With "no-referrer" our own forms would say "Origin: null" (Fetch, "append a request Origin header").
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cache-Control": "no-store",
}
_READING = ("GET", "HEAD")
_FROM_HERE = ("same-origin", "none")


@dataclass(frozen=True, slots=True)
class Guard:
    """The address of one run: the port on 127.0.0.1, and the token."""

    port: int
    token: str

    @property
    def host(self) -> str:
        """What `Host` must be."""
        return f"127.0.0.1:{self.port}"

    @property
    def origin(self) -> str:
        """What `Origin` must be where something is written."""
        return f"http://{self.host}"

    @property
    def address(self) -> str:
        """What the person opens."""
        return f"{self.origin}/{self.token}/"

    def refusal(self, method: str, path: str, headers: Mapping[str, str]) -> int | None:
        """Return the status that a request is refused with; None where it is welcome."""
        if headers.get("Host", "") != self.host:
            return 403
        given = path.lstrip("/").split("/", 1)[0]
        if not hmac.compare_digest(given.encode(errors="replace"), self.token.encode()):
            return 404
        is_reading = method in _READING
        site = headers.get("Sec-Fetch-Site", "none")
        if site not in _FROM_HERE and not (is_reading and headers.get("Sec-Fetch-Mode") == "navigate"):
            return 403
        if not is_reading and headers.get("Origin") != self.origin:
            return 403
        return None


def new_token() -> str:
    """Return a token from the system's randomness."""
    return secrets.token_urlsafe(TOKEN_BYTES)
