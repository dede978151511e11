"""Progress on the terminal: a bar where one can be drawn, a line now and then where not."""

from __future__ import annotations

import sys
import time
from typing import TYPE_CHECKING

import click

from simharness.printable import printable
from simharness.progress import span

if TYPE_CHECKING:
    from rich.progress import Progress, TaskID


class Bar:
    """Progress for people; the silent twin is `simharness.progress.Silent`."""

    def __init__(self) -> None:
        self._terminal = sys.stderr.isatty()
        self._live: Progress | None = None
        self._task: TaskID | None = None
        self._said = 0.0

    def note(self, text: str) -> None:
        text = printable(text)
        if self._live is not None:
            self._live.console.print(f"  {text}", markup=False, highlight=False)
        else:
            click.echo(f"  {text}", err=True)

    def advance(self, share: float, seconds_left: float, text: str) -> None:
        left = f"about {span(seconds_left)} left"
        if share == 0.0 and seconds_left == 0.0:
            left = "begun"
        if not self._terminal:
            if time.monotonic() - self._said > 20:
                self._said = time.monotonic()
                click.echo(f"  {100 * share:3.0f} %  {left}  ({text})", err=True)
            return
        if self._live is None or self._task is None:
            self._live, self._task = self._started()
        self._live.update(self._task, completed=min(share, 1.0), description=f"{left}, {text}")

    def _started(self) -> tuple[Progress, TaskID]:
        """A bar on the terminal, and its one task."""
        from rich.console import Console
        from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

        live = Progress(
            BarColumn(),
            TextColumn("{task.percentage:3.0f} %"),
            TimeElapsedColumn(),
            TextColumn("{task.description}", markup=False),
            console=Console(stderr=True),
            transient=True,
        )
        task = live.add_task("", total=1.0)
        live.start()
        return live, task

    def done(self) -> None:
        if self._live is not None:
            self._live.stop()
            self._live = None
