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
from simharness.em.slot.basis import Screw, SlottedGuide


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
