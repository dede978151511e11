"""The cause of a difference found in full-wave runs of deliberately wrong antennas, by the package's own
estimate.

Exact: what was changed in the record that was solved (draft mesh; tests/references/off-*.csv, made as its
README says). A measurement is such a run with noise of 0.007, as a hand-held analyser's (common practice, no
source), behind a connector of 70 ps. The amounts are those that a builder in the 2.4 GHz band knows (probe 2
mm short or misplaced, slots 1.5 mm long, guide 1 mm wide), scaled to 10.4 GHz.
"""

from __future__ import annotations

import numpy as np
import pytest
from full_wave_tables import with_one_wrong
from scipy.interpolate import CubicSpline
from shaped_records import SHIPPED, WR90

from simharness.em.signals.reference_plane import behind_line
from simharness.estimate.surrogate import SpaceMappingSurrogate
from simharness.measurement.causes import common_frequency, explanation
from simharness.measurement.files import OnePort
from simharness.verdict.error_bars import SOLVER_ERROR

CONNECTOR = 70e-12
NOISE = 0.007
WRONG = [
    ("probe height", -0.47),
    ("slot length", 0.35),
    ("guide width", 0.24),
    ("slot 5 covered", 1.0),
    ("probe position", 0.5),
    ("slot offset", 0.3),
]
RUNS = with_one_wrong(WR90)


def dense(curve: OnePort) -> OnePort:
    """At 201 frequencies, as a run or an analyser has them."""
    frequency = np.linspace(curve.frequency[0], curve.frequency[-1], 201)
    return OnePort(frequency, CubicSpline(curve.frequency, curve.s11)(frequency))


def bench(curve: OnePort, seed: int = 5) -> OnePort:
    run = dense(curve)
    noise = np.random.default_rng(seed).normal(scale=NOISE / np.sqrt(2), size=(2, run.frequency.size))
    return OnePort(run.frequency, behind_line(run.frequency, run.s11, -CONNECTOR) + noise[0] + 1j * noise[1])


@pytest.fixture(scope="module")
def model() -> SpaceMappingSurrogate:
    run = dense(RUNS["drawn", 0.0])
    frequency = common_frequency(run, SHIPPED[WR90], run)
    return SpaceMappingSurrogate(SHIPPED[WR90], frequency, run.at(frequency))


@pytest.mark.parametrize("name, amount", WRONG, ids=lambda value: str(value))
def test_the_wrong_dimension_comes_first(model, name, amount):
    """Its amount within 20 %, as is asked of the sensitivities; its connector within 5 ps, 1 mm of cable."""
    found = explanation(model, bench(RUNS[name, amount]), run_error=SOLVER_ERROR["draft"]["s11"])
    best = found.causes[0]
    assert best.deviation.name == name and best.share > found.unexplained
    assert best.amount == pytest.approx(amount, rel=0.2)
    assert best.delay == pytest.approx(CONNECTOR, abs=5e-12)
