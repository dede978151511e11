"""The far field of a run: which of those stored, and from where it is seen."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray

from simharness.em.pattern import cuts
from simharness.em.pattern.far_field import FarField, nearest_field
from simharness.errors import InputError
from simharness.records import Record
from simharness.results.powers import run_efficiency


def far_index(far_frequency: np.ndarray, frequency: float) -> int:
    """Index of the stored far field for a frequency in Hz.

    Raises
    ------
    InputError
        It lies further outside the stored ones than they lie from each other.
    """
    low, high = float(far_frequency[0]), float(far_frequency[-1])
    step = float(np.max(np.diff(far_frequency))) if far_frequency.size > 1 else 0.02 * low
    if not low - step <= frequency <= high + step:
        raise InputError(
            "frequency",
            f"{frequency / 1e9:g} GHz",
            f"the run holds far fields from {low / 1e9:g} to {high / 1e9:g} GHz",
        )
    return nearest_field(far_frequency, frequency)


def antenna_middle(record: Record) -> tuple[float, float, float]:
    """Middle of the slots at the front wall, m; of the guide where there are none."""
    places = [slot.position_mm for slot in record.open_slots] or [0.0, record.guide.length_mm]
    return 0.0, 0.0, 0.5e-3 * (min(places) + max(places))


def run_far_field(results: Mapping[str, np.ndarray]) -> FarField:
    """The far field of a run.

    Raises
    ------
    InputError
        The run stores none.
    """
    if "e_theta" not in results:
        raise InputError("run", "without a far field", "take a run of an antenna with slots")
    return FarField.stored(results)


@dataclass(frozen=True)
class PatternData:
    """The far field of a run on the whole sphere, as labelled arrays.

    Attributes
    ----------
    frequency : (f,) array
        Hz.
    theta : (t,) array
        From +z, the axis of the guide, 0 to pi, rad.
    phi : (p,) array
        From +x, across the guide; +y, pi/2, is the normal of the slotted front, rad.
    e_theta, e_phi : (f, t, p) complex arrays
        Field times distance with 1 W available at the port, peak phasors, V; phase referred to the origin.
    directivity : (f, t, p) array
        Linear.
    realized_gain : (f, t, p) array
        Linear: with the losses in metal and dielectric and with the mismatch at the port.
    """

    axes: ClassVar[tuple[str, ...]] = ("frequency", "theta", "phi")
    units: ClassVar[Mapping[str, str]] = {
        "frequency": "Hz",
        "theta": "rad",
        "phi": "rad",
        "e_theta": "V",
        "e_phi": "V",
        "directivity": "1",
        "realized_gain": "1",
    }

    frequency: NDArray
    theta: NDArray
    phi: NDArray
    e_theta: NDArray
    e_phi: NDArray
    directivity: NDArray
    realized_gain: NDArray

    def nearest(self, frequency: float) -> int:
        """Index of the far field nearest to a frequency in Hz; InputError where it lies outside of those
        stored.
        """
        return far_index(self.frequency, frequency)

    def cut(self, plane: str, frequency: float) -> cuts.PatternCut:
        """One principal cut.

        Parameters
        ----------
        plane : str
            "along" the guide (the y-z plane) or "across" it (the x-y plane).
        frequency : float
            Hz; the nearest stored far field is taken.

        Returns
        -------
        PatternCut
            `angle` (n,) in rad off broadside, -pi to pi, towards the far end or +x; `co`, `cross` and `total`
            (n,) in W/sr with 1 W available.

        Raises
        ------
        InputError
            Another plane, or a frequency that lies outside of those stored.
        """
        if plane not in ("along", "across"):
            raise InputError("plane", plane, "must be along or across")
        far = FarField(self.frequency, self.theta, self.phi, self.e_theta, self.e_phi)
        return (cuts.cut_along if plane == "along" else cuts.cut_across)(far, self.nearest(frequency))

    @classmethod
    def of_run(cls, results: Mapping[str, NDArray]) -> PatternData:
        """The pattern among the result arrays of a run; InputError where there is none."""
        far = run_far_field(results)
        efficiency = np.array([run_efficiency(results, i) for i in range(far.frequency.size)])
        share = efficiency * results["accepted_power"]  # of 1 W available
        directivity = results["directivity"]
        return cls(
            far.frequency,
            far.theta,
            far.phi,
            far.e_theta,
            far.e_phi,
            directivity,
            directivity * share[:, None, None],
        )
