"""Confidence interval of a proportion, valid also where all or none of the sample have the property."""

from __future__ import annotations

import math

CONFIDENCE_STEPS = 1.959963984540054
"""Standard deviations on either side of the mean that contain 95 % of a normal distribution."""


def wilson_interval(hits: int, count: int, steps: float = CONFIDENCE_STEPS) -> tuple[float, float]:
    """Confidence interval of a proportion.

    Parameters
    ----------
    hits, count : int
        `hits` of the `count` samples have the property.
    steps : float
        Standard deviations; the default makes an interval of 95 %.

    Returns
    -------
    low, high : float
        0 to 1.

    Notes
    ----- The score interval of E. B. Wilson, J. Am. Stat. Assoc. 22, 1927, 209-212 (memory): the shares p for
    which |hits/count - p| is at most `steps` standard deviations sqrt(p (1 - p) / count). Unlike one with the
    deviation of the sample itself it has a width where all or none do.

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
