"""The match of a run over the band of its record."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np

from simharness.em.signals.match import worst_match
from simharness.numerics.decibels import decibels
from simharness.records import Record

if TYPE_CHECKING:
    import skrf


def worst_in_band(record: Record, results: Mapping[str, np.ndarray]) -> tuple[float, float]:
    """Frequency (Hz) and size (dB) of the largest |S11| in the record's band."""
    band = record.band
    where, worst = worst_match(results["frequency"], results["s11"], band.low, band.high)
    return where, decibels(worst)


def one_port(frequency: np.ndarray, s11: np.ndarray, name: str, **about: str) -> skrf.Network:
    """A reflection (f,) over frequency (f,) in Hz as a one-port of scikit-rf against 50 ohm.

    `about`: further attributes of the network, such as its `comments`.
    """
    import skrf

    points = skrf.Frequency.from_f(frequency, unit="Hz")
    return skrf.Network(frequency=points, s=s11[:, None, None], z0=50, name=name, **about)
