"""The live answers as a server asks for them: predictions at once, the estimate and the tools' band a little
later, by two processes of their own."""

from __future__ import annotations

import asyncio
import contextlib
import threading
from concurrent.futures import Future, InvalidStateError
from dataclasses import dataclass, field
from typing import Any

from simharness.errors import MachineError
from simharness.live.answers import Exact, Prediction
from simharness.live.channel import DIED, Channel
from simharness.live.model import LiveModel, reached
from simharness.live.tool_band import ToolBand, tool_band, tool_dimensions
from simharness.records import Record
from simharness.tolerance.tool_errors import require_tools

_DEATHS = 3
"""Ends of a worker, one after the other, after which it is not started again for the same record."""
_LOOK_SECONDS = 0.1
_REMEMBERED = 8
"""Fields touched last that are solved first also for the next base."""


@dataclass
class _Question:
    """A record whose estimate is wanted, and who waits for it."""

    record: Record
    answer: Future[Exact | None] = field(default_factory=Future)
    warnings: Future[tuple[str, ...] | None] = field(default_factory=Future)


class Live:
    """Answers about one record that changes, for one page.

    Its functions may be called from the event loop of a server: they return at once, or are awaited. The
    processes are started when something is first asked, write nothing to the disk, and end with `close` or
    with this process.

    Attributes
    ----------
    model : LiveModel or None
        What predictions are made from; None until it is there, and for antennas without slots.
    """

    def __init__(self) -> None:
        self.model: LiveModel | None = None
        self._lock = threading.RLock()
        self._near = Channel("near", self._hear_near)
        self._exact = Channel("exact", self._hear_exact)
        self._opened: Record | None = None
        self._opening, self._known, self._deaths, self._number, self._bands = 0, 0, 0, 0, 0
        self._asked: dict[int, _Question] = {}
        self._waiting: _Question | None = None
        self._last: _Question | None = None
        self._learned: Exact | None = None
        self._touched: list[str] = []
        self._tools = False

    @property
    def pids(self) -> tuple[int | None, int | None]:
        """Numbers of the processes of surfaces and of estimates; None for one that does not run."""
        return self._near.pid, self._exact.pid

    def open(self, record: Record) -> None:
        """Make a record the base of the predictions, as soon as its response surface is there.

        Until then the base before it stays. `exact` calls it too, where a record cannot be reached
        from the base.

        Raises
        ------
        MachineError
            No process can be started.
        """
        with self._lock:
            self._opened = record
            self._opening += 1
            if not record.slots:
                self.model = None
                return
            self._near.send(("open", self._opening, record))
            for name in reversed(self._touched):
                self._near.send(("field", name))
            if self._tools:
                self._near.send(("tools",))

    def predict(self, record: Record) -> Prediction | None:
        """What a record does by the response surface, within milliseconds; None where it is not known yet.

        Fields that differ from the base and are not known are solved next.
        """
        model = self.model
        if model is None:
            return None
        found = model.predicted(record)
        if found is None:
            for name in model.unknown(reached(model.record, record, model.paths) or ()):
                self.prefetch(name)
        return found

    def prefetch(self, field: str) -> None:
        """Solve next what a field does, because it has been touched: a dotted name as in the record."""
        with self._lock:
            if self._touched[:1] == [field]:
                return
            self._touched = [field, *(name for name in self._touched if name != field)][:_REMEMBERED]
            if self._opened is not None and self._opened.slots:
                self._near.send(("field", field))

    async def exact(self, record: Record) -> Exact | None:
        """Estimate of a record; None where another was asked before this one was begun.

        Raises
        ------
        HarnessError
            The estimate cannot be made of this record, or its process ended: one sentence.
        """
        question = _Question(record)
        with self._lock:
            if self._waiting is not None:
                _settle(self._waiting.answer, None)
                self._waiting = None
            if self._asked:
                self._waiting = question
            else:
                self._send(question)
        return await asyncio.wrap_future(question.answer)

    async def warnings(self, record: Record) -> tuple[str, ...] | None:
        """What `check` warns of in the record whose estimate was answered last; None where another was asked.

        Raises
        ------
        HarnessError
            The check cannot be made of this record, or its process ended: one sentence.
        """
        with self._lock:
            last = self._last
        if last is None or last.record is not record:
            return None
        return await asyncio.wrap_future(last.warnings)

    def _send(self, question: _Question) -> None:
        if self._last is not None:
            _settle(self._last.warnings, None)
        self._number += 1
        self._last = self._asked[self._number] = question
        try:
            self._exact.send(("exact", self._number, question.record))
        except MachineError as error:
            self._asked.clear()
            _settle(question.answer, error)

    async def band(self, record: Record, tools: str) -> ToolBand | None:
        """What the errors of tools do to a record; it waits until all of their dimensions are solved.

        None where another was asked meanwhile, or where the record cannot be predicted.

        Parameters
        ----------
        record : Record
        tools : str
            As in `simharness tolerance`: "hand" or "mill".

        Raises
        ------
        InputError
            Unknown tools.
        """
        require_tools(tools)
        if not record.slots:
            return None
        with self._lock:
            self._bands += 1
            mine = self._bands
            first, self._tools = not self._tools, True
            if not self._reaches(record):
                self.open(record)
            elif first:
                self._near.send(("tools",))
        while mine == self._bands:
            model, known = self.model, self._known == self._opening
            if known and model is None:
                return None
            if known and model is not None and not self._missing(model, record):
                return await asyncio.to_thread(tool_band, model, record, tools)
            await asyncio.sleep(_LOOK_SECONDS)
        return None

    def _missing(self, model: LiveModel, record: Record) -> tuple[str, ...]:
        """Paths without which there is no band: of all that tools make, and of what has been changed."""
        names = [one.name for one in tool_dimensions(model.record)]
        return model.unknown([*names, *(reached(model.record, record, model.paths) or ())])

    def _reaches(self, record: Record) -> bool:
        """Whether a record can be predicted from the base that there is, or that is being made."""
        if self._opened is None:
            return False
        model = self.model if self._known == self._opening else None
        return reached(self._opened, record, {} if model is None else model.paths) is not None

    def close(self) -> None:
        """End both processes; whoever still waits gets None."""
        with self._lock:
            self._bands += 1
            asked = [*self._asked.values(), *(one for one in (self._waiting, self._last) if one)]
            self._asked, self._waiting, self._last, self._opened = {}, None, None, None
        self._near.close()
        self._exact.close()
        for question in asked:
            _settle(question.answer, None)
            _settle(question.warnings, None)

    def _hear_near(self, message: tuple) -> None:
        """A message of the worker of surfaces and paths, in its thread."""
        with self._lock:
            if message == DIED:
                self._deaths += 1
                if self._opened is not None and self._deaths < _DEATHS:
                    self.open(self._opened)
                return
            self._deaths = 0
            if message[1] != self._opening:
                return
            if message[0] == "model":
                self.model, self._known = message[2], message[1]
                if self.model is not None and self._learned is not None:
                    self.model.learn(self._learned)
            elif self.model is not None:
                self.model.keep(*message[2:])

    def _hear_exact(self, message: tuple) -> None:
        """A message of the worker of estimates, in its thread."""
        with self._lock:
            if message == DIED:
                failed = MachineError("the process of the estimate has ended; change a field to ask it again")
                for question in self._asked.values():
                    _settle(question.answer, failed)
                self._asked = {}
                if self._last is not None:
                    _settle(self._last.warnings, failed)
            else:
                word, number, told = message
                asked = self._asked.pop(number, None)
                if word == "exact":
                    self._learn(told)
                answer = MachineError(told) if word == "failed" else told
                if asked is not None:
                    _settle(asked.answer, answer)
                elif number == self._number and self._last is not None:
                    _settle(self._last.warnings, answer)
            if self._waiting is not None and not self._asked:
                question, self._waiting = self._waiting, None
                self._send(question)

    def _learn(self, exact: Exact) -> None:
        """Take an exact answer into the predictions; its record becomes their base where they do not reach
        it."""
        self._learned = exact
        if self.model is not None:
            self.model.learn(exact)
        if not self._reaches(exact.record):
            self.open(exact.record)


def _settle(answer: Future[Any], value: Any) -> None:
    """Give an answer to the one who waits, if somebody still does."""
    with contextlib.suppress(InvalidStateError):
        if isinstance(value, MachineError):
            answer.set_exception(value)
        else:
            answer.set_result(value)
