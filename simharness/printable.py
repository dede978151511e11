"""Text from elsewhere made safe to show.

A title or a file name must not ring, move the cursor or turn the line around.
"""

from __future__ import annotations

import os
import unicodedata

_ACTING = {"Cc", "Cf", "Cs", "Zl", "Zp"}
"""Unicode's general categories of characters that act instead of showing.

Controls, formats, halves of a surrogate pair, line ends.
"""
_JOINERS = "\u200c\u200d"
"""Formats that some scripts and emoji are spelt with; they do nothing else."""

LONGEST_VALUE = 60
"""Characters of a value that are quoted in a message."""


def is_printable(text: str, keep: str = "") -> bool:
    """Whether a text holds nothing but characters that show, blanks, and those of `keep`.

    Examples
    --------
    >>> is_printable("8 slots, 5,8\\u202fGHz"), is_printable("\\x1b[2J")
    (True, False)
    >>> is_printable("two\\nlines", keep="\\n")
    True
    """
    if text.isascii() and text.isprintable():
        return True
    return not any(map(_acts, text.translate(dict.fromkeys(map(ord, keep)))))


def printable(text: str, keep: str = "\n") -> str:
    """The text with every character that would act, but those of `keep`, spelt as an escape.

    Examples
    --------
    >>> print(printable("ring \\x07, red \\x1b[31m, caf\\u00e9"))
    ring \\x07, red \\x1b[31m, café
    """
    if text.isascii() and text.isprintable():
        return text
    return "".join(
        c.encode("unicode_escape").decode("ascii") if c not in keep and _acts(c) else c for c in text
    )


def quoted(value: object) -> str:
    """A value as it may stand in a message: printable, on one line, and not long; a path stays whole.

    Examples
    --------
    >>> quoted("two\\nlines"), len(quoted("x" * 1000)), quoted(0.1)
    ('two\\\\nlines', 60, '0.1')
    """
    try:
        text = str(value)
    except (ValueError, RecursionError):  # whole numbers of thousands of digits, tables in tables in tables
        text = f"<{type(value).__name__}>"
    if isinstance(value, os.PathLike):
        return printable(text, keep="")
    # What is cut off is not worth the time to spell.
    text = printable(text[: LONGEST_VALUE + 1], keep="")
    return text if len(text) <= LONGEST_VALUE else text[: LONGEST_VALUE - 3] + "..."


def _acts(character: str) -> bool:
    return unicodedata.category(character) in _ACTING and character not in _JOINERS
