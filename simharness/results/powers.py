"""Radiation efficiency of a run."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from simharness.em.pattern.gain import radiation_efficiency
from simharness.results.outputs import lost_power


def run_efficiency(results: Mapping[str, np.ndarray], index: int) -> float:
    """Radiated over accepted power at one of the far frequencies; a loss that the run does not hold counts as zero."""
    return radiation_efficiency(float(results["radiated_power"][index]), lost_power(results, index))
