"""A piece of the build list, and the list as plain text."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass

WIDTH = 110
"""Longest line of words in plain text; a choice. Tables are as wide as they need."""


@dataclass(frozen=True)
class Section:
    """A heading, sentences, and a table with its head in the first row."""

    title: str
    sentences: tuple[str, ...] = ()
    table: tuple[tuple[str, ...], ...] = ()


def as_text(title: str, sections: tuple[Section, ...]) -> str:
    """The list as plain text, sentences broken into lines, tables in columns."""
    lines = [title, "=" * len(title)]
    for section in sections:
        lines += ["", section.title, "-" * len(section.title)]
        for sentence in section.sentences:
            lines += _lines(sentence)
        if section.table:
            widths = [max(map(len, column)) for column in zip(*section.table)]
            lines += [""] * bool(section.sentences)
            lines += [
                "  ".join(cell.ljust(w) for cell, w in zip(row, widths)).rstrip() for row in section.table
            ]
    return "\n".join(lines) + "\n"


def numbered(steps: list[str]) -> tuple[str, ...]:
    """Steps with their numbers."""
    return tuple(f"{i}. {step}" for i, step in enumerate(steps, 1))


def listed(words: list[str]) -> str:
    """Words as a sentence lists them.

    Examples
    --------
    >>> listed(["drill", "saw", "file"])
    'drill, saw and file'
    """
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)


def _lines(sentence: str) -> list[str]:
    """A sentence with its number or a dash, further lines in line with the first."""
    first = sentence if sentence[0].isdigit() else f"- {sentence}"
    indent = " " * (first.index(" ") + 1)
    return textwrap.wrap(
        first, WIDTH, subsequent_indent=indent, break_long_words=False, break_on_hyphens=False
    )
