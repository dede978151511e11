"""Title, foot line and legend of a picture, measured so that text of any length stays on the sheet."""

from __future__ import annotations

from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.legend import Legend

from simharness.plot.style import FAINT, STATES, at, canvas, sheet
from simharness.records import Record
from simharness.verdict.match_state import MatchState

_MARGIN = 0.35
"""Left and right of titles and of the line at the foot, inches."""
_LINE = 1.28
"""Height of a line of text over the size of its letters."""
_MIN_TITLE = 11.5
"""Size of a title that is longer than two lines, points."""


def titled_sheet(
    width: float,
    height: float,
    title: str,
    what: str,
    size: float = 15.0,
    state: MatchState | None = None,
    note: str = "",
) -> Figure:
    """A sheet with its title, its subject, and a line at its foot; all else is placed in inches from below.

    Parameters
    ----------
    width, height : float
        Inches, for a title of one line; a longer one is wrapped, and the sheet grows upwards accordingly.
    title, what : str
        Of any length; words that are too long for a line are broken.
    size : float
        Of the title in points; one of more than two lines is set smaller.
    state : MatchState, optional
        Shown in its own colour at the end of the line of `what`.
    note : str
        The line at the foot, see `foot`.
    """
    figure = sheet(width, height)
    room, aside = (
        width - 2 * _MARGIN,
        text_width(figure, state.headline, 12.0, "bold") + 0.3 if state else 0.0,
    )
    titles, size = _title_lines(figure, title, size, room)
    said = wrapped(figure, what, room - aside, 12.0)
    line = _LINE * 12.0 / 72
    first = max(0.50, 0.18 + len(titles) * _LINE * size / 72 + 0.04)
    high = height + first + len(said) * line - (0.50 + line)
    figure.set_size_inches(width, high)
    top = high - 0.18
    for words in titles:
        figure.text(
            *at(figure, _MARGIN, top), words, fontsize=size, weight="bold", va="top", parse_math=False
        )
        top -= _LINE * size / 72
    top = high - first
    if state is not None:
        figure.text(
            *at(figure, width - _MARGIN, top),
            state.headline,
            fontsize=12,
            weight="bold",
            color=STATES[state],
            va="top",
            ha="right",
        )
    for words in said:
        figure.text(*at(figure, _MARGIN, top), words, fontsize=12, color=FAINT, va="top", parse_math=False)
        top -= line
    foot(figure, note)
    return figure


def record_sheet(width: float, height: float, record: Record, what: str, **how: Any) -> Figure:
    """A sheet with the title of a record, or its name where it has none; see `titled_sheet`."""
    return titled_sheet(width, height, record.title or record.name, what, **how)


def text_width(figure: Figure, text: str, size: float, weight: str = "normal") -> float:
    """Of a text, inches."""
    font = FontProperties(size=size, weight=weight)
    return (
        float(canvas(figure).get_renderer().get_text_width_height_descent(text, font, False)[0]) / figure.dpi
    )


def wrapped(figure: Figure, text: str, room: float, size: float, weight: str = "normal") -> list[str]:
    """Lines of a text that fit into a width in inches; a word that is too long for a line is broken."""
    lines, line = [], ""
    for word in text.split():
        for piece in _pieces(figure, word, room, size, weight):
            longer = f"{line} {piece}".lstrip()
            if text_width(figure, longer, size, weight) > room:
                lines.append(line)
                longer = piece
            line = longer
    return [each for each in [*lines, line] if each]


def _pieces(figure: Figure, word: str, room: float, size: float, weight: str) -> list[str]:
    """A word in pieces that fit into a width; the whole word where it does."""
    whole = text_width(figure, word, size, weight)
    if whole <= room:
        return [word]
    # Letters differ in width: no piece is wider than its share of the widest.
    count = max(1, int(0.9 * room / max(text_width(figure, letter, size, weight) for letter in set(word))))
    return [word[n : n + count] for n in range(0, len(word), count)]


def _title_lines(figure: Figure, title: str, size: float, room: float) -> tuple[list[str], float]:
    """A title in lines, and its size: smaller where it needs more than two."""
    for points in (size, 0.87 * size, _MIN_TITLE):
        lines = wrapped(figure, title, room, points, "bold")
        if len(lines) <= 2:
            break
    return lines, points


def foot(figure: Figure, text: str) -> None:
    """A line at the foot, set smaller and then in two lines where it is long; nothing if it is empty."""
    room = figure.get_size_inches()[0] - 2 * _MARGIN
    for size in (10.5, 9.5, 8.5):
        lines = wrapped(figure, text, room, size)
        if len(lines) <= 1:
            break
    if lines:
        figure.text(
            *at(figure, _MARGIN, 0.12 if len(lines) == 1 else 0.08),
            "\n".join(lines),
            fontsize=size,
            color=FAINT,
            va="bottom",
            linespacing=1.1,
        )


def legend(figure: Figure, axes: Axes, x: float, y: float, **how: Any) -> Legend:
    """Legend of what axes show, its upper left corner at a point in inches from below."""
    return figure.legend(
        *axes.get_legend_handles_labels(),
        loc="upper left",
        borderaxespad=0,
        columnspacing=1.6,
        bbox_to_anchor=at(figure, x, y),
        **how,
    )
