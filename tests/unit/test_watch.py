"""When the solver is asked to stop, with stand-in answers to how much the spectrum can still change; rules of
the module.
"""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest
from shaped_records import two_port

from simharness.geometry import antenna_scene
from simharness.library.values import Cancellable
from simharness.mesh.grid import grid
from simharness.mesh.settings import QUALITIES
from simharness.progress import Progress, Silent, match_listener, span
from simharness.runs import look, watch
from simharness.runs.planning import Plan
from simharness.solver.machine import Machine
from simharness.solver.settings import SolverRequest, SolverSettings

ALLOWED = 1e-3
TIME_STEP = 1e-12
FORETOLD = 30.0
GOOD, MIDDLING, BAD = 0.5 * ALLOWED, 0.51 * ALLOWED, 1.01 * ALLOWED


@pytest.fixture(scope="module")
def wanted():
    """A guide with two ports that may stop at a change of ALLOWED."""
    scene, mesh = antenna_scene(two_port()), QUALITIES["draft"]
    return SolverRequest(scene, grid(scene, mesh), SolverSettings(mesh, settled=ALLOWED))


@pytest.fixture
def looks(wanted, tmp_path, monkeypatch):
    """A function that shows a watch one line of progress per stand-in answer: after which of them ABORT was
    there, and how many were used.
    """
    (tmp_path / "engine").mkdir()
    monkeypatch.setattr(watch, "CHECK_PAUSE", 0.0)
    first = math.ceil((wanted.pulse_length + 8 / wanted.scene.spectrum.centre) / TIME_STEP)

    def told(
        *changes: float, begin: int = first, growth: float = 1.1, progress: Progress | None = None
    ) -> tuple[list[bool], int]:
        answers = iter(changes)
        asked = []

        def stand_in(request, engine):
            assert request is wanted and engine == tmp_path / "engine"
            asked.append(next(answers))
            return asked[-1]

        monkeypatch.setattr(watch, "spectrum_change", stand_in)
        seen, step = (
            watch.Watch(
                tmp_path,
                SimpleNamespace(request=wanted, typical_seconds=1.0, typical_periods=FORETOLD),
                progress or Silent(),
            ),
            begin,
        )
        seen.line(f"FDTD timestep is: {TIME_STEP} s; Nyquist rate: 1 timesteps @1 Hz")
        seen.line("Running FDTD engine... this may take a while")
        stopped = []
        for _ in changes:
            seen.line(
                f"[@        4s] Timestep:         {step} || Speed:   45.2 MC/s (6.592e-04 s/TS) || Energy:"
                " ~1.0e-15 (- 9.00dB)"
            )
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
    """Steps that grow by 5 % are looked at every second time, CHECK_GROWTH being 8 %."""
    assert looks(*(BAD,) * 7, growth=1.05) == ([False] * 7, 4)


class Listening(Silent):
    """Keeps S11 of looks."""

    def __init__(self):
        self.seen = []

    def interim_match(self, frequency, s11, moving):
        self.seen.append((frequency, s11, moving))


def test_a_listener_changes_nothing_about_the_stop_and_is_not_in_the_way(looks, monkeypatch):
    """He has a look of his own, now and then, which rests as long as it took six times over; and one more
    when the solver is told to stop."""
    now = [0.0]
    asked = []

    def slow_look(request, engine):
        asked.append(now[0])
        now[0] += 5.0
        return look.InterimMatch(np.array([1e9]), np.array([0.5j]), 0.1)

    monkeypatch.setattr(look, "interim_match", slow_look)
    monkeypatch.setattr(look.time, "monotonic", lambda: now[0])
    changes, heard = (*(BAD,) * 3, MIDDLING, MIDDLING, BAD), Listening()
    assert looks(*changes, progress=heard) == ([False] * 4 + [True] * 2, 5)
    assert asked == [0.0, 5.0]
    assert [moving for *_, moving in heard.seen] == [0.1, 0.1]


def test_whoever_can_be_cancelled_listens_if_he_who_is_told_does():
    heard = Listening()
    assert match_listener(Cancellable(heard, None)) == heard.interim_match
    assert match_listener(Cancellable(None, None)) is None


def test_a_look_that_fails_is_no_reason_to_end_a_run(looks, monkeypatch):
    """A file of the solver is gone, or shorter than thought."""
    monkeypatch.setattr(look, "interim_match", lambda *_: {}["port1_voltage"])
    heard = Listening()
    assert looks(BAD, GOOD, progress=heard) == ([False, True], 2) and not heard.seen


def test_without_a_listener_nobody_looks_for_him(looks, monkeypatch):
    monkeypatch.setattr(look, "interim_match", lambda *_: pytest.fail("looked"))
    assert looks(BAD, GOOD) == ([False, True], 2)


class Heard:
    """Progress that keeps what it is told."""

    def __init__(self):
        self.notes, self.shares, self.texts, self.left = [], [], [], []

    def note(self, text):
        self.notes.append(text)

    def advance(self, share, seconds_left, text):
        self.shares.append(share)
        self.left.append(seconds_left)
        self.texts.append(text)

    def done(self): ...


@pytest.fixture
def unsettled(wanted, tmp_path, monkeypatch):
    """A function that shows a watch of a run that never settles its steps, as shares of those predicted; a
    second passes with each thousandth.
    """
    (tmp_path / "engine").mkdir()
    monkeypatch.setattr(watch, "spectrum_change", lambda *_: math.inf)

    def heard(*shares: float, predicted: float = FORETOLD, better: float | None = None) -> Heard:
        now = [0.0]
        monkeypatch.setattr(watch.time, "monotonic", lambda: now[0])
        told = Heard()
        what = Plan(wanted, "key", Machine("a solver", 1), 0, predicted)
        seen = watch.Watch(tmp_path, what, told)
        seen.line(f"FDTD timestep is: {TIME_STEP} s; Nyquist rate: 1 timesteps @1 Hz")
        seen.take_forecast(better)
        seen.line("Running FDTD engine... this may take a while")
        steps = (
            wanted.pulse_length + (predicted if better is None else better) / wanted.scene.spectrum.centre
        ) / TIME_STEP
        for share in shares:
            now[0] = 1000.0 * share
            seen.line(
                f"[@        4s] Timestep:         {round(share * steps)} || Speed:   45.2 MC/s (6.592e-04"
                " s/TS) || Energy: ~1.0e-15 (- 9.00dB)"
            )
        return told

    return heard


def test_time_left_falls_until_the_forecast_is_passed_and_that_is_said_once(unsettled):
    told = unsettled(0.25, 0.5, 1.0, watch.LATE - 0.01, watch.LATE + 0.01, 2.0, 2.5)
    shares, left, texts = told.shares[1:], told.left[1:], told.texts[1:]  # the first is the beginning
    assert shares[:4] == sorted(shares[:4]) and left[:4] == sorted(left[:4], reverse=True)
    assert left[0] == pytest.approx(1000.0 * (watch.LATE - 0.25), rel=1e-3)
    assert not any("at most" in text for text in texts[:4]) and all(
        text.startswith("at most; ") for text in texts[4:]
    )
    # From then on it is the time to the last step, and falls again.
    assert (
        left[4] > left[3] and left[4:] == sorted(left[4:], reverse=True) and shares[4:] == sorted(shares[4:])
    )
    assert len(told.notes) == 1 and told.notes[0].startswith("settles more slowly than predicted: at most ")
    assert told.notes[0].endswith(f"at most {span(left[4])} more")


def test_a_forecast_beyond_all_steps_is_no_longer_than_these(wanted):
    what = Plan(wanted, "key", Machine("a solver", 1), 0, 10 * wanted.settings.longest)
    assert (
        what.typical_periods == wanted.settings.longest
        and what.typical_seconds == what.most_seconds
        and what.slow
    )


@pytest.mark.parametrize(
    ("better", "said"),
    [
        (None, ""),
        (1.2 * FORETOLD, ""),
        (2 * FORETOLD, "it settles: after 60 periods"),
        (100.0, "it settles slowly: after 100 periods"),
    ],
)
def test_a_better_forecast_is_said_where_it_is_another_or_a_long_one(unsettled, better, said):
    notes = unsettled(0.5, better=better).notes
    assert len(notes) == bool(said) and said in "".join(notes)
