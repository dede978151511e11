"""Numbers, figures and tables as a person reads them."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import click

from simharness.figures import number
from simharness.library.values import plain
from simharness.printable import printable

__all__ = [
    "number",
    "plain",
    "print_columns",
    "print_json",
    "print_wrapped",
    "print_written",
    "threads_in_words",
]


def print_json(value: Any) -> None:
    """One JSON object on standard output; see `plain` for the types."""
    click.echo(json.dumps(plain(value), indent=2))


def threads_in_words(count: int) -> str:
    """Number of solver threads, one of them in the singular."""
    return f"{count} thread{'s' * (count != 1)}"


def print_written(folder: Path, files: tuple[Path, ...]) -> None:
    """The files that were written into a folder, its name said once."""
    names = ", ".join(path.name for path in files)
    # file names stay whole: they may be copied from the terminal
    click.echo(
        textwrap.fill(
            f"written to {folder}: {names}",
            96,
            initial_indent="  ",
            subsequent_indent="    ",
            break_on_hyphens=False,
            break_long_words=False,
        )
    )


def print_columns(rows: Sequence[tuple[str, ...]], head: tuple[str, ...] | None = None) -> None:
    """Left-aligned columns; the head is underlined."""
    everything = [tuple(map(printable, row)) for row in ([head] if head else []) + [*rows]]
    widths = [max(len(row[i]) for row in everything) for i in range(len(everything[0]))]
    for n, row in enumerate(everything):
        click.echo("  " + "  ".join(cell.ljust(width) for cell, width in zip(row, widths)).rstrip())
        if head and n == 0:
            click.echo("  " + "  ".join("-" * width for width in widths))


def print_wrapped(sentence: str, mark: str = "-") -> None:
    """A sentence as an indented paragraph."""
    click.echo(
        click.wrap_text(printable(sentence), width=96, initial_indent=f"  {mark} ", subsequent_indent="    ")
    )
