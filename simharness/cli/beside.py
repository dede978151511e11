"""What `show` and `compare` share where they set several things side by side."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from simharness.library import SideBySide
    from simharness.library.comparing.beside import Item

_ONE_PORT = re.compile(r"\.s\d+p", re.IGNORECASE)


def is_record(words: str) -> bool:
    """Whether words name the file of a record."""
    return Path(words).suffix.lower() == ".toml"


def is_run(words: str) -> bool:
    """Whether words name a record or a run: names have neither dots nor folders, and are no file's."""
    path = Path(words)
    plain = path.name == words and not path.suffix
    return is_record(words) or (plain and (path.is_dir() or not path.exists()))


def set_side_by_side(
    named: Sequence[str], quality: str | None, runs_folder: Path
) -> tuple[SideBySide, tuple[str, ...]]:
    """Things by their names on the command line, and remarks on which runs were taken.

    A record file stands by its estimate, a Touchstone file for itself, anything else is a run.
    """
    from simharness import open_run, read_record, side_by_side
    from simharness.errors import InputError
    from simharness.library.comparing.beside import FEWEST, MOST

    if not FEWEST <= len(named) <= MOST:
        raise InputError("side by side", f"{len(named)} given", f"must be {FEWEST} or {MOST}")
    items: list[Item] = []
    remarks: list[str] = []
    for words in named:
        if is_record(words):
            items.append(read_record(words))
        elif _ONE_PORT.fullmatch(Path(words).suffix):
            items.append(Path(words))
        else:
            run = open_run(words, runs=runs_folder, quality=quality)
            items.append(run)
            remarks += run.remarks
    return side_by_side(items), tuple(dict.fromkeys(remarks))


def print_tables(found: SideBySide) -> None:
    """What each side is, the figures, and the fields in which the records differ."""
    from simharness.beside.rows import DIFFER
    from simharness.cli.text import number, print_columns

    click.echo()
    head = ("", *(side.label for side in found.sides), "")
    kinds = ("", *(side.detail for side in found.sides), "")
    print_columns([kinds, *((row.label, *map(number, row.values), row.state) for row in found.figures)], head)
    if found.fields:
        click.echo()
        labels = tuple(side.label for side in found.sides)
        print_columns([(row.name, *row.values, row.unit) for row in found.fields], ("field", *labels, "unit"))
    if found.same:
        others = "all other " if found.fields else "all "
        click.echo(f"\n  {others}{found.same} fields are the same")
    if any(row.state == DIFFER for row in found.figures):
        click.echo("\n  differ: two sides are further apart than their error bars together")


def picture_file(found: SideBySide, runs_folder: Path) -> Path:
    """Where the picture of several things goes: a folder of its own beside the runs, named after them."""
    names = [re.sub(r"[^a-z0-9]+", "-", side.label.lower()).strip("-")[:48] for side in found.sides]
    return runs_folder / f"beside-{'-and-'.join(names)}-picture" / "beside.png"
