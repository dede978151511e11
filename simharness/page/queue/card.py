"""One job of the list: how far it is, what came out, and what can be done about it."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from nicegui import ui

from simharness.jobs.job import DAMAGED, FINISHED, RUNNING, WAITING, Job
from simharness.page.queue.settling import SettlingCurve
from simharness.page.queue.words import heading, moving_sentence, result_tables, state_sentence
from simharness.page.widgets import plain_button, text, text_list, text_table
from simharness.printable import printable

if TYPE_CHECKING:
    from simharness.jobs.queue import Queue
    from simharness.page.bench import Bench
    from simharness.runs.look import InterimMatch


class JobCard:
    """A job in the list.

    Parameters
    ----------
    bench : Bench
    queue : Queue
    job : Job
    looked : callable
        Called when the list has to be looked at again.
    """

    def __init__(self, bench: Bench, queue: Queue, job: Job, looked: Callable[[], Any]):
        self.bench, self.queue, self.job, self._again = bench, queue, job, looked
        self._curve: SettlingCurve | None = None
        self._looks = 0
        with ui.element("section").classes("job") as self.element:
            self.element.props["aria-label"] = heading(job)
            text("h3", heading(job))
            self._state = text("p", "")
            self._bar = ui.element("progress").props('max="1"')
            self._bar.props["aria-label"] = f"Done of {heading(job)}"
            self._drawn = ui.element("div")
            with ui.element("details") as self._notes:
                text("summary", "What was told")
                self._lines = ui.element("div")
            with ui.element("div").classes("controls"):
                self._cancel = self._button("Cancel", self._on_cancel)
                self._show = self._button("Show what came out", self._on_show)
                self._repeat = self._button("Start again", self._on_repeat)
                self._forget = self._button("Forget", self._on_forget)
            self._outcome = ui.element("div")
        self._told: tuple[str, ...] | None = None
        self.update(job)

    def _button(self, words: str, pressed: Callable[[], Any]) -> ui.element:
        """A button that names its job to who does not see where it stands."""
        button = plain_button(words, pressed)
        button.props["aria-label"] = f"{words}: number {self.job.number}"
        return button

    def update(self, job: Job) -> None:
        """Show the job as it is now."""
        self.job = job
        self._state.set_text(state_sentence(job))
        self._state.classes(
            remove="good refused", add={FINISHED: "good", "failed": "refused"}.get(job.state, "")
        )
        self._bar.set_visibility(job.state == RUNNING)
        if job.state == RUNNING:
            self._bar.props["value"] = f"{job.share:.3f}"
            self._bar.update()
        self._cancel.set_visibility(job.state in (RUNNING, WAITING) and not job.cancelling)
        self._show.set_visibility(job.state == FINISHED)
        self._repeat.set_visibility(job.over and job.state not in (DAMAGED, FINISHED))
        self._forget.set_visibility(job.over)
        self._drawn.set_visibility(job.state == RUNNING)
        self._notes.set_visibility(bool(job.notes))
        if job.notes != self._told:
            self._told = job.notes
            self._lines.clear()
            with self._lines:
                text_list(job.notes)

    @property
    def wants_look(self) -> bool:
        """Whether there is a look at S11 that is not drawn yet."""
        return self.job.state == RUNNING and self.job.looks != self._looks

    def draw(self, seen: InterimMatch, looks: int) -> None:
        """Draw S11 of the run under way."""
        self._looks = looks
        if self._curve is None:
            with self._drawn:
                self._curve = SettlingCurve()
        sentence = moving_sentence(seen.moving)
        self._curve.show(seen, sentence[:1].upper() + sentence[1:])

    async def _on_cancel(self) -> None:
        await self._asked(lambda: self.queue.cancel(self.job.number))

    async def _on_repeat(self) -> None:
        job = await self._asked(lambda: self.queue.again(self.job.number))
        if job is not None:
            self.bench.say(f"Added again as number {job.number}.")

    async def _on_forget(self) -> None:
        await self._asked(lambda: self.queue.forget(self.job.number))

    async def _asked(self, work: Callable[[], Any]) -> Any:
        """Ask the queue for something; None where it was refused, which is said."""
        found = None
        with self.bench.refusals():
            found = await asyncio.to_thread(work)
        await self._again()
        return found

    async def _on_show(self) -> None:
        number, job = self.job.number, self.job

        def read() -> tuple[dict[str, Any], Any]:
            found = self.queue.result(number) or {}
            return found, result_tables(job, found.get("data", {}))

        found = await self._asked(read)
        if found is None:
            return
        result, tables = found
        self._outcome.clear()
        with self._outcome:
            text_list([sentence for sentence in result.get("sentences", ()) if isinstance(sentence, str)])
            for title, table in tables:
                text("h4", title)
                text_table(table, title)
            self._ways_on(result)

    def _ways_on(self, result: dict[str, Any]) -> None:
        """What can be done with what came out."""
        runs, record = result.get("runs") or [""], result.get("record_text")
        files = [name for name in result.get("files", ()) if isinstance(name, str)]
        if files:
            text("p", f"Written: {', '.join(map(self._short, files))}").classes("note")
        with ui.element("div").classes("controls"):
            if self.job.kind in ("solve", "tune") and isinstance(runs[-1], str) and runs[-1]:
                plain_button("Show this run behind the curves", lambda: show_behind(self.bench, runs[-1]))
            if self.job.kind == "tune" and isinstance(record, str) and record:
                plain_button("Put the tuned record on the desk", lambda: self._put(record))

    def _short(self, name: str) -> str:
        """A file below the folder of the runs as seen from there."""
        return printable(name.removeprefix(f"{self.queue.runs.parent}/"), keep="")

    def _put(self, record: str) -> None:
        from simharness.page.desk import Desk

        bench = self.bench
        if bench.desk is not None and bench.desk.dirty:
            bench.say("The record on the desk is not saved: save it first, or undo.", refused=True)
            return

        desk = bench.attempt(lambda: Desk.from_text(record, bench.place.records, saved=False))
        if desk is not None:
            bench.put(desk)


async def show_behind(bench: Bench, run: str) -> None:
    """Show a stored run behind the curves of the antenna; a refusal is said."""
    if await bench.open_ghost(run) is not None:
        bench.say(f"Run {run} is now shown behind the curves of the antenna.")
