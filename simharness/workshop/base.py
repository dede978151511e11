"""The model of the antenna as drawn, from which a finished one differs by its dimensions."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simharness.estimate.antenna import estimate_span
from simharness.estimate.surrogate import POINTS, SpaceMappingSurrogate, estimated_reflection
from simharness.measurement.files import OnePort
from simharness.records import Record
from simharness.verdict.error_bars import ESTIMATE_ERROR, solver_error

CALIBRATED_ERROR = 0.05
"""How far S11 of an antenna with other dimensions is from the calibrated model, a distance in the complex
plane that 95 in 100 stay within: of 23 antennas that were changed and solved, 22 did
(`simharness.improvement.search`)."""


@dataclass(frozen=True)
class BaseModel:
    """The estimate of a record, calibrated by its run where there is one.

    Attributes
    ----------
    record : Record
        As drawn, every slot by itself.
    calibrated : Record
        Whose estimate comes near the run; `record` itself without a run.
    frequency : (f,) array
        Hz.
    remainder : (f,) complex array
        What is left between them, added to all that the model predicts.
    error : float
        Of the model against full-wave runs, a distance in the complex plane.
    mesh_error : float
        Of those runs against metal, the same; 0 without a run, where `error` holds all.
    run, quality : str
        Name of the run and quality of its mesh, empty without one.
    """

    record: Record
    calibrated: Record
    frequency: NDArray
    remainder: NDArray
    error: float
    mesh_error: float
    run: str = ""
    quality: str = ""

    @property
    def whole_error(self) -> float:
        """Of the model against metal, a distance in the complex plane."""
        return float(np.hypot(self.error, self.mesh_error))

    def s11(self, calibrated: Record) -> NDArray:
        """S11 (f,) of a record that differs from `calibrated` as metal differs from the drawing.

        Raises
        ------
        InputError
            Another mode than the lowest may travel.
        """
        return estimated_reflection(calibrated, self.frequency) + self.remainder


def base_model(record: Record, run: OnePort | None = None, name: str = "", quality: str = "") -> BaseModel:
    """The model of a record (every slot by itself), calibrated by its full-wave run where there is one."""
    low, high = estimate_span(record)
    if run is None:
        frequency = np.linspace(low, high, POINTS)
        nothing = np.zeros(POINTS, dtype=complex)
        return BaseModel(record, record, frequency, nothing, ESTIMATE_ERROR["s11"], 0.0)
    frequency = np.linspace(max(low, run.frequency[0]), min(high, run.frequency[-1]), POINTS)
    found = SpaceMappingSurrogate(record, frequency, run.at(frequency))
    mesh = solver_error(record, quality)["s11"]
    return BaseModel(
        record, found.calibrated, frequency, found.remainder, CALIBRATED_ERROR, mesh, name, quality
    )
