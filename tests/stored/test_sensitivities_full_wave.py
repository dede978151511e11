"""What one dimension does to S11: the fast model of tolerances against differences of full-wave runs.

Exact: central differences of full-wave runs of two shipped records (draft mesh; tests/references/off-*.csv, made as its README says) for the
five dimensions that matter most by the model. Known bias: each run has a mesh of its own, which scatters S11 by 0.006 (rms), so a
difference by 0.004; steps of a hundredth of a wavelength or so make it 0.04 to 0.2. Tolerance: 20 %, what is asked of the sensitivities.
"""

from __future__ import annotations

import numpy as np
import pytest
from full_wave_tables import with_one_wrong
from scipy.interpolate import CubicSpline
from shaped_records import SHIPPED, WR90

from simharness.smooth_model import SmoothModel
from simharness.suspects import suspects
from simharness.tolerance_model import corrected_model

FIVE = ("guide width", "slot offset", "slot length", "probe height", "guide height")
STEPS_MM = {WR90: (0.3, 0.3, 0.3, 0.3, 0.6), "eight-slot-5g8": (0.5, 0.5, 0.5, 0.5, 1.0)}
CASES = [(name, *case) for name, steps in STEPS_MM.items() for case in zip(FIVE, steps)]
MODELS: dict[str, SmoothModel] = {}


def model(name: str) -> SmoothModel:
    """The fast model of a record, set right by the full-wave run of it as drawn, as `tolerance --run` does."""
    if name not in MODELS:
        drawn = with_one_wrong(name)["drawn", 0.0]
        MODELS[name] = corrected_model(SHIPPED[name], drawn.frequency, drawn.s11)
    return MODELS[name]


@pytest.mark.parametrize("name, dimension, step", CASES, ids=lambda value: str(value))
def test_sensitivities_of_the_model_are_those_of_full_wave(name, dimension, step):
    """The change of S11 over the band, a vector of complex numbers: what of the model's lies along the full-wave one."""
    found, runs = model(name), with_one_wrong(name)
    suspect = next(one for one in suspects(SHIPPED[name]) if one.name == dimension)
    low, high = 1e9 * SHIPPED[name].band.low_ghz, 1e9 * SHIPPED[name].band.high_ghz
    more, less = (found.band_s11(found.parts(suspect.applied(found.record, way * step))[None])[0] for way in (1, -1))
    band = np.linspace(low, high, more.size)
    solved_more, solved_less = (CubicSpline(run.frequency, run.s11)(band) for run in (runs[dimension, way * step] for way in (1, -1)))
    change, solved = 0.5 * (more - less), 0.5 * (solved_more - solved_less)
    along = float(np.vdot(solved, change).real / np.vdot(solved, solved).real)
    assert along == pytest.approx(1.0, abs=0.2)
