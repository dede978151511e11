"""Results of a tolerance study: effects of the dimensions, allowed deviations, defects, and the yield."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simharness.estimate.response_surface import Figures
from simharness.numerics.proportion import wilson_interval
from simharness.tolerance.limits import Allowed


@dataclass(frozen=True)
class Effect:
    """Effect of one dimension, from central differences.

    Attributes
    ----------
    name, unit : str
        As in `deviations`; "mm" or "%".
    tolerance, own_tolerance : float
        Of the tools, in that unit: common to all slots, or of the one dimension; of each slot individually.
    slopes : dict
        Name of a field of `Figures` to its change (Hz or dB) per unit; NaN where there is none.
    s11_change : float
        Largest change of S11 in the band, a distance in the complex plane, for the tolerance of the tools.
    own_s11_change : float
        Root sum of squares of the changes by the individual errors of the slots; 0 where there are none.
    """

    name: str
    unit: str
    tolerance: float
    own_tolerance: float
    slopes: dict[str, float]
    s11_change: float
    own_s11_change: float


@dataclass(frozen=True)
class Defect:
    """A manufacturing defect: its description, a clause, and the figures of the antenna with it."""

    description: str
    figures: Figures


@dataclass(frozen=True)
class Yield:
    """A random sample of antennas with errors of the tools.

    Attributes
    ----------
    figures : Figures
        One value for each antenna.
    meets : (s,) bool array
        Whether the worst S11 of each antenna meets the target.
    spot_error : float
        Largest error of the surrogate's S11 over the band, a distance in the complex plane, against the model
        itself in the first few antennas.
    """

    figures: Figures
    meets: NDArray
    spot_error: float

    @property
    def good(self) -> int:
        """Number of antennas that meet the target."""
        return int(np.count_nonzero(self.meets))

    @property
    def share(self) -> float:
        """Share of them."""
        return self.good / self.meets.size

    @property
    def interval(self) -> tuple[float, float]:
        """95 % confidence interval of the share of all such antennas; see `wilson_interval`."""
        return wilson_interval(self.good, self.meets.size)


@dataclass(frozen=True)
class ToleranceStudy:
    """All results about the tolerances of a record.

    Attributes
    ----------
    tools : str
    resonance_is : str
        What the resonance of `Figures` is for this antenna.
    drawn : Figures
        Of the antenna as drawn.
    effects : tuple of Effect
        The strongest first.
    allowed : dict
        Name of a dimension to `Allowed`; empty if the antenna as drawn misses its target.
    sample : Yield
    defects : tuple of Defect
    run : str or None
        Name of the full-wave run that corrected the model.
    """

    tools: str
    resonance_is: str
    drawn: Figures
    effects: tuple[Effect, ...]
    allowed: dict[str, Allowed]
    sample: Yield
    defects: tuple[Defect, ...]
    run: str | None
