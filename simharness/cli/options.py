"""Options and arguments that several commands share, and the types of those that take numbers and names of
files.
"""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import click

from simharness.hints import meant_number
from simharness.printable import is_printable


class Number(click.FloatRange):
    """A finite number from `low` to `high`; what is beyond is told with a hint at the right unit."""

    def __init__(
        self,
        low: float | None = None,
        high: float | None = None,
        unit: str = "",
        *,
        above: bool = False,
        below: bool = False,
    ):
        super().__init__(low, high, min_open=above, max_open=below)
        self._unit = unit

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """The number; a comma is no decimal point."""
        try:
            number = float(value)
        except ValueError:
            meant = str(value).replace(",", ".")
            hint = f" (do you mean {meant}?)" if "," in str(value) and self._takes(meant) else ""
            self.fail(f"{value!r} is not a number{hint}.", param, ctx)
        if not math.isfinite(number):
            self.fail(f"{value!r} is not a finite number.", param, ctx)
        if not self._takes(number):
            self.fail(
                f"{value} is not in the range "
                f"{self._describe_range()}{meant_number(number, self._unit, self._takes)}.",
                param,
                ctx,
            )
        return number

    def _takes(self, value: float | str) -> bool:
        try:
            number = float(value)
        except ValueError:
            return False
        if self.min is not None and (number <= self.min if self.min_open else number < self.min):
            return False
        return self.max is None or (number < self.max if self.max_open else number <= self.max)


class FilePath(click.Path):
    """The name of a file or folder, free of characters that would act on a terminal."""

    def __init__(self, **limits: Any):
        super().__init__(path_type=Path, **limits)

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """The path."""
        if not is_printable(str(value)):
            self.fail(f"{value!r} holds control characters: rename it.", param, ctx)
        return super().convert(value, param, ctx)


GHZ = Number(0.1, 100, "GHz")
"""A frequency, as wide as a record allows."""

record_argument = click.argument("record", metavar="RECORD", type=FilePath())
json_option = click.option("--json", "as_json", is_flag=True, help="print one JSON object instead of text")
run_argument = click.argument("run", metavar="RUN")
quality_option = click.option(
    "--quality",
    type=click.Choice(["draft", "normal", "fine"]),
    default=None,
    help="which of several runs  [default: the finest]",
)
runs_option = click.option(
    "--runs",
    "runs_folder",
    type=FilePath(file_okay=True),
    default=Path("runs"),
    show_default=True,
    help="folder of the stored runs",
)
