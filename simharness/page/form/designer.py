"""A design computed in a process of its own, so that the page goes on and the work can be given up."""

from __future__ import annotations

import asyncio
import multiprocessing
from collections.abc import Callable, Mapping
from multiprocessing.connection import Connection
from typing import Any

from simharness.errors import CancelledError, HarnessError, SolverError

_REST = 0.1
"""Seconds between two looks."""


class Designer:
    """One design under way.

    Parameters
    ----------
    options : mapping
        As `simharness.design` takes them.
    work : callable, optional
        Computes the text of a record and sentences from options, in the other process; for tests.
    """

    def __init__(
        self,
        options: Mapping[str, Any],
        work: Callable[[Mapping[str, Any]], tuple[str, list[str]]] | None = None,
    ):
        context = multiprocessing.get_context("spawn")
        self._answer, other = context.Pipe(duplex=False)
        self._cancelled = False
        self._process = context.Process(
            target=_answered, args=(other, dict(options), work or _designed), daemon=True
        )
        self._process.start()
        other.close()

    async def result(self, waiting: Callable[[float], None]) -> tuple[str, list[str]]:
        """Wait for the record.

        Parameters
        ----------
        waiting : callable
            Told the seconds so far, about ten times a second.

        Returns
        -------
        str, list of str
            The record as TOML, and what to look out for.

        Raises
        ------
        HarnessError
            What the design refuses, CancelledError where it was given up, SolverError where it was cut short.
        """
        seconds = 0.0
        try:
            while not self._answer.poll():
                if self._cancelled:
                    raise CancelledError("the design was given up; nothing was written")
                if not self._process.is_alive() and not self._answer.poll():
                    raise SolverError("the design was cut short; start it again")
                await asyncio.sleep(_REST)
                seconds += _REST
                waiting(seconds)
            try:
                kind, told = self._answer.recv()
            except EOFError:
                raise SolverError("the design was cut short; start it again") from None
        finally:
            self.close()
        if kind is not None:
            raise kind(told)
        return told

    def cancel(self) -> None:
        """Give it up."""
        self._cancelled = True

    def close(self) -> None:
        """End the process, if it still works."""
        self._process.kill()
        self._process.join(5)
        self._answer.close()


class _Refused(HarnessError):
    """What the other process refused, in its words."""


def _answered(
    answer: Connection,
    options: Mapping[str, Any],
    work: Callable[[Mapping[str, Any]], tuple[str, list[str]]],
) -> None:
    """In the other process: send the record, or why there is none."""
    from simharness.solver.parent_death import die_with_parent

    die_with_parent()
    try:
        answer.send((None, work(options)))
    except HarnessError as error:
        answer.send((_Refused, str(error)))


def _designed(options: Mapping[str, Any]) -> tuple[str, list[str]]:
    from simharness import design

    made = design(**options)
    return made.text, [made.rounding, *made.warnings]
