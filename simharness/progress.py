"""What long work tells the person who waits; the silent one has the same interface."""

from __future__ import annotations

from typing import Protocol


def span(seconds: float) -> str:
    """A time in s as people say it.

    Examples
    --------
    >>> span(42.3), span(150.0)
    ('42 s', '2 min')
    """
    return f"{seconds:.0f} s" if seconds < 100 else f"{seconds / 60:.0f} min"


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
