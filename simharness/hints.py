"""What was probably meant: a number in another unit, a word misspelt.

Each hint is the end of a message, or nothing.
"""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterable

OTHER_UNITS = {"GHz": (1e-3, 1e-9), "mm": (1e3, 1e-3)}
"""Factors that turn MHz and Hz into GHz, m and micrometres into mm."""

MIN_LIKENESS = 0.75
"""Of two words, by the ratio of `difflib`: two letters in eight may be wrong."""
_DIGITS = 12
"""Significant digits kept, so that no dust of the conversion is shown."""


def meant_number(value: object, unit: str, allowed: Callable[[float], bool]) -> str:
    """The same quantity in the right unit, where the value is one of a unit often confused.

    Parameters
    ----------
    value : object
        As given; anything but a number has no hint.
    unit : str
        "GHz" or "mm"; others have no hint.
    allowed : callable
        Whether a number would be allowed.

    Returns
    -------
    str

    Examples
    --------
    >>> meant_number(5800, "GHz", lambda value: 0.1 < value < 100)
    ' (do you mean 5.8?)'
    >>> meant_number(0.0229, "mm", lambda value: 1 < value < 500)
    ' (do you mean 22.9?)'
    >>> meant_number(-3.0, "mm", lambda value: 1 < value < 500)
    ''
    """
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not abs(value) < 1e15:
        return ""
    for factor in OTHER_UNITS.get(unit, ()):
        other = float(f"{value * factor:.{_DIGITS}g}")
        if allowed(other):
            return f" (do you mean {other:g}?)"
    return ""


def meant_word(word: str, known: Iterable[str]) -> str:
    """The known word that is nearest to a misspelt one, where one is near.

    Examples
    --------
    >>> meant_word("hight_mm", ("height_mm", "position_mm"))
    ' (do you mean height_mm?)'
    >>> meant_word("height", ("height_mm", "position_mm"))
    ' (do you mean height_mm?)'
    >>> meant_word("colour", ("height_mm", "position_mm"))
    ''
    """
    known = tuple(known)
    whole = [name for name in known if word and name.startswith(f"{word}_")]  # the unit left out
    near = whole if len(whole) == 1 else difflib.get_close_matches(word, known, 1, MIN_LIKENESS)
    return f" (do you mean {near[0]}?)" if near else ""
