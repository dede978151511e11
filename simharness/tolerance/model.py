"""The response surface for tolerances: of a record alone, or corrected by a full-wave run."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from simharness.estimate.antenna import estimate_span
from simharness.estimate.response_surface import ResponseSurface
from simharness.estimate.surrogate import POINTS, SpaceMappingSurrogate
from simharness.records import Record
from simharness.tolerance.tool_errors import common_dimensions


def response_surface(record: Record) -> ResponseSurface:
    """The response surface of a record, valid for slots that are longer or shorter by a step or more.

    Raises
    ------
    InputError
        The record has no slots.
    """
    neighbours = []
    for deviation in common_dimensions(record):
        if deviation.name == "slot length":
            low, high = deviation.range(record)
            neighbours = [deviation.applied(record, 0.1 * amount) for amount in (low, high)]
    return ResponseSurface(record, tuple(neighbours))


def corrected_model(record: Record, frequency: NDArray, s11: NDArray) -> ResponseSurface:
    """The response surface of a record, corrected by a full-wave run of it.

    The dimensions of the model are shifted a little, as in a comparison with a measurement, and the remaining
    difference is added, so that the slopes belong to the corrected curve.

    Parameters
    ----------
    frequency : (f,) array
        Hz.
    s11 : (f,) complex array

    Raises
    ------
    InputError
        The record has no slots.
    """
    low, high = estimate_span(record)
    shared = np.linspace(max(low, frequency[0]), min(high, frequency[-1]), POINTS)
    model = response_surface(
        SpaceMappingSurrogate(record, shared, CubicSpline(frequency, s11)(shared)).calibrated
    )
    model.correct(frequency, s11)
    return model
