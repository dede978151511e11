"""One solver child watched to its end: progress, early stop, and what kind of end it was."""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from simharness.errors import CancelledError, MachineError, SolverError
from simharness.files import machine_errors
from simharness.progress import Progress, match_listener, span
from simharness.runs.look import InterimLooks, port_records
from simharness.runs.planning import Plan
from simharness.solver import log
from simharness.solver.interpreter import child_command
from simharness.solver.model.request import write_request
from simharness.solver.process import Cancel, nothing, supervise
from simharness.solver.settings import SolverRequest

CHECK_GROWTH = 1.08
"""Growth of the number of steps between two checks of the spectrum."""

CHECK_PAUSE = 4.0
"""Pause after a check, in durations of the check."""

AT_ONCE = 0.5
"""Share of the allowed change below which one check is enough; above it two in a row must agree."""

LATE = 1.15
"""A run is late at so many times the steps that were predicted: checks are some way apart, and two in a row
may be needed."""

MIN_FORECAST_RATIO = 1.5
"""Ratio of two forecasts from which on the second is told."""

LONGEST_EXCERPT = 300
"""Characters of a line of the transcript that is told with an error."""


@dataclass(frozen=True)
class End:
    """How a child ended well: `seconds` in all, `engine_seconds` of them building the operator and
    stepping, s."""

    steps: int
    seconds: float
    pec_edges: int
    time_step: float
    engine_seconds: float


@dataclass
class Watch:
    """Follows the transcript; asks the solver to stop when the spectrum has settled, but not before some
    steps."""

    folder: Path
    plan: Plan
    progress: Progress
    not_before: int = 0
    lines: list[str] = field(default_factory=list)
    time_step: float = 0.0
    next_check: float = 0.0
    settled: int = 0
    late: bool = False
    stepping: float = 0.0
    rest: float = 0.0
    looks: InterimLooks = field(init=False)

    def __post_init__(self) -> None:
        self.looks = InterimLooks(match_listener(self.progress))

    def take_forecast(self, periods: float | None) -> None:
        """Take a better forecast, periods after the pulse, and say it where it is another or a long one."""
        if periods is None:
            return
        before, self.plan = self.plan, replace(self.plan, predicted=periods)
        ratio = self.plan.typical_periods / before.typical_periods
        if self.plan.slow or not 1 / MIN_FORECAST_RATIO < ratio < MIN_FORECAST_RATIO:
            settles = "settles slowly" if self.plan.slow else "settles"
            self.progress.note(
                f"by the ringing of the estimate it {settles}: "
                f"after {self.plan.typical_periods:.0f} periods, about {span(self.plan.typical_seconds)}"
            )

    def line(self, text: str) -> None:
        """Take one line of the transcript; SolverError when the fields have blown up."""
        if len(self.lines) < 20_000:
            self.lines.append(text)
        event = log.event(text)
        if isinstance(event, log.TimestepLength):
            self.time_step = event.seconds
        elif isinstance(event, log.Running):
            self.stepping = time.monotonic()
            self.progress.advance(0.0, self.plan.typical_seconds, "the solver begins to step")
        elif isinstance(event, log.SolverProgress):
            if event.blown_up:
                raise SolverError(
                    f"the fields blew up at step {event.timestep}: the mesh or the absorber is unstable"
                )
            self._step(event)

    def _step(self, event: log.SolverProgress) -> None:
        request, step = self.plan.request, max(event.timestep, 1)
        predicted, most = (
            (request.pulse_length + periods / request.scene.spectrum.centre) / self.time_step
            for periods in (self.plan.typical_periods, request.settings.longest)
        )
        pace = (time.monotonic() - self.stepping) / step
        periods = step * self.time_step * request.scene.spectrum.centre
        text = f"{periods:.0f} periods, {event.speed / 1e6:.0f} million cells a second"
        # A forecast that was passed is not stretched: from then on bar and time are those of the most it
        # may take.
        predicted = min(LATE * predicted, most)
        late = step > predicted
        objective, left = (
            (most, pace * max(most - step, 0.0)) if late else (predicted, pace * (predicted - step))
        )
        if late and not self.late and self.settled < 2:
            self.progress.note(f"settles more slowly than predicted: at most {span(left)} more")
        self.late = late
        self.progress.advance(min(step / objective, 1.0), left, f"at most; {text}" if late else text)
        settled_before = self.settled >= 2
        self._check(event.timestep)
        if not settled_before:
            self.looks.look(request, self.folder / "engine", last=self.settled >= 2)

    def _check(self, step: int) -> None:
        request = self.plan.request
        first = (request.pulse_length + 8 / request.scene.spectrum.centre) / self.time_step
        begun = time.monotonic()
        if self.settled >= 2 or step < max(first, self.next_check, self.not_before) or begun < self.rest:
            return
        self.next_check = CHECK_GROWTH * step
        change, allowed = spectrum_change(request, self.folder / "engine"), request.settings.settled
        self.settled = 0 if change > allowed else self.settled + (2 if change <= AT_ONCE * allowed else 1)
        if self.settled >= 2:
            (self.folder / "engine" / "ABORT").touch()
            periods = step * self.time_step * request.scene.spectrum.centre
            self.progress.note(f"settled by step {step}, {periods:.0f} periods; the solver is told to stop")
        # A check that is slow on a busy machine must not fall behind the solver.
        self.rest = time.monotonic() + CHECK_PAUSE * (time.monotonic() - begun)


def spectrum_change(request: SolverRequest, engine: Path) -> float:
    """By how much the S parameters of the records so far can still move; infinite where nobody can say, or
    the fields lack much."""
    # Not above: the solver need not wait until scipy is loaded.
    from simharness.results.settling import (
        FIELD_MISSING,
        FIELD_UNEVEN,
        TAIL_TRUST,
        missing_share,
        port_spectra,
    )

    spectrum = request.scene.spectrum
    far = np.array(spectrum.far)
    band = np.linspace(spectrum.low, spectrum.high, spectrum.points)
    request, series = port_records(request, engine)
    if series is None:
        return math.inf
    whole, plain, method, change = port_spectra(request, series, np.concatenate([band, far]))
    if method == "unsettled":
        return math.inf
    if len(far) and len(whole.slots):
        _, missing, uneven = missing_share(whole.slots[:, len(band) :], plain.slots[:, len(band) :])
        if missing >= FIELD_MISSING or uneven >= FIELD_UNEVEN:
            return math.inf
        change = max(change, TAIL_TRUST * missing)
    return change


def run_child(
    folder: Path,
    plan: Plan,
    progress: Progress,
    timeout_s: float,
    meanwhile: Callable[[], float | None] = nothing,
    not_before: int = 0,
    cancel: Cancel | None = None,
) -> End:
    """Run the solver's child on the request of a plan, and follow it to its end.

    Parameters
    ----------
    folder : Path
        Working folder, absolute; the request is written there, and the raw record left there.
    plan : Plan
    progress : Progress
        Told how far the run is.
    timeout_s : float
        Wall-clock allowance, s.
    meanwhile : callable
        Called once when the solver has begun; it returns a better forecast (periods after the pulse) or None.
    not_before : int
        Steps before which the run is not stopped early.
    cancel : threading.Event or callable, optional
        Asked ten times a second whether to stop the run.

    Raises
    ------
    SolverError
        Crash, blow-up, timeout, a warning nobody knows, an end without results, or an abort by somebody else
        before the spectrum had settled.
    CancelledError
        The user interrupted, or `cancel` said so.
    """
    watch = Watch(folder, plan, progress, not_before)
    with machine_errors(f"write {folder}"):
        write_request(plan.request, folder)
    argv = child_command(plan.machine.python, folder, str(plan.threads))
    progress.advance(0.0, plan.typical_seconds, "the solver reads the mesh")
    outcome = supervise(
        argv,
        folder,
        folder / "transcript.txt",
        on_line=watch.line,
        meanwhile=lambda: watch.take_forecast(meanwhile()),
        timeout_s=timeout_s,
        cancel=cancel,
    )
    if outcome.status == "cancelled":
        raise CancelledError("interrupted: nothing was kept")
    if outcome.status == "timeout":
        raise SolverError(f"the solver ran longer than its {timeout_s:.0f} s and was stopped")
    said = log.digest(watch.lines)
    if not outcome.ok or not (folder / "raw.h5").exists():
        if any("No space left" in line or "ENOSPC" in line for line in outcome.last_lines):
            raise MachineError(f"the disk is full: free some space where {folder.parent} lies")
        end = f"by {outcome.signal}" if outcome.signal else f"with code {outcome.returncode}"
        last = next((line for line in reversed(outcome.last_lines) if line.strip()), "no output")
        raise SolverError(f"the solver crashed ({end}): {last.strip()[:LONGEST_EXCERPT]}")
    if said.blown_up or said.finished is None:
        raise SolverError("the solver did not finish: its transcript lacks the closing line")
    if said.warnings or said.problems:
        first = (said.warnings + said.problems)[0][:LONGEST_EXCERPT]
        raise SolverError(f"the solver warned of something unforeseen: {first}")
    steps, most = said.finished.iterations, plan.request.steps
    if (
        steps < most
        and watch.settled < 2
        and spectrum_change(plan.request, folder / "engine") > plan.request.settings.settled
    ):
        raise SolverError(
            f"the run was aborted from outside after {steps} of {most} steps, before its spectrum had settled"
        )
    engine = (said.building or 0.0) + said.finished.seconds
    return End(steps, outcome.seconds, said.pec_edges or 0, said.timestep_length or 0.0, engine)
