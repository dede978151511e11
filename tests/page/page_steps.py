"""Steps that a user makes on the page, shared by its tests."""

from __future__ import annotations

import socket
import time

PATIENCE_MS = 60_000


def field(page, label: str):
    """A field by its whole label."""
    return page.get_by_label(label, exact=True)


def antenna(page, address):
    """The page at its view of the antenna, with the form and the drawing there."""
    page.goto(address)
    field(page, "inner width").wait_for(timeout=PATIENCE_MS)
    page.locator('svg[data-view="end"]').wait_for(timeout=PATIENCE_MS)
    return page


def typed(page, label: str, value: str) -> None:
    """Type a value into a field, and leave it."""
    entry = field(page, label)
    entry.fill(value)
    entry.press("Tab")


def holds(page, label: str, value: str) -> None:
    """Wait until a field holds a value."""
    page.wait_for_function(
        "([entry, value]) => entry.value === value",
        arg=[field(page, label).element_handle(), value],
        timeout=PATIENCE_MS,
    )


def state(page):
    """The line under the name of the record."""
    return page.locator("header.head .note")


def press(page, name: str) -> None:
    page.get_by_role("button", name=name, exact=True).click()


def said(page, words: str) -> None:
    page.locator(".said").get_by_text(words).wait_for(timeout=PATIENCE_MS)


def wait_for_port(port: int) -> None:
    """Wait until something of this machine listens at a port."""
    for _ in range(300):
        with socket.socket() as sock:
            if sock.connect_ex(("127.0.0.1", port)) == 0:
                return
        time.sleep(0.1)
    raise AssertionError("the server did not start")
