"""What long work tells the person who waits; the silent one has the same interface."""

from __future__ import annotations

from typing import Protocol


class Progress(Protocol):
    """Receives what happens; never decides."""

    def note(self, text: str) -> None:
        """One line worth keeping."""

    def advance(self, share: float, seconds_left: float, text: str) -> None:
        """Share done (0 to 1), seconds left as now believed, and what is being done."""

    def done(self) -> None:
        """The work has ended, well or not."""


class Silent:
    """Says nothing."""

    def note(self, text: str) -> None: ...

    def advance(self, share: float, seconds_left: float, text: str) -> None: ...

    def done(self) -> None: ...
