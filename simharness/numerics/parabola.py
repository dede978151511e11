"""Extremum of a sampled curve, refined by the parabola through three samples."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray


class Vertex(NamedTuple):
    """Place and value of an extremum, in the units of the samples."""

    place: float
    value: float


def refined_minimum(places: NDArray, values: NDArray, index: int) -> Vertex:
    """Lowest point of the parabola through a sample and its two neighbours.

    Parameters
    ----------
    places, values : (n,) arrays
        Samples of a curve, the places increasing.
    index : int
        The lowest sample.

    Returns
    -------
    Vertex
        The sample itself where it is the first or the last one, or where the three do not curve upwards.

    Examples
    --------
    >>> x = np.array([0.0, 1.0, 3.0])
    >>> refined_minimum(x, (x - 1.25) ** 2 + 2, 1)
    Vertex(place=1.25, value=2.0)
    """
    here = Vertex(float(places[index]), float(values[index]))
    if index in (0, len(places) - 1):
        return here
    x, y = places[index - 1 : index + 2], values[index - 1 : index + 2]
    before, after = x[1] - x[0], x[2] - x[1]
    rise_before, rise_after = (y[1] - y[0]) / before, (y[2] - y[1]) / after
    square = (rise_after - rise_before) / (before + after)
    if not square > 0:
        return here
    slope = (rise_before * after + rise_after * before) / (before + after)
    return Vertex(float(here.place - slope / (2 * square)), float(here.value - slope**2 / (4 * square)))


def refined_maximum(places: NDArray, values: NDArray, index: int) -> Vertex:
    """Highest point of the parabola through a sample and its two neighbours; see :func:`refined_minimum`.

    Examples
    --------
    >>> x = np.array([0.0, 1.0, 3.0])
    >>> refined_maximum(x, 2 - (x - 1.25) ** 2, 1)
    Vertex(place=1.25, value=2.0)
    """
    place, value = refined_minimum(places, -np.asarray(values), index)
    return Vertex(place, -value)
