"""The match of a run over the band of its record."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from simharness.em.signals.match import worst_match
from simharness.numerics.decibels import decibels
from simharness.records import Record


def worst_in_band(record: Record, results: Mapping[str, np.ndarray]) -> tuple[float, float]:
    """Frequency (Hz) and size (dB) of the largest |S11| in the record's band."""
    band = record.band
    where, worst = worst_match(results["frequency"], results["s11"], band.low, band.high)
    return where, decibels(worst)
