"""What the commands about finished antennas share."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from simharness.cli.options import FilePath, Number
from simharness.errors import StoreError

if TYPE_CHECKING:
    from simharness import SolvedRun


def known_run(named: str | None, record: Path, runs_folder: Path) -> tuple[SolvedRun | None, tuple[str, ...]]:
    """The run of a record that is named, or the finest that is stored, and remarks; none where there is none.

    Raises
    ------
    StoreError
        The run that is named is not there, or is damaged.
    """
    from simharness import open_run

    if named is not None:
        found = open_run(named, runs=runs_folder)
        return found, found.remarks
    try:
        found = open_run(str(record), runs=runs_folder)
    except StoreError as error:
        return None, (f"No run calibrates the model: {error}.",)
    return found, found.remarks


_OPTIONS: tuple[Callable[[Any], Any], ...] = (
    click.option(
        "--measured",
        type=FilePath(),
        metavar="FILE",
        help="S11 of the finished antenna (.s1p), weighed together with the readings",
    ),
    click.option(
        "--delay-ps", type=Number(-1000, 5000), help="one-way delay of its connector  [default: fitted]"
    ),
    click.option(
        "--tools",
        type=click.Choice(["hand", "mill"]),
        default="hand",
        show_default=True,
        help="what made the dimensions that were not read",
    ),
    click.option(
        "--caliper",
        "caliper_mm",
        type=Number(0.001, 5, "mm"),
        default=0.1,
        show_default=True,
        metavar="MM",
        help="what a caliper is right within in 95 of 100 cases, mm; it reads up to 150 mm",
    ),
    click.option(
        "--rule",
        "rule_mm",
        type=Number(0.001, 5, "mm"),
        default=0.5,
        show_default=True,
        metavar="MM",
        help="the same of a steel rule, for what is longer",
    ),
    click.option(
        "--run",
        "run",
        metavar="NAME",
        help="stored run of the record as drawn, which calibrates the model  [default: the finest there is]",
    ),
)


def reading_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Options of the readings and of what is weighed with them."""
    for option in reversed(_OPTIONS):
        command = option(command)
    return command
