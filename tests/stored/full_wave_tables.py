"""Full-wave S11 of deliberately changed antennas, as stored in tests/references; its README says how it was
made.
"""

from __future__ import annotations

import csv
from collections import defaultdict
from pathlib import Path

import numpy as np
from scipy.interpolate import CubicSpline

from simharness.measurement.files import OnePort
from simharness.records import Record

REFERENCES = Path(__file__).parents[1] / "references"


def curves(name: str, *keys: str) -> dict[tuple[str, ...], OnePort]:
    """S11 of each antenna of a table, by the words of the columns that tell them apart."""
    rows = defaultdict(list)
    with open(REFERENCES / f"{name}.csv", newline="", encoding="utf-8") as file:
        for row in csv.DictReader(file):
            rows[tuple(row[key] for key in keys)].append(
                (1e9 * float(row["frequency_ghz"]), complex(float(row["s11_real"]), float(row["s11_imag"])))
            )
    return {key: OnePort(*map(np.array, zip(*values))) for key, values in rows.items()}


def with_one_wrong(name: str) -> dict[tuple[str, float], OnePort]:
    """S11 of a shipped record with one dimension off, by dimension and amount (mm); ("drawn", 0.0) is as
    drawn.
    """
    return {
        (dimension, float(amount)): curve
        for (dimension, amount), curve in curves(f"off-{name}", "dimension", "amount").items()
    }


class Scan:
    """S11 of a shipped record at several heights of its probe, and between them."""

    def __init__(self, name: str):
        found = {float(height): curve for (height,), curve in curves(f"scan-{name}", "height_mm").items()}
        self.heights = np.array(sorted(found))
        self.frequency = found[self.heights[0]].frequency
        self._over_height = CubicSpline(
            self.heights, np.array([found[height].s11 for height in self.heights])
        )

    def s11(self, height: float | np.ndarray, frequency: np.ndarray) -> np.ndarray:
        """S11 (..., f) at heights (...) in mm within those scanned."""
        assert np.all((self.heights[0] <= height) & (height <= self.heights[-1])), "beyond the scan"
        return CubicSpline(self.frequency, self._over_height(height), axis=-1)(frequency)

    def reflection(self, record: Record, frequency: np.ndarray) -> np.ndarray:
        """S11 (f,) of a record that differs in its probe's height alone."""
        return self.s11(record.feed.height_mm, frequency)
