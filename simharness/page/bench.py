"""What one tab of the page works on: the record being edited, what the models say of it, and who is told.

The bench knows no browser. Views call its methods and connect to its signals; see `layout`.
"""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from simharness.errors import HarnessError
from simharness.page.place import Place
from simharness.page.signal import Signal

if TYPE_CHECKING:
    from simharness.library.solved_run import SolvedRun
    from simharness.live.answers import Exact, Prediction
    from simharness.live.front import Live
    from simharness.live.tool_band import ToolBand
    from simharness.page.desk import Desk
    from simharness.records import Record

ENDED_SECONDS, PAUSE_SECONDS = 0.3, 0.6
"""Rest after the end of a gesture, and within one, before the exact estimate is asked for: keys follow each
other, and an estimate of what is past would only take time."""

DRAWN_SECONDS = 0.005
"""Rest after a change before drawing and form are told: the socket sends what waits meanwhile."""

FOLLOWED_SECONDS = 0.02
"""After a prediction, before what may wait is told of it: a browser draws one chart faster than five."""

BAND_SECONDS = 1.5
"""Rest after an exact estimate before the tools' errors are sampled."""

NEAR_SECONDS, NEAR_LOOKS = 0.05, 60
"""Pause between looks for the influence of a field, and most of them."""


class Bench:
    """The state of one tab.

    Parameters
    ----------
    place : Place

    Attributes
    ----------
    desk : Desk or None
        The record being edited, with undo and redo; None before one was opened.
    prediction : Prediction or None
        What the models say now of `desk.record`, near or exact; None while nothing fits it.
    exact : Exact or None
        The last exact estimate, maybe of an older state; compare its `record`.
    warnings : tuple of str or None
        What `check` warned of last; None before it has looked.
    ghost : SolvedRun or None
        The full-wave run that is shown behind the curves.
    visits : int
        How often the tab was drawn.
    tools : str
        By which tools' errors the band behind the curve is made, as `simharness tolerance` names them.
    record_changed : Signal
        Record, problems or the state of the file changed: `tell(origin)`, the view that caused it.
    record_opened : Signal
        Another record is on the desk: `tell()`.
    followed : Signal
        As `predicted`, a moment later and only the last: for what may wait.
    predicted, estimated, warned, banded, ghosted, interim, said, view_wanted : Signal
        Told are a `Prediction` or None; the exact estimate; its warnings; a band or None; the ghost or None;
        frequency (Hz), S11 and a text of a run under way, or None, None and "" when it is over; a sentence
        and whether it is a refusal; the key of a view.
    """

    def __init__(self, place: Place):
        self.place = place
        self.desk: Desk | None = None
        self.prediction: Prediction | None = None
        self.exact: Exact | None = None
        self.warnings: tuple[str, ...] | None = None
        self.band: ToolBand | None = None
        self.ghost: SolvedRun | None = None
        self.tools = "hand"
        self.visits = 0
        self._live: Live | None = None
        self._tasks: dict[str, asyncio.Task[None]] = {}
        self.record_changed, self.record_opened = Signal(), Signal()
        self.predicted, self.followed, self.estimated, self.banded = Signal(), Signal(), Signal(), Signal()
        self.ghosted, self.interim, self.said, self.view_wanted = Signal(), Signal(), Signal(), Signal()
        self.warned = Signal()

    @property
    def record(self) -> Record | None:
        """The last valid state of the record on the desk."""
        return None if self.desk is None else self.desk.record

    @property
    def live(self) -> Live:
        """The models at work, started when first asked for."""
        if self._live is None:
            from simharness.live.front import Live

            self._live = Live()
        return self._live

    def say(self, sentence: str, refused: bool = False) -> None:
        """Tell the user one sentence."""
        self.said.tell(sentence, refused)

    @contextlib.contextmanager
    def refusals(self) -> Iterator[None]:
        """Say what is refused within; the rest of it is not done then."""
        try:
            yield
        except HarnessError as error:
            self.say(str(error), refused=True)

    def attempt(self, work: Callable[[], Any]) -> Any:
        """Do something that may be refused, and say so; None if it was."""
        with self.refusals():
            return work()
        return None

    def open(self, path: Path) -> None:
        """Put a record file on the desk; a refusal is said."""
        from simharness.page.desk import Desk

        desk = self.attempt(lambda: Desk.opened(path))
        if desk is not None:
            self.put(desk)

    def put(self, desk: Desk) -> None:
        """Put a record on the desk in place of the last."""
        self.desk, self.prediction, self.exact, self.warnings = desk, None, None, None
        self.band = self.ghost = None
        self.record_opened.tell()
        self.record_changed.tell("desk")
        self.attempt(lambda: self.live.open(desk.record))
        self._run("exact", self._estimate(desk.record, 0.0))
        self._run("ghost", self._find_ghost(desk.record.name))

    def change(
        self, fields: Mapping[str, Any], origin: str, gesture: str | None = None, final: bool = True
    ) -> None:
        """Change fields of the record, by the names of `simharness.changed`.

        Parameters
        ----------
        fields : mapping
        origin : str
            The view that changes them.
        gesture : str or None
            Changes of one gesture are one step of undo.
        final : bool
            Whether the gesture ends; the exact estimate waits for that, or for a rest.
        """
        if (desk := self.desk) is None:
            return
        before = desk.record
        desk.set_many(dict(fields), gesture)
        if desk.record is not before:
            self._follow(desk.record, final)
        # Later, so that the curve is on its way to the browser before all else is drawn.
        self._run("changed", self.record_changed.tell_later(DRAWN_SECONDS, origin))

    def edit(self, work: Callable[[Desk], Any], origin: str = "desk") -> None:
        """Do something else with the desk (undo, a slot more); a refusal is said."""
        if (desk := self.desk) is None:
            return
        before = desk.record
        self.attempt(lambda: work(desk))
        self.record_changed.tell(origin)
        if desk.record is not before:
            self._follow(desk.record, True)

    def focus(self, field: str) -> None:
        """A field is about to be changed: its influence is computed first."""
        if self.record is not None and self._live is not None:
            self.live.prefetch(field)

    def save(self, name: str | None = None) -> Path | None:
        """Save the record, under another name if one is given; a refusal is said."""
        if (desk := self.desk) is None:
            return None
        if name is not None and not name.endswith(".toml"):
            name = f"{name}.toml"
        path = self.attempt(lambda: desk.save(name))
        if path is not None:
            self.say(f"Saved: {path.name}")
        self.record_changed.tell("save")
        return path

    def show_ghost(self, run: SolvedRun | None) -> None:
        """Show a full-wave run behind the curves, or none."""
        self.ghost = run
        self.ghosted.tell(run)

    async def open_ghost(self, name: str) -> SolvedRun | None:
        """Show a stored run behind the curves, by its full name; None where it is refused, which is said."""
        with self.refusals():
            run = await asyncio.to_thread(self.place.judged_run, name)
            self.show_ghost(run)
            return run
        return None

    def choose_tools(self, tools: str) -> None:
        """Sample the errors of other tools."""
        self.tools = tools
        if self.record is not None:
            self._run("band", self._sample_band(self.record, 0.0))

    def forget_listeners(self) -> None:
        """The tab is drawn anew: what was drawn before is told nothing more."""
        for signal in vars(self).values():
            if isinstance(signal, Signal):
                signal.disconnect_all()

    def wake(self) -> None:
        """The tab is drawn, maybe again: see that the models of its record are at work."""
        self.visits += 1
        if self._live is None and (record := self.record) is not None:
            self.attempt(lambda: self.live.open(record))
            self._follow(record, True)

    def rest(self) -> None:
        """Nobody looks: end the work for this tab; its record stays, and runs in the queue go on."""
        for task in self._tasks.values():
            task.cancel()
        if self._live is not None:
            self._live.close()
            self._live = None

    def _follow(self, record: Record, final: bool) -> None:
        """Answer a changed record: the near model at once, the exact one after a rest."""
        self._predict(self.live.predict(record))
        if self.prediction is None:
            self._run("near", self._await_near(record))
        self._run("exact", self._estimate(record, ENDED_SECONDS if final else PAUSE_SECONDS))

    def _predict(self, prediction: Prediction | None) -> None:
        self.prediction = prediction
        self.predicted.tell(prediction)
        self._run("followed", self.followed.tell_later(FOLLOWED_SECONDS, prediction))

    async def _await_near(self, record: Record) -> None:
        """The influence of a field that was not known yet is being computed: take it when it is there."""
        for _ in range(NEAR_LOOKS):
            await asyncio.sleep(NEAR_SECONDS)
            if record is not self.record or self.prediction is not None:
                return
            if (found := self.live.predict(record)) is not None:
                self._predict(found)
                return

    async def _estimate(self, record: Record, rest: float) -> None:
        await asyncio.sleep(rest)
        found = await self.live.exact(record)
        if found is None:
            return
        if record is self.record:
            self.exact = found
            self.estimated.tell(found)
            self._predict(found.shown)
            self._run("warned", self._warn(record))
            self._run("band", self._sample_band(record, BAND_SECONDS))
        elif self.record is not None and (near := self.live.predict(self.record)) is not None:
            self._predict(near)

    async def _warn(self, record: Record) -> None:
        found = await self.live.warnings(record)
        if found is not None and record is self.record:
            self.warnings = found
            self.warned.tell(found)

    async def _sample_band(self, record: Record, rest: float) -> None:
        await asyncio.sleep(rest)
        band = await self.live.band(record, self.tools)
        if record is self.record:
            self.band = band
            self.banded.tell(band)

    async def _find_ghost(self, name: str) -> None:
        with contextlib.suppress(HarnessError):  # mostly there is none yet
            run = await asyncio.to_thread(self.place.judged_run, name)
            if self.record is not None and self.record.name == name:
                self.show_ghost(run)

    def _run(self, name: str, work: Any) -> None:
        """Start work of one kind; an earlier one of the kind is given up."""
        if (old := self._tasks.get(name)) is not None:
            old.cancel()
        self._tasks[name] = asyncio.get_running_loop().create_task(self._guarded(work))

    async def _guarded(self, work: Any) -> None:
        with self.refusals():
            await work
