"""The card by which a work is asked for: its kind, its few options, what it will take, and the start."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import Any

from nicegui import ui

from simharness.errors import InputError
from simharness.jobs.forecast import forecast
from simharness.jobs.job import Job
from simharness.jobs.queue import Queue
from simharness.page.bench import Bench
from simharness.page.queue.words import KINDS, QUALITIES
from simharness.page.widgets import Choice, NumberField, plain_button, text, text_field, waiting

_OVER = {"band": "the worst S11 in the band", "centre": "S11 at the centre"}
_ALSO = {
    "": "nothing",
    "position": "where the probe stands",
    "back-short": "the near end wall",
    "run": "the run of a bent probe",
    "hole-height": "the height of its hole",
    "slots": "all slot lengths alike",
    "near-plate": "the plate inside the near end",
    "far-plate": "the plate inside the far end",
    "screw-1": "the depth of the first screw",
    "screw-2": "the depth of the second screw",
}
_TOOLS = {"hand": "by hand", "mill": "on a mill"}
_LEVELS = {"3": "three", "4": "four; the last takes longest"}
_SPREADS = {"": "the mesh alone", "yes": "air, absorber, length and feed too"}


class AskingCard:
    """Asks for a work on the record of the bench.

    Parameters
    ----------
    bench : Bench
    queue : Queue
    added : callable
        Called with the new job.
    """

    def __init__(self, bench: Bench, queue: Queue, added: Callable[[Job], None]):
        self.bench, self.queue, self._added = bench, queue, added
        self._options: dict[str, Callable[[], dict[str, Any]]] = {}
        self._panels: dict[str, ui.element] = {}
        text("h2", "What shall be computed")
        with ui.element("div").classes("controls"):
            self._kind = Choice("Work", KINDS, self._show)
            for kind, build in _BUILDERS.items():
                with ui.element("div").classes("options") as panel:
                    self._panels[kind] = panel
                    self._options[kind] = build()
        with ui.element("div").classes("controls"):
            self._ask = plain_button("What will it take?", self._foretell)
            self._go = plain_button("Start", self._start)
        self._told = text("p", "").props('role="status"')
        self._show(self._kind.value)
        bench.record_changed.connect(self._unsay)

    def _show(self, kind: str) -> None:
        """Show the options of one kind of work."""
        for name, panel in self._panels.items():
            panel.set_visibility(name == kind)
        self._told.set_text("")

    def _unsay(self, origin: str) -> None:
        """What was said of the record before holds no more."""
        self._told.set_text("")

    def _asked(self) -> tuple[str, str, str, dict[str, Any]] | None:
        """Kind, record as TOML, its name, options; None where something is refused, which is said."""
        desk = self.bench.desk
        if desk is None:
            self.bench.say("There is no record yet: begin with one.", refused=True)
            return None
        kind = self._kind.value
        found = self.bench.attempt(lambda: (desk.text(), self._options[kind]()))
        if found is None:
            return None
        return kind, found[0], desk.path.name if desk.path else "", found[1]

    async def _foretell(self) -> None:
        asked = self._asked()
        if asked is None or self.bench.record is None:
            return
        kind, _, _, options = asked
        record = self.bench.record
        foretold = await self._away(
            "Laying out the mesh ...", lambda: forecast(kind, record, options, self.queue.runs)
        )
        if foretold is not None:
            self._told.set_text(f"It will take {foretold.sentence}.")

    async def _start(self) -> None:
        asked = self._asked()
        if asked is None:
            return
        kind, record, name, options = asked
        job = await self._away("Adding it ...", lambda: self.queue.add(kind, record, name, options))
        if job is not None:
            self.bench.say(f"Added as number {job.number}. It goes on when this page is closed.")
            self._added(job)

    async def _away(self, words: str, work: Callable[[], Any]) -> Any:
        """What is done away from the browser gives; None where it was refused, which is said."""
        with self.bench.refusals(), waiting(self._told, words, self._ask, self._go):
            return await asyncio.to_thread(work)
        return None


def _solve() -> Callable[[], dict[str, Any]]:
    quality = Choice("Mesh", QUALITIES)
    return lambda: {"quality": quality.value}


def _tune() -> Callable[[], dict[str, Any]]:
    quality = Choice("Mesh", QUALITIES)
    over = Choice("As small as can be", _OVER)
    also = Choice("Tuned beside the height", _ALSO)
    step = NumberField("What you can mark, mm", 0.1, 0.01, 5.0, 0.01)
    most = NumberField("Runs at most", 3, 1, 9, 1)
    return lambda: {
        "quality": quality.value,
        "over": over.value,
        "also": [also.value] if also.value else [],
        "step_mm": step.number(),
        "max_runs": _whole(most),
    }


def _tolerance() -> Callable[[], dict[str, Any]]:
    tools = Choice("Made", _TOOLS)
    samples = NumberField("Antennas in the sample", 2000, 100, 100_000, 100)
    return lambda: {"tools": tools.value, "samples": _whole(samples)}


def _converge() -> Callable[[], dict[str, Any]]:
    levels = Choice("Meshes", _LEVELS)
    spreads = Choice("Varied", _SPREADS)
    return lambda: {"levels": int(levels.value), "spreads": bool(spreads.value)}


def _sweep() -> Callable[[], dict[str, Any]]:
    quality = Choice("Mesh", QUALITIES)
    fields = [
        text_field("Field and values", "feed.height_mm=18:24:7"),
        text_field("A second field, or none", "slot.3.length_mm=58,59"),
    ]

    def asked() -> dict[str, Any]:
        vary = [field.value.strip() for field in fields if field.value.strip()]
        if not vary:
            raise InputError("Field and values", "(empty)", "must be as in feed.height_mm=18:24:7")
        return {"quality": quality.value, "vary": vary}

    return asked


def _whole(field: NumberField) -> int | float:
    """A number as a whole one where it is; else as it is, to be refused in its own words."""
    found = field.number()
    return int(found) if found == int(found) else found


_BUILDERS: dict[str, Callable[[], Callable[[], dict[str, Any]]]] = {
    "solve": _solve,
    "tune": _tune,
    "tolerance": _tolerance,
    "converge": _converge,
    "sweep": _sweep,
}
