"""Who may reach the page, tried with a real browser."""

from __future__ import annotations

import threading
from http.server import BaseHTTPRequestHandler, HTTPServer

import pytest

from simharness.page.guard import REFUSED

pytestmark = pytest.mark.browser

_EVIL = """<!DOCTYPE html><title>elsewhere</title><pre id="told"></pre>
<iframe id="frame" src="{own}/"></iframe>
<script>
const tell = (line) => document.getElementById("told").append(line + "\\n");
async function attack() {{
  for (const mode of ["no-cors", "cors"]) for (const method of ["GET", "POST"]) {{
    try {{
      const answer = await fetch("{own}/", {{ method, mode, credentials: "include" }});
      tell(mode + " " + method + " " + answer.status + " " + (await answer.text()).length);
    }} catch (error) {{ tell(mode + " " + method + " refused"); }}
  }}
  await new Promise((done) => {{
    const socket = new WebSocket("{socket}/_nicegui_ws/socket.io/?EIO=4&transport=websocket");
    socket.onopen = () => {{ tell("socket open"); done(); }};
    socket.onerror = () => {{ tell("socket refused"); done(); }};
  }});
  tell("done");
}}
attack();
</script>"""


@pytest.fixture
def other_site():
    """Another server of this machine, which is the same site for a browser, with a page that attacks."""
    pages = {}

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self):
            self.send_response(200)
            self.send_header("content-type", "text/html")
            self.end_headers()
            self.wfile.write(pages.get(self.path, "").encode())

        def log_message(self, *words):
            pass

    server = HTTPServer(("127.0.0.1", 0), Handler)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{server.server_port}", pages
    server.shutdown()
    server.server_close()
    thread.join()


def test_the_address_lets_one_browser_in(serve, tab, chromium):
    served = serve("eight-slot-5g8")
    tab.goto(served.address)
    tab.wait_for_selector("h1")
    assert "token" not in tab.url
    with chromium.new_context() as other:
        second = other.new_page()
        for address in (served.address, tab.url, tab.url + "?token=wrong"):
            assert second.goto(address).status == 403
            assert second.inner_text("body") == REFUSED["cookie"]


def test_another_sites_page_cannot_post_read_or_frame(serve, tab, other_site):
    served = serve("eight-slot-5g8")
    tab.goto(served.address)
    tab.wait_for_selector("h1")
    own = tab.url.rstrip("/")
    address, pages = other_site
    pages["/"] = _EVIL.format(own=own, socket=own.replace("http", "ws"))
    tab.goto(address)
    tab.wait_for_function("document.getElementById('told').textContent.includes('done')")
    told = tab.inner_text("#told").split("\n")
    assert "socket refused" in told
    # An opaque answer has status 0 and an empty body: nothing was read, and the server refused it (see the
    # unit tests); answers that may be read are refused by the browser.
    assert set(told) - {""} <= {
        "no-cors GET 0 0",
        "no-cors POST 0 0",
        "cors GET refused",
        "cors POST refused",
        "socket refused",
        "done",
    }
    frame = tab.query_selector("#frame").content_frame()
    assert frame.url.startswith("chrome-error:") and frame.query_selector("nav.views") is None


def test_nothing_outside_the_page_is_served(serve, tab):
    served = serve("eight-slot-5g8")
    tab.goto(served.address)
    tab.wait_for_selector("h1")
    (served.folder / "secret.txt").write_text("secret")
    own = tab.url.rstrip("/")
    for path in (
        "/secret.txt",
        "/eight-slot-5g8.toml",
        "/../secret.txt",
        "/%2e%2e/secret.txt",
        "/preview/x/..%2f..%2fsecret.txt",
        "/etc/passwd",
        "/_nicegui/../../etc/passwd",
        "/docs",
        "/openapi.json",
    ):
        answer = tab.request.get(own + path, headers={"origin": own})
        assert answer.status in (403, 404), path
        assert "secret" not in answer.text().replace("secret.txt", ""), path


def test_opening_the_page_writes_nothing(serve, tab):
    served = serve("eight-slot-5g8")
    before = sorted(served.folder.rglob("*"))
    tab.goto(served.address)
    tab.wait_for_selector("h1")
    tab.wait_for_timeout(3000)
    assert sorted(served.folder.rglob("*")) == before
