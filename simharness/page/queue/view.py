"""The view of long works: one card to ask for them, and all that are waiting, under way or over."""

from __future__ import annotations

import asyncio
from importlib import resources
from typing import TYPE_CHECKING

from nicegui import ui

from simharness.errors import HarnessError
from simharness.jobs.job import FINISHED, WAITING, Job
from simharness.jobs.queue import Queue
from simharness.page.queue.asking import AskingCard
from simharness.page.queue.card import JobCard, show_behind
from simharness.page.queue.words import heading, moving_sentence, state_sentence
from simharness.page.widgets import plain_button, text

if TYPE_CHECKING:
    from simharness.page.bench import Bench
    from simharness.runs.look import InterimMatch

LOOK_SECONDS = 0.5
"""Between two looks at the queue."""

MOST_SHOWN = 30
"""Works that are over and shown, the last ones."""


def build(bench: Bench) -> None:
    """Make the view."""
    ui.add_css((resources.files("simharness.page.queue") / "queue.css").read_text(encoding="utf-8"))
    queue = Queue(bench.place.runs)
    found: list[JobList] = []
    AskingCard(bench, queue, lambda job: found[0].show_soon())
    found.append(JobList(bench, queue))


class JobList:
    """The jobs of a queue, the last added first, looked at again and again."""

    def __init__(self, bench: Bench, queue: Queue):
        self.bench, self.queue = bench, queue
        self._cards: dict[int, JobCard] = {}
        self._jobs: list[Job] | None = None
        self._refused = ""
        text("h2", "Waiting, under way and over")
        self._trouble = text("p", "").classes("refused")
        self._none = text("p", "Nothing yet.").classes("note")
        with ui.element("div").classes("controls") as self._idle:
            text("p", "Works are waiting, and nobody is at work on them.")
            plain_button("Go on with them", self._resume)
        self._idle.set_visibility(False)
        self._list = ui.element("div")
        self._older = text("p", "").classes("note")
        self._timer = ui.timer(LOOK_SECONDS, self.look)

    def show_soon(self) -> None:
        """Look again at once."""
        ui.timer(0.0, self.look, once=True)

    async def look(self) -> None:
        """Show the jobs as they are now."""
        known = self._jobs or []
        try:
            jobs, alive = await asyncio.to_thread(lambda: (self.queue.jobs(known), self.queue.alive))
        except HarnessError as error:
            self._trouble.set_text(str(error))
            return
        if self._list.is_deleted:
            return
        self._trouble.set_text("")
        first, self._jobs = self._jobs is None, jobs
        self._show(jobs)
        self._idle.set_visibility(not alive and any(job.state == WAITING for job in jobs))
        if not first:
            await self._tell_ends(known, jobs)
        await self._draw_looks()

    def _show(self, jobs: list[Job]) -> None:
        self._none.set_visibility(not jobs)
        jobs, older = newest(jobs)
        self._older.set_text(f"{older} older ones are not shown: forget some of these." if older else "")
        there = {job.number for job in jobs}
        for number in [number for number in self._cards if number not in there]:
            self._cards.pop(number).element.delete()
        for job in jobs:
            card = self._cards.get(job.number)
            if card is None:
                with self._list:
                    card = self._cards[job.number] = JobCard(self.bench, self.queue, job, self.look)
                card.element.move(self._list, target_index=0)
            elif card.job != job:
                card.update(job)

    async def _tell_ends(self, before: list[Job], now: list[Job]) -> None:
        """Say what has just ended; a run of the record on the desk is shown behind its curves."""
        open_before = {job.number for job in before if not job.over}
        for job in now:
            if not job.over or job.number not in open_before:
                continue
            self.bench.interim.tell(None, None, "")
            record = self.bench.record
            if job.state == FINISHED and job.kind == "solve" and record and record.name == job.record:
                result = await asyncio.to_thread(self.queue.result, job.number)
                await show_behind(self.bench, (result or {}).get("runs", [""])[-1])
            self.bench.say(f"{heading(job)}. {state_sentence(job)}", job.state != FINISHED)

    async def _draw_looks(self) -> None:
        """Hand out S11 of the run under way where it was looked at again."""
        for card in self._cards.values():
            if not card.wants_look:
                continue
            job = card.job
            try:
                seen: InterimMatch | None = await asyncio.to_thread(self.queue.interim, job.number)
            except HarnessError:
                continue  # said of the job when it is read again
            if seen is None or self._list.is_deleted:
                continue
            card.draw(seen, job.looks)
            record = self.bench.record
            if record is not None and record.name == job.record:
                self.bench.interim.tell(seen.frequency, seen.s11, moving_sentence(seen.moving))

    async def _resume(self) -> None:
        with self.bench.refusals():
            await asyncio.to_thread(self.queue.resume)
        await self.look()


def newest(jobs: list[Job]) -> tuple[list[Job], int]:
    """The jobs that are shown, in order, and the number of those that are not."""
    over = [job for job in jobs if job.over]
    hidden = {job.number for job in over[: max(len(over) - MOST_SHOWN, 0)]}
    return [job for job in jobs if job.number not in hidden], len(hidden)
