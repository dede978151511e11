"""What long work tells the person who waits; the silent one has the same interface."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from numpy.typing import NDArray

MatchListener = Callable[["NDArray", "NDArray", float], None]
"""Takes frequency (f,) in Hz, complex S11 (f,), and by how much the last of the record moved it in the
complex plane; infinite where nobody can say yet."""


def span(seconds: float) -> str:
    """A time in s as people say it.

    Examples
    --------
    >>> span(42.3), span(150.0)
    ('42 s', '2 min')
    """
    return f"{seconds:.0f} s" if seconds < 100 else f"{seconds / 60:.0f} min"


class Progress(Protocol):
    """Receives what happens; never decides.

    One that also has a method `interim_match` (a `MatchListener`) is handed S11 of a run every few seconds
    while the solver steps; without it nothing of the kind is computed.
    """

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


def match_listener(progress: Progress) -> MatchListener | None:
    """Who wants S11 of runs under way; None where nobody does."""
    return getattr(progress, "interim_match", None)
