"""The smooth model that tolerances are found with: of a record alone, or set right by a full-wave run."""

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
    """The fast model of a record, good for slots that are longer and shorter by a step or more.

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
    """The fast model of a record, set right by a full-wave run of it.

    Its own dimensions are moved a little, as a comparison with a measurement does it, and what then is left is added: the
    slopes turn with the curve that they belong to.

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
