"""Transcript lines as events. The transcripts are excerpts of real runs of openEMS 0.0.35.

They come from a metal cube in an air box, an unmatched pair of absorbers that blows up,
and a folder with a stale file ABORT. The cube spans 20 to 30 mm on lines 60/63 mm apart:
11 edges have their middle inside along each axis, at 11 x 11 lines of the other two axes,
hence 3 x 11^3 = 3993 edges, as printed.
"""

from __future__ import annotations

import math
import random

import pytest
from each_case import each_case

from simharness.solver.log import (
    Aborted,
    ExcitationLength,
    Finished,
    GridSize,
    OperatorBuilt,
    PecEdges,
    Problem,
    Running,
    SolverProgress,
    SolverWarning,
    TimestepLength,
    digest,
    event,
)

GOOD = """\
 | openEMS 64bit -- version v0.0.35
openEMS - dump simulation statistics to 'openEMS_run_stats.txt' and 'openEMS_stats.txt'
Read openEMS Settings...
Compressing the FDTD operator... this may take a while...
------- Stat: FDTD Operator -------
Dimensions\t\t: 64x64x64 = 262144 Cells (0.262144 MCells)
Size of Operator\t: 12582912 Byte (12 MiB)
Background materials (epsR/mueR/kappa/sigma): 1/1/0/0
Number of PEC edges\t: 3993
in x direction\t\t: 1331
Timestep (s)\t\t: 1.83413e-12
Nyquist criteria (TS)\t: 34
Nyquist criteria (s)\t: 6.23603e-11
Excitation Length (TS)\t: 521
Creation time for operator: 1.37606 s
 Grading function\t: " -log(1e-6)*log(2.5)/(2*dl*Z*(pow(2.5,W/dl)-1)) * pow(2.5, D/dl) "
FDTD simulation size: 64x64x64 --> 262144 FDTD cells
FDTD timestep is: 1.83413e-12 s; Nyquist rate: 34 timesteps @8.01792e+09 Hz
Excitation signal length is: 521 timesteps (9.5558e-10s)
Max. number of timesteps: 3000 ( --> 5.75816 * Excitation signal length)
Running FDTD engine... this may take a while... grab a cup of coffee?!?
[@        4s] Timestep:          784 || Speed:   51.1 MC/s (5.130e-03 s/TS) || Energy: ~0.00e+00 (- 0.00dB)
RunFDTD: Warning: Max. number of timesteps was reached before the end-criteria of -90dB was reached...
\tYou may want to choose a higher number of max. timesteps...
Time for 3000 iterations with 262144.00 cells : 15.59 sec
Speed: 50.45 MCells/s
""".splitlines()

BLOWN_UP = """\
Warning: Unused primitive (type: Box) detected in property: unused!
[@        4s] Timestep:         6068 || Speed:   45.2 MC/s (6.592e-04 s/TS) || Energy: ~  -nan (- 0.00dB)
Time for 9000 iterations with 29791.00 cells : 5.92 sec
""".splitlines()

ABORTED = """\
openEMS::CheckAbortCond(): Found file "ABORT", aborting simulation...
Time for 0 iterations with 64000 cells : 3.5e-05 sec
""".splitlines()


def test_good_run():
    found = digest(GOOD)
    assert found.grid == GridSize((64, 64, 64), 64**3)
    assert found.timestep_length == 1.83413e-12
    assert found.pec_edges == 3 * 11**3
    assert found.building == 1.37606
    assert found.finished == Finished(3000, 64**3, 15.59)
    assert not found.aborted and not found.blown_up
    assert found.warnings == () and found.problems == ()
    kinds = [type(e) for e in map(event, GOOD) if e is not None]
    assert kinds == [
        GridSize,
        PecEdges,
        TimestepLength,
        OperatorBuilt,
        GridSize,
        TimestepLength,
        ExcitationLength,
        Running,
        SolverProgress,
        SolverWarning,
        Finished,
    ]


def test_blown_up_run_that_ends_as_if_all_were_well():
    found = digest(BLOWN_UP)
    assert found.blown_up and found.finished == Finished(9000, 29791, 5.92)
    assert found.warnings == ("Warning: Unused primitive (type: Box) detected in property: unused!",)


def test_aborted_run():
    assert event(ABORTED[0]) == Aborted()
    found = digest(ABORTED)
    assert found.aborted and found.finished.iterations == 0


def test_empty_transcript_says_nothing():
    found = digest([])
    assert (found.grid, found.timestep_length, found.pec_edges, found.building, found.finished) == (None,) * 5


@each_case(
    "tail, energy, decay",
    [
        ("Energy: ~1.15e-14 (- 1.33dB)", 1.15e-14, -1.33),
        ("Energy: ~9.99e-20 (-56.78dB)", 9.99e-20, -56.78),
        ("Energy: ~0.00e+00 (- 0.00dB)", 0.0, 0.0),
        ("Energy: ~   inf (- 0.00dB)", math.inf, 0.0),
        ("Energy: ~  -nan (-  nandB)", math.nan, math.nan),
        ("Energy: ~   nan (- -nandB)", math.nan, math.nan),
    ],
)
def test_progress(tail, energy, decay):
    line = f"[@ 1m03s] Timestep:        10400 || Speed:  149.7 MC/s (6.724e-03 s/TS) || {tail}"
    found = event(line + " ")
    assert isinstance(found, SolverProgress)
    assert (found.timestep, found.speed) == (10400, 149.7e6)
    for value, expected in ((found.energy, energy), (found.energy_db, decay)):
        assert value == expected or (math.isnan(value) and math.isnan(expected))
    assert found.blown_up == (not math.isfinite(energy))


@pytest.mark.parametrize(
    "line",
    [
        "Excitation::setupExcitation: Error, can't read openEMS excitation settings... ",
        "openEMS - ParseFDTDSetup failed.",
        "openEMS: Error File-Loading failed!!! File: ../s.xml",
        "Address Operator: Memory allocation failed!! exiting...",
        "terminate called after throwing an instance of 'std::bad_alloc'",
    ],
)
def test_problems(line):
    assert event(line) == Problem(line.strip())


@pytest.mark.parametrize(
    "line",
    [
        "Warning: Unused primitive (type: Box) detected in property: slot!",
        "openEMS::SetupFDTD: Warning, max. number of timesteps is smaller than three times the excitation.",
        "Operator::Calc_LumpedElements(): Warning: Lumped Element snapping failed! Dimension is: 1",
    ],
)
def test_unexpected_warnings(line):
    assert event(line) == SolverWarning(line, expected=False)


def test_garbage_neither_raises_nor_passes_for_an_event():
    """Random bytes, real lines cut short, and lines with bytes overwritten (fixed seed)."""
    rng = random.Random(5)
    finished = event(GOOD[-2])
    assert isinstance(finished, Finished)
    for _ in range(2000):
        event(bytes(rng.randrange(256) for _ in range(60)).decode("latin-1"))
        line = list(rng.choice(GOOD + BLOWN_UP + ABORTED))
        for _ in range(3):
            line[rng.randrange(len(line))] = chr(rng.randrange(32, 0x500))
        event("".join(line))
    for end in range(len(GOOD[-2]) - 3):
        assert event(GOOD[-2][:end]) is None
    assert event("x" * 10_000_000) is None
    assert event("[@" * 5000) is None
    assert event("Time for " + "9" * 5000 + " iterations with 1 cells : 1 sec") is None
    assert event("Time for 9 iterations with 1e999 cells : 1 sec") is None
