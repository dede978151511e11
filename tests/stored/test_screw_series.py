"""Screws in a plain guide, and antennas with a screw: the estimate beside full-wave runs.

Exact: full-wave runs of stored tables; their first lines say what was solved. Known bias: the estimate's
screws act up to a tenth weaker, as if 3 % less deep, a fifth where they are less deep than half as wide.
"""

from __future__ import annotations

import csv

import numpy as np
import pytest
from full_wave_tables import REFERENCES

from simharness.em.screw.moment import screwed_guide
from simharness.em.signals.match import deepest_match
from simharness.em.slot.basis import Screw, SlottedGuide
from simharness.estimate.antenna import estimated_match, exact_reflection
from simharness.records import parse_record, read_record
from simharness.records.text import plain_data

MODELS = REFERENCES.parents[1] / "models"


def table(name: str) -> tuple[dict[str, str], ...]:
    with open(REFERENCES / name, newline="", encoding="utf-8") as file:
        return tuple(csv.DictReader(line for line in file if not line.startswith("#")))


@pytest.mark.parametrize("row", table("screw-series.csv"), ids=lambda row: "-".join(list(row.values())[:4]))
def test_a_screw_in_a_plain_guide(row):
    """S in the complex plane: seen 0.073 off for those deeper than 8 mm, near their resonance, else 0.053."""
    depth, diameter, offset = (1e-3 * float(row[f"{name}_mm"]) for name in ("depth", "diameter", "offset"))
    guide = SlottedGuide(40e-3, 20e-3, 1e-3, (), screws=(Screw(0.0, offset, depth, diameter),))
    s = screwed_guide(guide, np.array([1e9 * float(row["ghz"])]))[0]
    found = [complex(float(row[f"{name}_re"]), float(row[f"{name}_im"])) for name in ("s11", "s21")]
    np.testing.assert_allclose(s[:, 0], found, atol=0.08 if depth > 8e-3 else 0.06)


SCREWS = {
    "none": [],
    "one-4": [(30.0, 0.0, 4.0, 4.0)],
    "one-7": [(30.0, 0.0, 4.0, 7.0)],
    "end-6": [(290.0, 5.0, 4.0, 6.0)],
    "under-6": [(80.0, 0.0, 4.0, 6.0)],
    "thick": [(100.0, 3.0, 6.0, 4.0), (290.0, -4.0, 3.0, 7.0)],
}
ANTENNAS = table("screw-antennas.csv")


@pytest.mark.parametrize("case", SCREWS)
def test_an_antenna_with_screws(case):
    """In its band S11 within what the estimate is trusted to, seen 0.094 off for the deepest screw, 0.047 for
    the others and 0.024 without; the best match, which screws move by 2 to 4 %, seen 0.5 % off."""
    keys = "position_mm", "offset_mm", "diameter_mm", "depth_mm"
    data = plain_data(read_record(MODELS / "eight-slot-5g8.toml"))
    record = parse_record(data | {"screw": [dict(zip(keys, screw)) for screw in SCREWS[case]]})
    rows = [row for row in ANTENNAS if row["case"] == case]
    inside = [row for row in rows if 5.72 < float(row["ghz"]) < 5.88]
    s11 = exact_reflection(record, np.array([1e9 * float(row["ghz"]) for row in inside]))
    solved = [complex(float(row["s11_re"]), float(row["s11_im"])) for row in inside]
    np.testing.assert_allclose(s11, solved, atol=0.1)
    best, _ = deepest_match(*estimated_match(record))
    assert best == pytest.approx(1e9 * float(rows[0]["best_ghz"]), rel=6e-3)
