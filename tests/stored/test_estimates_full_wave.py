"""Estimates of all kinds of antennas against the finest full-wave runs at hand, kept in tests/references.

Exact: the field solver on meshes twice as fine as `normal` (how they were made: README there), no part of
which the estimate uses. Known bias: a bent wire is two straight ones, a curved slot a straight one, and the
tube of a rectangular guide is a plane outside. Tolerance: what `error_bars` promises. Seen in S11 over the
band: plain rows 0.02 to 0.07, both walls slotted 0.03, round tube 0.02, panel connector 0.05, bent probes
0.08, bent slots 0.18.
"""

import json
from pathlib import Path

import numpy as np
import pytest
import skrf
from shaped_records import SHIPPED

from simharness.estimate.antenna import estimate
from simharness.records import read_record
from simharness.verdict.error_bars import estimate_error

FINER = Path(__file__).parents[1] / "references"
FIGURES = json.loads((FINER / "figures.json").read_text())


@pytest.fixture(scope="module", params=FIGURES)
def pair(request):
    """A record and its estimate."""
    own = FINER / f"{request.param}.toml"
    record = read_record(own) if own.exists() else SHIPPED[request.param]
    return record, estimate(record)


def test_s11_over_the_band(pair):
    record, guess = pair
    finer = skrf.Network(str(FINER / f"{record.name}.s1p"))
    inside = (finer.f >= record.band.low_ghz * 1e9) & (finer.f <= record.band.high_ghz * 1e9)
    found = np.interp(finer.f, guess.frequency, guess.s11)
    assert np.max(np.abs(found - finer.s[:, 0, 0])[inside]) < estimate_error(record)["s11"]


def test_gain_and_beam(pair):
    record, guess = pair
    trusted, finer = estimate_error(record), FIGURES[record.name]
    for name, kind in (("directivity", "gain"), ("realized_gain", "gain"), ("side_lobe_level", "side_lobe")):
        assert guess.figures[name].value == pytest.approx(finer[name], abs=trusted[kind]), name
    for name in ("beamwidth_along", "beamwidth_across"):
        assert guess.figures[name].value == pytest.approx(finer[name], rel=trusted["beamwidth"]), name
