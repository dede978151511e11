"""When the solver is asked to stop, with stand-in answers to how much the spectrum can still change; rules of the module."""

from __future__ import annotations

import math
from types import SimpleNamespace

import pytest

from shaped_records import two_port
from simharness.grid import grid
from simharness.layout import antenna_scene
from simharness.mesh_settings import QUALITIES
from simharness.progress import Silent
from simharness.solver import watch
from simharness.solver.settings import SolverRequest, SolverSettings

ALLOWED = 1e-3
TIME_STEP = 1e-12
GOOD, MIDDLING, BAD = 0.5 * ALLOWED, 0.51 * ALLOWED, 1.01 * ALLOWED


@pytest.fixture(scope="module")
def wanted():
    """A guide with two ports that may stop at a change of ALLOWED."""
    scene, mesh = antenna_scene(two_port()), QUALITIES["draft"]
    return SolverRequest(scene, grid(scene, mesh), SolverSettings(mesh, settled=ALLOWED))


@pytest.fixture
def looks(wanted, tmp_path, monkeypatch):
    """A function that shows a watch one line of progress per stand-in answer: after which of them ABORT was there, and how many were used."""
    (tmp_path / "engine").mkdir()
    monkeypatch.setattr(watch, "LOOK_SHARE", 0.0)
    first = math.ceil((wanted.pulse_length + 8 / wanted.scene.spectrum.centre) / TIME_STEP)

    def told(*changes: float, begin: int = first, growth: float = 1.1) -> tuple[list[bool], int]:
        answers = iter(changes)
        asked = []

        def stand_in(request, engine):
            assert request is wanted and engine == tmp_path / "engine"
            asked.append(next(answers))
            return asked[-1]

        monkeypatch.setattr(watch, "spectrum_change", stand_in)
        seen, step = watch.Watch(tmp_path, SimpleNamespace(request=wanted, typical_seconds=1.0), Silent()), begin
        seen.line(f"FDTD timestep is: {TIME_STEP} s; Nyquist rate: 1 timesteps @1 Hz")
        seen.line("Running FDTD engine... this may take a while")
        stopped = []
        for _ in changes:
            seen.line(f"[@        4s] Timestep:         {step} || Speed:   45.2 MC/s (6.592e-04 s/TS) || Energy: ~1.0e-15 (- 9.00dB)")
            stopped.append((tmp_path / "engine" / "ABORT").exists())
            step = math.ceil(step * growth)
        return stopped, len(asked)

    return told


@pytest.mark.parametrize(
    ("changes", "stopped"),
    [
        ((GOOD,), [True]),
        ((0.0,), [True]),
        ((MIDDLING, MIDDLING), [False, True]),
        ((ALLOWED, ALLOWED), [False, True]),
        ((MIDDLING, GOOD), [False, True]),
        ((BAD, GOOD), [False, True]),
        ((MIDDLING, BAD, MIDDLING), [False, False, False]),
        ((MIDDLING, math.inf, MIDDLING, MIDDLING), [False, False, False, True]),
        ((BAD,) * 6, [False] * 6),
        ((math.inf,) * 6, [False] * 6),
    ],
)
def test_one_good_look_or_two_middling_ones_in_a_row_stop_the_solver(looks, changes, stopped):
    assert looks(*changes) == (stopped, len(changes))


def test_nobody_looks_after_the_solver_was_asked_to_stop(looks):
    assert looks(GOOD, BAD, BAD) == ([True] * 3, 1)


def test_nobody_looks_while_the_pulse_comes_in(looks, wanted):
    """Nor in the eight periods after it: a record of nothing yet has settled, too."""
    within = int((wanted.pulse_length + 7.9 / wanted.scene.spectrum.centre) / TIME_STEP)
    assert looks(0.0, begin=within) == ([False], 0)


def test_looks_grow_apart(looks):
    """Steps that grow by 5 % are looked at every second time, LOOK_EVERY being 8 %."""
    assert looks(*(BAD,) * 7, growth=1.05) == ([False] * 7, 4)
