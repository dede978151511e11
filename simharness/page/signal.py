"""How those who caused something tell those who draw it, without knowing them."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import Any


class Signal:
    """Tells everybody who connected, in order; one that fails does not keep the others from hearing."""

    def __init__(self) -> None:
        self._listeners: list[Callable[..., None]] = []

    def connect(self, listener: Callable[..., None]) -> None:
        """Have a function called with whatever is told."""
        self._listeners.append(listener)

    def disconnect_all(self) -> None:
        """Forget all listeners: the tab is drawn anew."""
        self._listeners.clear()

    def tell(self, *told: Any) -> None:
        """Call everybody."""
        for listener in tuple(self._listeners):
            listener(*told)

    async def tell_later(self, rest: float, *told: Any) -> None:
        """Call everybody after a rest, s."""
        await asyncio.sleep(rest)
        self.tell(*told)
