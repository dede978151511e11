"""Field records of the solver: what they are, and the part of one inside given bounds."""

from __future__ import annotations

import numpy as np

Field = tuple[list[np.ndarray], np.ndarray]
"""Coordinates x, y, z (m) and complex field (frequency, component, x, y, z)."""


def within(
    record: Field, inside: tuple[float, ...]
) -> tuple[tuple[np.ndarray, np.ndarray, np.ndarray], np.ndarray]:
    """Centres of the cells inside the bounds, and the field there: the record has some more around."""
    places, field = record
    cells = [
        np.flatnonzero((line > inside[2 * i]) & (line < inside[2 * i + 1])) for i, line in enumerate(places)
    ]
    i, j, k = (slice(found[0], found[-1] + 1) for found in cells)
    x, y, z = (line[found] for line, found in zip(places, cells))
    return (x, y, z), field[..., i, j, k]
