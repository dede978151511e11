"""What pictures show of the shape of a guide: its outline, its front, its size; one object for each shape."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from simharness.records import Guide, RectangularGuide, RoundGuide

PARTS = 12
"""Pieces of each quarter of an outline: small patches sort well by depth."""


class ShapePicture(Protocol):
    """A shape of guide as pictures see it."""

    @property
    def size(self) -> str:
        """Kind and inner size."""
        ...

    def outline(self) -> NDArray:
        """Closed inner outline (n, 2) of the cross-section about its middle, mm."""
        ...

    def corners(self, outline: NDArray) -> range:
        """Indices of the corners of an outline."""
        ...

    def front(self, across: NDArray, scale: float, above: float) -> tuple[NDArray, NDArray]:
        """Points just above the front as x and y in the picture.

        Parameters
        ----------
        across : array
            Distances from the centre line, along the surface, in the picture.
        scale : float
            Of the picture, 1/mm.
        above : float
            Height above the surface in the picture.
        """
        ...


@dataclass(frozen=True)
class RectangularPicture:
    """A box."""

    guide: RectangularGuide

    @property
    def size(self) -> str:
        """Both inner dimensions and the length."""
        return f"guide {self.guide.a_mm:g} × {self.guide.b_mm:g} × {self.guide.length_mm:g} mm"

    def outline(self) -> NDArray:
        """A rectangle."""
        half = self.guide.width_mm / 2, self.guide.height_mm / 2
        corners = np.array([(1, -1), (1, 1), (-1, 1), (-1, -1), (1, -1)]) * half
        part = np.linspace(0, 1, PARTS + 1)[:-1, None]
        sides = [one + part * (two - one) for one, two in pairwise(corners)]
        return np.concatenate([*sides, corners[-1:]])

    def corners(self, outline: NDArray) -> range:
        """All four."""
        return range(0, len(outline) - 1, (len(outline) - 1) // 4)

    def front(self, across: NDArray, scale: float, above: float) -> tuple[NDArray, NDArray]:
        """On a plane."""
        return across, np.full(across.shape, scale * self.guide.height_mm / 2 + above)


@dataclass(frozen=True)
class RoundPicture:
    """A tube."""

    guide: RoundGuide

    @property
    def size(self) -> str:
        """Diameter and length."""
        return f"round tube {self.guide.diameter_mm:g} × {self.guide.length_mm:g} mm"

    def outline(self) -> NDArray:
        """A circle."""
        angle = np.linspace(0, 2 * np.pi, 4 * PARTS + 1)
        return self.guide.width_mm / 2 * np.stack([np.cos(angle), np.sin(angle)], axis=1)

    def corners(self, outline: NDArray) -> range:
        """None."""
        return range(0)

    def front(self, across: NDArray, scale: float, above: float) -> tuple[NDArray, NDArray]:
        """On a cylinder; distances are those on the outer surface, where slots are marked."""
        radius, turn = scale * self.guide.width_mm / 2 + above, across / (scale * self.guide.outer_radius_mm)
        return radius * np.sin(turn), radius * np.cos(turn)


SHAPES: dict[str, Callable[[Any], ShapePicture]] = {
    "rectangular": RectangularPicture,
    "round": RoundPicture,
}
"""By `guide.shape`."""


def shape_picture(guide: Guide) -> ShapePicture:
    """The shape of a guide as pictures see it."""
    return SHAPES[guide.shape](guide)
