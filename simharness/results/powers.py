"""Where the power of a run goes: losses, and radiation efficiency."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from simharness.em.pattern.gain import radiation_efficiency

HEAT = "substrate_loss", "cover_loss", "load_power"
"""What the lossless metal of the solver's own model does not send out again, W."""
LOSSES = ("wall_loss", *HEAT)


def lost_power(arrays: Mapping[str, np.ndarray], index: int) -> float:
    """Power that heats the antenna at one of the far frequencies, W; a loss not in the run counts as zero."""
    return sum(float(arrays[name][index]) for name in LOSSES if name in arrays)


def run_efficiency(results: Mapping[str, np.ndarray], index: int) -> float:
    """Radiated over accepted power at one of the far frequencies; a loss that the run does not hold counts
    as zero."""
    return radiation_efficiency(float(results["radiated_power"][index]), lost_power(results, index))
