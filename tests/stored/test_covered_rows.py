"""Rows of four slots that `design` made under covers, the model beside stored full-wave runs.

Layout: tube of 44 x 24 x 2 mm, 5.8 GHz, slots 3 mm wide with round ends; bare, with a sheet held off, and
with two sheets on the wall (`tests/references/README.md`). Exact: S11 of the runs, normal mesh. Known bias:
meshes read low where a sheet lies on a wall (0.5 % for one slot with 4 cells across, by a full vector
aperture), the one field profile of the model 0.2 % high, a wall and sheet as wide as the tube 0.2 % low
against endless ones.
Seen, best match of the run against the model's: bare +2.7 %, held off -0.2 %, glass epoxy -0.5 %, PVC -3.3 %;
middle of the -10 dB band: bare 0.0 %, glass epoxy -0.7 %, PVC -1.0 %.

A best match within 1.5 % is thus had by two of the three rows under a cover; it is missed under PVC, and by
the bare row too, whose S11 the model has within 0.04. A row of four slots with its probe matches twice, and
where between the two its deepest point lies is moved far by little. The band that the match makes is within
1.5 % in all of them.
"""

from __future__ import annotations

import numpy as np
import pytest
from full_wave_tables import curves
from shaped_records import SHIPPED, varied

from simharness.em.signals.match import deepest_match, match_band
from simharness.estimate.antenna import estimate

LID = SHIPPED["covered-slot-5g8"]
PLACES = 43.6, 77.5, 111.4, 145.2
PVC = {"material": "PVC", "thickness_mm": 2.0, "gap_mm": 0.0}
GLASS = {"material": "glass-fibre epoxy", "thickness_mm": 1.0, "gap_mm": 0.0}


def row(cover, height_mm, places, offsets, lengths):
    """The shipped covered record with other slots, probe and cover, as `design` wrote them."""
    slots = [
        {"position_mm": place, "offset_mm": offset, "length_mm": length, "width_mm": 3.0, "ends": "round"}
        for place, offset, length in zip(places, offsets, lengths)
    ]
    return varied(LID, slot=slots, cover=cover, feed={"height_mm": height_mm})


ROWS = {
    "held off": LID,
    "glass": row(GLASS, 10.9, (43.7, *PLACES[1:]), (9.2, -8.5, 8.5, -9.2), (20.7, 20.8, 20.8, 20.8)),
    "PVC": row(PVC, 11.0, PLACES, (9.5, -8.7, 8.7, -9.6), (21.1, 21.1, 21.1, 21.2)),
    "bare": row(None, 11.0, (43.7, 77.5, 111.4, 145.3), (7.8, -7.7, 7.7, -7.9), (25.2, 25.3, 25.3, 25.4)),
}
RUNS = curves("covered-rows", "row")


@pytest.fixture(scope="module")
def models():
    return {name: estimate(record, 161) for name, record in ROWS.items()}


@pytest.mark.parametrize("name", ROWS)
def test_edges_of_the_band_are_within_one_and_a_half_per_cent(models, name):
    """Both of 10 dB, where the run has them; of each row one at least."""
    run, model = RUNS[(name,)], models[name]
    pairs = [
        (seen, told)
        for seen, told in zip(
            match_band(run.frequency, run.s11), match_band(np.asarray(model.frequency), model.s11)
        )
        if seen is not None
    ]
    assert pairs
    for seen, told in pairs:
        assert told == pytest.approx(seen, rel=0.015)


@pytest.mark.parametrize("name", ["held off", "glass"])
def test_best_match_is_within_one_and_a_half_per_cent(models, name):
    run, model = RUNS[(name,)], models[name]
    told, _ = deepest_match(np.asarray(model.frequency), model.s11)
    assert told == pytest.approx(deepest_match(run.frequency, run.s11)[0], rel=0.015)


@pytest.mark.parametrize(
    ("name", "largest"), [("held off", 0.05), ("bare", 0.06), ("glass", 0.2), ("PVC", 0.2)]
)
def test_reflection_is_within_the_bars_of_estimate_and_run(models, name, largest):
    """In the plane of S11 over the middle of the band, 5.65 to 5.95 GHz; seen 0.03, 0.04, 0.13 and 0.17."""
    run, model = RUNS[(name,)], models[name]
    inside = (run.frequency > 5.65e9) & (run.frequency < 5.95e9)
    place = np.asarray(model.frequency)
    told = np.interp(run.frequency[inside], place, model.s11.real) + 1j * np.interp(
        run.frequency[inside], place, model.s11.imag
    )
    assert np.abs(told - run.s11[inside]).max() < largest


def test_all_rows_match_over_their_band_so_that_the_deepest_point_is_free():
    """-12 dB or better over the 2.6 % about 5.8 GHz that the designs were asked for, in every run."""
    for run in RUNS.values():
        inside = (run.frequency > 5.7246e9) & (run.frequency < 5.8754e9)
        assert 20 * np.log10(np.abs(run.s11[inside]).max()) < -12.0
