"""A look at the port signals of a run under way, as far as the solver has written them."""

from __future__ import annotations

import contextlib
import math
import time
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from simharness.errors import InputError
from simharness.progress import MatchListener
from simharness.solver.files import read_all_series
from simharness.solver.settings import SolverRequest

MAX_CHECKED_SLOTS = 12
"""Most slots whose voltages a look takes in. All of them while it can: a tail that all but one slot agree
upon has been refused afterwards."""

MIN_SAMPLES = 40
"""Samples of the shortest record below which nothing is said."""

LOOK_EVERY_S = 2.0
"""Wall clock between two looks for whoever watches S11 settle; the solver writes every four seconds or so."""

LOOK_PAUSE = 6.0
"""Pause after such a look, in durations of the look: it must cost the run little."""


@dataclass(frozen=True)
class InterimMatch:
    """S11 by the records so far.

    Attributes
    ----------
    frequency : (f,) array, Hz
    s11 : (f,) complex array
        At the reference plane and against the impedance of the finished result.
    moving : float
        Largest distance in the complex plane by which the end of the records moved it. No bound: it may yet
        move further. Infinite before the far end of the guide has answered.
    """

    frequency: NDArray
    s11: NDArray
    moving: float


def port_records(request: SolverRequest, engine: Path) -> tuple[SolverRequest, dict[str, NDArray] | None]:
    """Port and slot signals so far, with the request that fits them: of many slots a dozen are taken.

    None in the place of the signals where they are too short to say anything.
    """
    scene = request.scene
    places = (
        {round(i) for i in np.linspace(0, len(scene.slots) - 1, MAX_CHECKED_SLOTS)} if scene.slots else set()
    )
    scene = replace(scene, slots=tuple(s for i, s in enumerate(scene.slots) if i in places))
    series = read_all_series(engine, scene, [i + 1 for i in sorted(places)])
    request = replace(request, scene=scene)
    short = not series or min(s.shape[1] for s in series.values()) < MIN_SAMPLES
    return request, None if short else series


def interim_match(request: SolverRequest, engine: Path) -> InterimMatch | None:
    """S11 over the asked-for frequencies by the records so far; None before the pulse has gone in."""
    # Not above: the solver need not wait until scipy is loaded.
    from simharness.results.ports import port_waves
    from simharness.results.settling import port_spectra

    request, series = port_records(request, engine)
    reach = 0.0 if series is None else min(s[0, -1] for s in series.values())
    if series is None or reach < request.pulse_length:
        return None
    scene = request.scene
    band = np.linspace(scene.spectrum.low, scene.spectrum.high, scene.spectrum.points)
    whole, _, _, change = port_spectra(request, series, band)
    incident, reflected = port_waves(scene.ports[0], request.grid, whole.voltage[0], whole.current[0], band)
    s11 = reflected / incident
    if not np.isfinite(s11).all():
        return None
    answered = request.pulse_length + 2 * request.transit <= reach
    return InterimMatch(band, s11, float(change) if answered else math.inf)


@dataclass
class InterimLooks:
    """Looks for whoever listens, now and then; without a listener there are none."""

    listener: MatchListener | None
    next: float = field(default=0.0)

    def look(self, request: SolverRequest, engine: Path, last: bool = False) -> None:
        """Hand out S11 by the records so far, where it is time for it or the run has settled."""
        begun = time.monotonic()
        if self.listener is None or (begun < self.next and not last):
            return
        found = None
        # Early on a file may be missing or too short; such a look is no reason to end a run.
        with contextlib.suppress(OSError, KeyError, ValueError, InputError):
            found = interim_match(request, engine)
        if found is not None:
            self.listener(found.frequency, found.s11, found.moving)
        took = time.monotonic() - begun
        self.next = begun + took + max(LOOK_EVERY_S - took, LOOK_PAUSE * took)
