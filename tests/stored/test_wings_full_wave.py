"""Antennas with wings: the estimate against full-wave runs of before."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from shaped_records import SHIPPED

from simharness.estimate.antenna import estimate
from simharness.records import Record, read_record
from simharness.verdict.agreement import kind_of
from simharness.verdict.error_bars import estimate_error, solver_error

REFERENCES = Path(__file__).resolve().parents[1] / "references"
ACROSS = np.genfromtxt(
    REFERENCES / "wings-across.csv", delimiter=",", skip_header=1, names=True, deletechars=""
)
FIGURES = np.genfromtxt(
    REFERENCES / "wings-figures.csv", delimiter=",", skip_header=1, names=True, dtype=None, encoding="utf-8"
)
NEAR_DB = -15.0
"""Level down to which the cut across is compared, dB under the strongest."""

WINGS = {
    "flat-20": (20.0, 0.0),
    "flat-45": (45.0, 0.0),
    "back-40": (30.0, -40.0),
    "six-flat": (30.0, 0.0),
    "six-back": (25.0, -60.0),
    "six-forward": (35.0, 30.0),
    "six-bent": (25.0, 45.0),
    "six-upright": (15.0, 90.0),
    "forward-45": (25.0, 45.0),
    "upright": (15.0, 90.0),
}
"""Width in mm and angle in deg of each column, on three slots or on six."""
WITHIN_ONE_DB = ("flat-20", "back-40", "six-flat")


def antenna(case: str) -> Record:
    """The record of a case."""
    bare = (
        SHIPPED["on-mast-5g8"] if case.startswith("six") else read_record(REFERENCES / "three-slot-5g8.toml")
    )
    written = bare.model_dump(by_alias=True, exclude_none=True)
    written.pop("mast", None)
    width, angle = WINGS[case]
    wings = {"width_mm": width, "angle_deg": angle, "join": "soldered"}
    return Record.model_validate(written | {"wings": wings})


@pytest.mark.parametrize("case", WINGS)
def test_estimate_with_wings(case):
    """Levels across down to 15 dB under the strongest, and figures, within both bars. The wanted 1 dB across
    is met by three of the ten; seen (every 2 deg): flat and bent back 0.6, 0.8, 0.9, 1.3 and 1.4; forward
    on 4.4 wavelengths 1.2, 1.6 and 3.7, on 2.5 wavelengths 2.0 and 14.5 (a trough with open ends). Worst
    figures: directivity 0.5 dB, beamwidth 8 %, front to back 6.9 dB."""
    record = antenna(case)
    found, trusted = estimate(record), estimate_error(record)
    cut = found.across
    levels = 10 * np.log10(np.interp(np.radians(ACROSS["angle_deg"]), cut.angle, cut.power) / cut.power.max())
    stored = ACROSS[case]
    apart = np.abs(levels - stored)[stored > NEAR_DB]
    assert apart.size > 70
    assert apart.max() < (1.0 if case in WITHIN_ONE_DB else trusted["across"])
    row, error = FIGURES[FIGURES["case"] == case][0], solver_error(record, "draft")
    for name in ("directivity", "beamwidth_along", "beamwidth_across", "side_lobe_level", "front_to_back"):
        figure, wave, kind = found.figures[name].value, row[name], kind_of(name)
        share = abs(figure / wave - 1) if kind == "beamwidth" else abs(figure - wave)
        assert share < trusted[kind] + error[kind], name
    centre = int(np.argmin(np.abs(found.frequency - record.band.centre)))
    wave = complex(row["s11_re"], row["s11_im"])
    assert abs(found.s11[centre] - wave) < trusted["s11"] + error["s11"]
