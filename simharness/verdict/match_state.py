"""Whether a match meets its target: yes, no, or too close to call for what its figures are trusted to."""

from __future__ import annotations

from enum import Enum

_HEADLINES = {"met": "Target met", "too close to call": "Too close to call", "not met": "Target not met"}


class MatchState(Enum):
    """How the worst |S11| in the band stands to the target; the value is what people read."""

    MET = "met"
    CLOSE = "too close to call"
    MISSED = "not met"

    @property
    def headline(self) -> str:
        """The state as a title.

        Examples
        --------
        >>> MatchState.CLOSE.headline
        'Too close to call'
        """
        return _HEADLINES[self.value]


def match_state(worst_db: float, target_db: float, error: float) -> MatchState:
    """State of a match.

    Parameters
    ----------
    worst_db, target_db : float
        Largest |S11| in the band, and what it must not exceed, dB.
    error : float
        What S11 is trusted to, a distance in the complex plane.

    Examples
    --------
    >>> match_state(-12.0, -10.0, 0.04), match_state(-10.2, -10.0, 0.04), match_state(-8.0, -10.0, 0.04)
    (<MatchState.MET: 'met'>, <MatchState.CLOSE: 'too close to call'>, <MatchState.MISSED: 'not met'>)
    """
    margin = 10 ** (target_db / 20) - 10 ** (worst_db / 20)
    if abs(margin) <= error:
        return MatchState.CLOSE
    return MatchState.MET if margin > 0 else MatchState.MISSED
