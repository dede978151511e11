"""Antennas before poles and walls and two side by side: the estimate against full-wave runs of before."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from shaped_records import SHIPPED

from simharness.estimate.antenna import estimate
from simharness.records import Record, read_record
from simharness.verdict.agreement import kind_of
from simharness.verdict.error_bars import estimate_error, solver_error

REFERENCES = Path(__file__).resolve().parents[1] / "references"
ACROSS = np.genfromtxt(
    REFERENCES / "mast-across.csv", delimiter=",", skip_header=1, names=True, deletechars=""
)
FIGURES = np.genfromtxt(
    REFERENCES / "mast-figures.csv", delimiter=",", skip_header=1, names=True, dtype=None, encoding="utf-8"
)
NEAR_DB = -15.0
"""Level down to which the cut across is compared, dB under the strongest."""

PLACES: dict[str, dict[str, Any]] = {
    "none": {},
    "pole-behind": {"mast": {"diameter_mm": 50.0, "distance_mm": 30.0}},
    "pole-aslant": {"mast": {"diameter_mm": 34.0, "distance_mm": 20.0, "direction_deg": -120.0}},
    "pole-beside": {"mast": {"diameter_mm": 50.0, "distance_mm": 40.0, "direction_deg": 90.0}},
    "wall-behind": {"mast": {"shape": "wall", "distance_mm": 30.0, "width_mm": 220.0}},
    "six-behind": {"mast": {"diameter_mm": 48.3, "distance_mm": 25.0}},
    "six-beside": {"mast": {"diameter_mm": 48.3, "distance_mm": 40.0, "direction_deg": 90.0}},
    "six-onmast": {"mast": {"diameter_mm": 48.3, "distance_mm": 40.0, "direction_deg": 150.0}},
    "six-wall": {"mast": {"shape": "wall", "distance_mm": 30.0, "width_mm": 220.0}},
    "pair-beside": {"pair": {"place": "beside", "distance_mm": 60.0, "fed": "alone"}},
    "pair-back": {"pair": {"place": "back to back", "distance_mm": 30.0, "fed": "alone"}},
    "pair-above": {"pair": {"place": "above", "distance_mm": 20.0, "fed": "alone"}},
    "pair-phase": {"pair": {"place": "beside", "distance_mm": 60.0, "fed": "in phase"}},
}
"""What stands beside the antenna of three slots, or of six, in each column of the tables."""
WITHIN_ONE_DB = {"none", "pole-behind", "wall-behind", "six-beside", "six-wall", "pair-back", "pair-above"}


def antenna(case: str) -> Record:
    """The record of a case."""
    bare = (
        SHIPPED["on-mast-5g8"] if case.startswith("six") else read_record(REFERENCES / "three-slot-5g8.toml")
    )
    written = bare.model_dump(by_alias=True, exclude_none=True)
    written.pop("mast", None)
    return Record.model_validate(written | PLACES[case])


@pytest.mark.parametrize("case", PLACES)
def test_estimate_beside_other_bodies(case):
    """Levels across down to 15 dB under the strongest, and figures. Those of `WITHIN_ONE_DB` are held to 1
    dB (every 2 deg, seen: 0.6 to 0.95), the others to their bar of 2.5 dB (seen: pole beside 1.1, six
    slots before a pole 1.2, six on a mast 1.7, pole aslant 2.0, second antennas beside 1.8). Runs with
    Mur's condition on the open faces were up to 2.2 dB off: what it sent back of the beam came out
    behind. Figures within both bars together; worst seen: directivity 0.5 dB (wall), front to back 5.2
    dB and coupling 6.1 dB (back to back), beamwidth 10 % (beside)."""
    record = antenna(case)
    found, trusted = estimate(record), estimate_error(record)
    cut = found.across
    levels = 10 * np.log10(np.interp(np.radians(ACROSS["angle_deg"]), cut.angle, cut.power) / cut.power.max())
    stored = ACROSS[case]
    apart = np.abs(levels - stored)[stored > NEAR_DB]
    assert apart.size > 15
    assert apart.max() < (1.0 if case in WITHIN_ONE_DB else trusted["across"])
    row, error = FIGURES[FIGURES["case"] == case][0], solver_error(record, "draft")
    for name in FIGURES.dtype.names[1:]:
        figure, wave = found.figures.get(name), row[name]
        if figure is None or np.isnan(wave):
            continue
        kind = kind_of(name)
        share = abs(figure.value / wave - 1) if kind == "beamwidth" else abs(figure.value - wave)
        assert share < trusted[kind] + error[kind], name


def test_coupling_beside_each_other():
    """-24.8 dB by the estimate, -24.2 dB by the full wave."""
    assert estimate(antenna("pair-beside")).figures["coupling"].value == pytest.approx(
        float(FIGURES["coupling"][FIGURES["case"] == "pair-beside"][0]), abs=1.0
    )
    assert "coupling" not in estimate(antenna("pair-above")).figures
