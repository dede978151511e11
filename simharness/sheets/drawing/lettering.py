"""Letters on paper: fonts, sizes, and the room that text takes; m."""

from __future__ import annotations

import functools
from pathlib import Path as File

import matplotlib
from reportlab.lib.units import mm
from reportlab.lib.utils import simpleSplit
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

from simharness.sheets.flat.paths import Text

M = 1000 * mm
"""PDF points in a metre."""
PLAIN, BOLD = "DejaVuSans", "DejaVuSans-Bold"
SIZES = 1.8e-3, 2.5e-3, 3.5e-3, 5.0e-3
"""Heights of capitals of ISO 3098-1 (memory): names of fields, captions, numbers on a drawing, titles; m."""
CAP_HEIGHT = 0.729
"""Height of capitals over the size of the font."""
_BELOW = 0.33
"""How far letters with a tail, brackets and commas reach below the line, in heights of capitals."""
_TAILED = set("gjpqy,;()Q")


@functools.cache
def use_fonts() -> None:
    """Make the two fonts known; they are embedded, so that paper looks the same everywhere."""
    folder = File(matplotlib.get_data_path()) / "fonts" / "ttf"
    for name in (PLAIN, BOLD):
        pdfmetrics.registerFont(TTFont(name, str(folder / f"{name}.ttf")))


def points(height: float) -> float:
    """Size of the font, in points, whose capitals are `height` (m) high."""
    return height * M / CAP_HEIGHT


@functools.lru_cache(maxsize=4096)
def width(words: str, height: float, font: str = PLAIN) -> float:
    """Length of a line of text, m.

    Examples
    --------
    >>> 13.5e-3 < width("83.85", 3.5e-3) < 14.5e-3
    True
    """
    use_fonts()
    return pdfmetrics.stringWidth(words, font, points(height)) / M


def lines(words: str, height: float, room: float, font: str = PLAIN) -> list[str]:
    """Text broken into lines that are no longer than `room`, m."""
    use_fonts()
    return simpleSplit(words, font, points(height), room * M)


def fitting(words: str, room: float, font: str = PLAIN, largest: float = SIZES[3]) -> float:
    """The largest of `SIZES` in which a text is no longer than `room`, the smallest if none is; m."""
    suitable = [size for size in SIZES if size <= largest and width(words, size, font) <= room]
    return max(suitable, default=SIZES[0])


def text_bounds(text: Text, font: str = PLAIN) -> tuple[float, float, float, float]:
    """u low, v low, u high, v high of a text on a drawing, m."""
    long, (u, v), half = width(text.words, text.height, font), text.at, text.height / 2
    start = {"start": 0.0, "middle": -long / 2, "end": -long}[text.anchor]
    low = -half - (_BELOW * text.height if _TAILED & set(text.words) else 0.0)
    if text.upward:
        # Turned to the left: what was below the line is on its right.
        return u - half, v + start, u - low, v + start + long
    return u + start, v + low, u + start + long, v + half
