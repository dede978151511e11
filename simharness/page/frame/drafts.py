"""Unsaved work, kept by the browser: a killed server, a closed lid or a full disk does not take it.

The browser keeps one draft for each file, under the address of the page, which is the same whenever the page
is served from the same folders.
"""

from __future__ import annotations

import asyncio
import json
import time
from functools import partial
from typing import Any

from nicegui import ui

from simharness.errors import HarnessError
from simharness.page.bench import Bench
from simharness.page.desk import Desk
from simharness.page.widgets import plain_button, text
from simharness.printable import printable

KEY = "simharness unsaved: "
REST_SECONDS = 1.0
"""After a change, before it is given to the browser."""

LONGEST = 1_000_000
"""Characters of a draft: hundreds of slots."""

_LIST = f"""
const found = [];
for (let i = 0; i < localStorage.length; i++) {{
  const key = localStorage.key(i);
  if (key.startsWith({json.dumps(KEY)})) found.push([key, localStorage.getItem(key)]);
}}
return found.slice(0, 20);
"""


class Drafts:
    """Gives unsaved work to the browser, and offers what it finds there.

    Parameters
    ----------
    bench : Bench
    """

    def __init__(self, bench: Bench):
        self.bench, self._key = bench, ""
        self._waiting: asyncio.Task[None] | None = None
        self._offers = ui.element("div")
        self._client = ui.context.client
        bench.record_changed.connect(lambda origin: self._changed())

    async def offer(self) -> None:
        """Offer each draft that the browser keeps."""
        try:
            found = await self._client.run_javascript(_LIST, timeout=5.0)
        except TimeoutError:
            return
        for key, words in found or []:
            self._offer(str(key), str(words))

    def _offer(self, key: str, words: str) -> None:
        kept = _kept(words)
        if kept is None:
            self._forget(key)
            return
        (begun, draft), name = kept, printable(key.removeprefix(KEY), keep="")
        with self._offers, ui.element("div").classes("controls offer") as line:
            text("p", f"This browser keeps unsaved work on {name}, of {begun}.")
            plain_button("Go on with it", partial(self._take, line, key, draft))
            plain_button("Forget it", partial(self._drop, line, key))

    def _take(self, line: ui.element, key: str, draft: Any) -> None:
        try:
            desk = Desk.from_draft(draft, self.bench.place.records)
        except HarnessError as error:
            self.bench.say(f"That work cannot be taken up: {error}", refused=True)
            return
        self._drop(line, key)
        self.bench.put(desk)

    def _drop(self, line: ui.element, key: str) -> None:
        line.delete()
        self._forget(key)

    def _changed(self) -> None:
        if self._waiting is not None:
            self._waiting.cancel()
        self._waiting = asyncio.get_running_loop().create_task(self._keep())

    async def _keep(self) -> None:
        await asyncio.sleep(REST_SECONDS)
        desk = self.bench.desk
        if desk is None:
            return
        key = f"{KEY}{desk.path.name if desk.path else 'a new record'}"
        if (self._key and self._key != key) or not desk.dirty:
            self._forget(self._key or key)
            self._key = ""
        if desk.dirty:
            self._key = key
            words = json.dumps({"time": time.time(), "draft": desk.draft()})
            self._run(f"localStorage.setItem({json.dumps(key)}, {json.dumps(words)})")

    def _forget(self, key: str) -> None:
        self._run(f"localStorage.removeItem({json.dumps(key)})")

    def _run(self, program: str) -> None:
        # A browser that keeps nothing, or is full, is no reason to stop.
        self._client.run_javascript(f"try {{ {program}; }} catch (error) {{ console.warn(error.message); }}")


def _kept(words: str) -> tuple[str, Any] | None:
    """When a draft was begun, in words, and the draft; None for what this page has not written."""
    try:
        kept: Any = json.loads(words) if len(words) <= LONGEST else None
        return time.strftime("%d %b, %H:%M", time.localtime(float(kept["time"]))), kept["draft"]
    except (ValueError, TypeError, KeyError, OverflowError, OSError, RecursionError):
        return None
