"""What a sample tells of a share: an interval that stays true where all or none of it do."""

from __future__ import annotations

import math

CONFIDENCE_STEPS = 1.959963984540054
"""Standard deviations of a normal distribution that hold 95 in 100, to either side of the mean."""


def wilson_interval(hits: int, count: int, steps: float = CONFIDENCE_STEPS) -> tuple[float, float]:
    """Shares of a population that a sample does not contradict.

    Parameters
    ----------
    hits, count : int
        Of `count` that were looked at, `hits` do.
    steps : float
        Standard deviations; the default makes an interval of 95 %.

    Returns
    -------
    low, high : float
        0 to 1.

    Notes
    -----
    The score interval of E. B. Wilson, J. Am. Stat. Assoc. 22, 1927, 209-212 (memory): the shares p for which
    |hits/count - p| is at most `steps` standard deviations sqrt(p (1 - p) / count). Unlike one with the deviation of
    the sample itself it has a width where all or none do.

    Examples
    --------
    >>> print(*(round(share, 4) for share in wilson_interval(2000, 2000)))
    0.9981 1.0
    >>> print(*(round(share, 3) for share in wilson_interval(50, 100)))
    0.404 0.596
    """
    share, spread = hits / count, steps**2 / count
    middle = (share + spread / 2) / (1 + spread)
    half = steps / (1 + spread) * math.sqrt(share * (1 - share) / count + spread / (4 * count))
    return (0.0 if hits == 0 else middle - half), (1.0 if hits == count else middle + half)
