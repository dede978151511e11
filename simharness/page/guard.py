"""What may reach the page: this machine's own browser, let in by a token that serves once.

A page of another site can make a browser send requests to any address of this machine. So each request must
name this server as its host (a foreign name that was made to point here does not), must not come from another
origin, and must bring the cookie that the token was exchanged for.
"""

from __future__ import annotations

import hmac
import secrets
from collections.abc import Iterable
from http.cookies import CookieError, SimpleCookie
from typing import Any
from urllib.parse import parse_qs

LARGEST_BODY = 3_000_000
"""Bytes of a request: a Touchstone file or a table of levels is far smaller."""

_MOST_DIGITS = len(str(LARGEST_BODY))

REFUSED = {
    "host": "This page answers to its own address only.",
    "origin": "This page takes requests from itself only.",
    "cookie": "Open this page with the address that 'simharness page' has printed; it serves once. "
    "For another browser, or after that, call 'simharness page' again.",
    "size": "That is too large: at most 3 MB are taken.",
}

_BEHIND_PROXY = {b"access-control-allow-origin", b"access-control-allow-credentials", b"server"}
"""Headers of answers that are taken away: nobody else may read them."""


class Guard:
    """An ASGI application in front of the page.

    Parameters
    ----------
    app : ASGI application
    port : int
        At which the server listens.
    """

    def __init__(self, app: Any, port: int):
        self._app, self._port = app, port
        self.token: str = secrets.token_urlsafe(24)
        self._spent = False
        self._secret = secrets.token_urlsafe(32)
        self._cookie = f"simharness-{port}"
        self._hosts = {f"127.0.0.1:{port}", f"localhost:{port}"}

    @property
    def address(self) -> str:
        """Where the browser goes first."""
        return f"http://127.0.0.1:{self._port}/?token={self.token}"

    async def __call__(self, scope: Any, receive: Any, send: Any) -> None:
        if scope["type"] not in ("http", "websocket"):
            await self._app(scope, receive, send)
            return
        headers = {name.lower(): value for name, value in scope["headers"]}
        if reason := self._unwanted(scope, headers):
            await _refuse(scope, receive, send, reason)
        elif scope["type"] == "http" and scope["path"] == "/" and (token := _token(scope)) is not None:
            await self._enter(scope, receive, send, headers, token)
        elif not self._known(headers):
            await _refuse(scope, receive, send, "cookie")
        else:
            await self._pass(scope, receive, send)

    def _unwanted(self, scope: Any, headers: dict[bytes, bytes]) -> str:
        """Why a request is refused whoever sends it; empty if it is not."""
        if headers.get(b"host", b"").decode("latin-1") not in self._hosts:
            return "host"
        origin = headers.get(b"origin")
        if origin is not None and origin.decode("latin-1") not in {f"http://{host}" for host in self._hosts}:
            return "origin"
        reading = scope["type"] == "http" and scope["method"] in ("GET", "HEAD")
        if not reading and origin is None:
            return "origin"
        site = headers.get(b"sec-fetch-site", b"none")
        entering = reading and headers.get(b"sec-fetch-mode") == b"navigate"
        if site not in (b"same-origin", b"none") and not entering:
            return "origin"
        length = headers.get(b"content-length", b"0").lstrip(b"0") or b"0"
        # Of thousands of digits no number is made.
        if not length.isdigit() or len(length) > _MOST_DIGITS or int(length) > LARGEST_BODY:
            return "size"
        return ""

    def _known(self, headers: dict[bytes, bytes]) -> bool:
        try:
            cookies = SimpleCookie(headers.get(b"cookie", b"").decode("latin-1"))
        except CookieError:
            return False
        found = cookies.get(self._cookie)
        return found is not None and hmac.compare_digest(found.value.encode(), self._secret.encode())

    async def _enter(
        self, scope: Any, receive: Any, send: Any, headers: dict[bytes, bytes], token: str
    ) -> None:
        """Exchange the token for the cookie, once, and take it out of the address."""
        fits = not self._spent and hmac.compare_digest(token.encode(), self.token.encode())
        if not fits and not self._known(headers):
            await _refuse(scope, receive, send, "cookie")
            return
        answer = [(b"location", b"/"), (b"cache-control", b"no-store")]
        if fits:
            self._spent = True
            cookie = f"{self._cookie}={self._secret}; HttpOnly; SameSite=Strict; Path=/"
            answer.append((b"set-cookie", cookie.encode()))
        await send({"type": "http.response.start", "status": 303, "headers": answer})
        await send({"type": "http.response.body", "body": b""})

    async def _pass(self, scope: Any, receive: Any, send: Any) -> None:
        # On the same machine compression costs time and saves nothing.
        kept = [(name, value) for name, value in scope["headers"] if name.lower() != b"accept-encoding"]
        scope = scope | {"headers": kept}
        taken = 0

        async def counted() -> Any:
            nonlocal taken
            message = await receive()
            taken += len(message.get("body", b"")) if message["type"] == "http.request" else 0
            return message if taken <= LARGEST_BODY else {"type": "http.disconnect"}

        async def guarded(message: Any) -> None:
            if message["type"] == "http.response.start":
                message = message | {"headers": [*_guarded(message.get("headers", ())), *self._policy()]}
            await send(message)

        await self._app(scope, counted, guarded)

    def _policy(self) -> list[tuple[bytes, bytes]]:
        """What a browser may do with the page: nothing from elsewhere, nothing in a frame of others.

        The page's library builds its parts in the browser, which needs 'unsafe-eval'; text from files reaches
        the page as text only.
        """
        sockets = " ".join(f"ws://{host}" for host in sorted(self._hosts))
        policy = (
            "default-src 'self'; script-src 'self' 'unsafe-inline' 'unsafe-eval'; "
            "style-src 'self' 'unsafe-inline'; img-src 'self' data: blob:; font-src 'self' data:; "
            f"connect-src 'self' {sockets}; object-src 'none'; base-uri 'none'; form-action 'self'; "
            "frame-src 'self' blob:; frame-ancestors 'self'"
        )
        return [
            (b"content-security-policy", policy.encode()),
            (b"x-content-type-options", b"nosniff"),
            (b"referrer-policy", b"no-referrer"),
            (b"cross-origin-resource-policy", b"same-origin"),
            (b"cross-origin-opener-policy", b"same-origin"),
        ]


def _guarded(headers: Iterable[tuple[bytes, bytes]]) -> list[tuple[bytes, bytes]]:
    return [(name, value) for name, value in headers if name.lower() not in _BEHIND_PROXY]


def _token(scope: Any) -> str | None:
    found = parse_qs(scope["query_string"].decode("latin-1")).get("token")
    return found[0] if found else None


async def _refuse(scope: Any, receive: Any, send: Any, reason: str) -> None:
    if scope["type"] == "websocket":
        await receive()
        await send({"type": "websocket.close", "code": 1008})
        return
    status = 413 if reason == "size" else 403
    headers = [(b"content-type", b"text/plain; charset=utf-8"), (b"cache-control", b"no-store")]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": REFUSED[reason].encode()})
