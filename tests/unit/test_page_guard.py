"""Who is let in to the page.

The rules are those of the Fetch standard (the `Origin` and `Sec-Fetch-Site` headers, which a browser sets and
a page cannot forge) and RFC 6265bis (`SameSite=Strict`). A cookie alone is not enough: ports of one machine
are one site.
"""

from __future__ import annotations

import asyncio

import pytest

from simharness.page.guard import LARGEST_BODY, Guard

PORT = 23456
HOST = f"127.0.0.1:{PORT}"
OWN = f"http://{HOST}"


class _Behind:
    """The page behind the guard; it answers to everything, and says what it was asked."""

    def __init__(self):
        self.asked, self.bodies = [], []

    async def __call__(self, scope, receive, send):
        self.asked.append(scope)
        if scope["type"] == "websocket":
            await send({"type": "websocket.accept"})
            return
        while True:
            message = await receive()
            self.bodies.append(message)
            if message["type"] == "http.disconnect" or not message.get("more_body"):
                break
        headers = [(b"access-control-allow-origin", b"*"), (b"content-type", b"text/plain")]
        await send({"type": "http.response.start", "status": 200, "headers": headers})
        await send({"type": "http.response.body", "body": b"inside"})


class _Visitor:
    def __init__(self):
        self.behind = _Behind()
        self.guard = Guard(self.behind, PORT)

    def ask(self, path="/", query="", method="GET", kind="http", bodies=(b"",), **headers):
        """Status, headers and body of the answer; the status of a socket is 101 or 403."""
        headers = {"host": HOST} | {name.replace("_", "-"): value for name, value in headers.items()}
        scope = {
            "type": kind,
            "method": method,
            "path": path,
            "query_string": query.encode(),
            "headers": [(name.encode(), value.encode()) for name, value in headers.items() if value],
        }
        waiting = [
            {"type": "http.request", "body": body, "more_body": i < len(bodies) - 1}
            for i, body in enumerate(bodies)
        ]
        sent = []

        async def receive():
            return {"type": "websocket.connect"} if kind == "websocket" else waiting.pop(0)

        async def send(message):
            sent.append(message)

        asyncio.run(self.guard(scope, receive, send))
        if kind == "websocket":
            return 101 if sent[0]["type"] == "websocket.accept" else 403, {}, b""
        found = {name.decode(): value.decode() for name, value in sent[0]["headers"]}
        return sent[0]["status"], found, b"".join(m.get("body", b"") for m in sent[1:])

    def let_in(self):
        """The cookie that the token is exchanged for."""
        status, headers, _ = self.ask(query=f"token={self.guard.token}", sec_fetch_site="none")
        assert (status, headers["location"]) == (303, "/")
        return headers["set-cookie"].split(";")[0]


@pytest.fixture
def visitor():
    return _Visitor()


def test_the_token_serves_once_and_leaves_the_address(visitor):
    address = visitor.guard.address
    assert address == f"{OWN}/?token={visitor.guard.token}"
    cookie = visitor.let_in()
    assert visitor.ask(query=f"token={visitor.guard.token}")[0] == 403
    assert visitor.ask(cookie=cookie)[::2] == (200, b"inside")
    # The same browser may follow the printed address again.
    assert visitor.ask(query=f"token={visitor.guard.token}", cookie=cookie)[0] == 303


def test_the_cookie_is_for_this_page_alone(visitor):
    headers = visitor.ask(query=f"token={visitor.guard.token}")[1]
    assert headers["set-cookie"].endswith("; HttpOnly; SameSite=Strict; Path=/")
    assert headers["set-cookie"].startswith(f"simharness-{PORT}=")


def test_nobody_gets_in_with_a_wrong_token_or_none(visitor):
    for query in ("", "token=", "token=wrong", f"token={visitor.guard.token}x", "token=%00%ff"):
        assert visitor.ask(query=query)[0] == 403
    for cookie in ("", f"simharness-{PORT}=wrong", "a;=;;", f"simharness-{PORT}=\xe4", "x" * 9000):
        assert visitor.ask(cookie=cookie)[0] == 403
    assert visitor.behind.asked == []
    assert visitor.guard.token not in visitor.ask()[2].decode()


def test_a_foreign_name_for_this_address_is_refused(visitor):
    cookie = visitor.let_in()
    for host in ("evil.example", f"evil.example:{PORT}", "127.0.0.1", f"[::1]:{PORT}", ""):
        assert visitor.ask(cookie=cookie, host=host)[0] == 403
    assert visitor.ask(cookie=cookie, host=f"localhost:{PORT}")[0] == 200


def test_another_site_cannot_post_or_read_even_with_the_cookie(visitor):
    cookie = visitor.let_in()
    for origin in ("https://evil.example", "http://127.0.0.1:9999", "null", f"https://{HOST}"):
        for method in ("POST", "GET", "PUT", "DELETE"):
            assert visitor.ask(method=method, cookie=cookie, origin=origin)[0] == 403
        assert visitor.ask(kind="websocket", cookie=cookie, origin=origin)[0] == 403
    assert visitor.ask(method="POST", cookie=cookie)[0] == 403  # no origin: no browser of today posts so
    assert visitor.ask(kind="websocket", cookie=cookie)[0] == 403
    for site in ("cross-site", "same-site"):
        assert visitor.ask(cookie=cookie, sec_fetch_site=site, sec_fetch_mode="no-cors")[0] == 403
    assert visitor.behind.asked == []


def test_the_page_itself_may_post_and_open_a_socket(visitor):
    cookie = visitor.let_in()
    assert visitor.ask(method="POST", cookie=cookie, origin=OWN, sec_fetch_site="same-origin")[0] == 200
    assert visitor.ask(kind="websocket", cookie=cookie, origin=OWN)[0] == 101
    assert visitor.ask(kind="websocket", origin=OWN)[0] == 403


def test_what_is_too_large_is_refused_before_it_is_read(visitor):
    cookie = visitor.let_in()
    length = str(LARGEST_BODY + 1)
    status, _, body = visitor.ask(
        method="POST", cookie=cookie, origin=OWN, content_length=length, bodies=(b"x",)
    )
    assert status == 413 and b"at most 3 MB" in body and visitor.behind.bodies == []
    assert visitor.ask(method="POST", cookie=cookie, origin=OWN, content_length="many")[0] == 413


def test_a_body_that_hides_its_length_is_cut_off(visitor):
    cookie = visitor.let_in()
    chunk = b"x" * 1_000_000
    visitor.ask(method="POST", cookie=cookie, origin=OWN, bodies=(chunk,) * 50)
    taken = sum(len(message.get("body", b"")) for message in visitor.behind.bodies)
    assert taken <= LARGEST_BODY and visitor.behind.bodies[-1]["type"] == "http.disconnect"


def test_answers_forbid_everything_from_elsewhere(visitor):
    headers = visitor.ask(cookie=visitor.let_in())[1]
    policy = dict(part.strip().split(" ", 1) for part in headers["content-security-policy"].split(";"))
    assert policy["default-src"] == "'self'" and policy["base-uri"] == "'none'"
    sources = {source for words in policy.values() for source in words.split()}
    allowed = {"'self'", "'none'", "'unsafe-inline'", "'unsafe-eval'", "data:", "blob:"}
    assert sources - allowed == {f"ws://{HOST}", f"ws://localhost:{PORT}"}
    assert headers["x-content-type-options"] == "nosniff"
    assert "access-control-allow-origin" not in headers
