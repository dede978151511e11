"""Any request to the page: answered or refused, and passed on only with its host, its origin and its cookie.

Headers are as in the Fetch standard and RFC 6265bis; bytes of a request may be anything (RFC 9110).
"""

from __future__ import annotations

import asyncio
from typing import Any

from any_input import of_any
from hypothesis import strategies as st

from simharness.page.guard import LARGEST_BODY, Guard

PORT = 23456
HOST = f"127.0.0.1:{PORT}".encode()
OWN = b"http://" + HOST

_NAMES = (
    b"host", b"Host", b"origin", b"ORIGIN", b"cookie", b"Cookie", b"sec-fetch-site", b"sec-fetch-mode",
    b"content-length", b"transfer-encoding", b"upgrade", b"accept-encoding",
)  # fmt: skip


class _Behind:
    """The page: it reads what it is sent to the end, as an application does."""

    def __init__(self):
        self.scopes, self.bytes = [], 0

    async def __call__(self, scope, receive, send):
        self.scopes.append(scope)
        while scope["type"] == "http":
            message = await receive()
            self.bytes += len(message.get("body", b""))
            if message["type"] == "http.disconnect" or not message.get("more_body"):
                break
        await send({"type": "http.response.start", "status": 200, "headers": []})
        await send({"type": "http.response.body", "body": b"inside"})


def asked(guard: Guard, scope: dict[str, Any], bodies: list[bytes]) -> list[dict[str, Any]]:
    """What is sent back."""
    waiting = [
        {"type": "http.request", "body": body, "more_body": i < len(bodies) - 1}
        for i, body in enumerate(bodies or [b""])
    ]
    sent: list[dict[str, Any]] = []

    async def receive():
        if scope["type"] == "websocket":
            return {"type": "websocket.connect"}
        return waiting.pop(0) if waiting else {"type": "http.disconnect"}

    async def send(message):
        sent.append(message)

    asyncio.run(guard(scope, receive, send))
    return sent


@st.composite
def headers(draw: Any, cookie: bytes) -> list[tuple[bytes, bytes]]:
    """Those that count, each right, wrong, missing or twice, among any others."""
    likely = (
        HOST, b"localhost:23456", OWN, b"null", b"http://example.org", cookie, cookie[:-1], cookie.upper(),
        b"a=b; " + cookie, b"same-origin", b"cross-site", b"none", b"navigate", b"0", b"12", b"-1",
        b"9" * 5000, b"websocket", b"",
    )  # fmt: skip
    found = [
        (draw(st.sampled_from(_NAMES)), draw(st.one_of(st.sampled_from(likely), st.binary(max_size=60))))
        for _ in range(draw(st.integers(0, 6)))
    ]
    right = [(b"host", HOST), (b"origin", OWN), (b"cookie", cookie)]
    return draw(st.permutations(found + [one for one in right if draw(st.booleans())]))


queries = st.one_of(
    st.binary(max_size=60),
    st.sampled_from((b"token", b"token=", b"token=%ff%00", b"token=a&token=b", b"&" * 2000)),
    st.just(b"token=" + b"a" * 5000),
)


@of_any(
    400,
    data=st.data(),
    kind=st.sampled_from(("http", "http", "websocket")),
    method=st.one_of(st.sampled_from(("GET", "POST", "HEAD", "DELETE")), st.text(max_size=8)),
    path=st.one_of(st.just("/"), st.text(max_size=40).map(lambda text: "/" + text)),
    query=queries,
    bodies=st.lists(st.binary(max_size=50), max_size=4),
)
def test_any_request_is_answered_and_none_gets_in_by_chance(data, kind, method, path, query, bodies):
    behind = _Behind()
    guard = Guard(behind, PORT)
    entered = asked(
        guard,
        {
            "type": "http",
            "method": "GET",
            "path": "/",
            "query_string": f"token={guard.token}".encode(),
            "headers": [(b"host", HOST), (b"sec-fetch-site", b"none")],
        },
        [],
    )
    cookie = dict(entered[0]["headers"])[b"set-cookie"].split(b";")[0]
    given = data.draw(headers(cookie))
    sent = asked(
        guard,
        {"type": kind, "method": method, "path": path, "query_string": query, "headers": given},
        bodies,
    )
    assert sent and sent[0]["type"] in ("http.response.start", "websocket.close")
    if not behind.scopes:
        assert kind == "websocket" or sent[0]["status"] in (303, 403, 413)
        return
    # A reader takes the last of headers of one name; each that counts must be right.
    last = {name.lower(): value for name, value in given}
    assert last[b"host"] in (HOST, b"localhost:23456")
    assert last.get(b"origin", OWN) in (OWN, b"http://localhost:23456")
    assert cookie in last[b"cookie"]
    assert (kind == "http" and method in ("GET", "HEAD")) or b"origin" in last


@of_any(40, sizes=st.lists(st.integers(0, LARGEST_BODY), min_size=1, max_size=5))
def test_no_more_of_a_body_than_is_taken_reaches_the_page(sizes):
    behind = _Behind()
    guard = Guard(behind, PORT)
    cookie = f"simharness-{PORT}={guard._secret}".encode()
    given = [(b"host", HOST), (b"origin", OWN), (b"cookie", cookie)]
    scope = {"type": "http", "method": "POST", "path": "/x", "query_string": b"", "headers": given}
    asked(guard, scope, [bytes(size) for size in sizes])
    assert behind.bytes <= LARGEST_BODY
    if sum(sizes) <= LARGEST_BODY:
        assert behind.bytes == sum(sizes)
