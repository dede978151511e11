"""Fixed-point iteration with memory."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


class AndersonMixing:
    """Fixed-point iteration with memory, for maps that converge slowly or not at all by themselves.

    The next point is that combination of the last ones whose residuals cancel best (D. G. Anderson,
    J. ACM 12 (1965) 547-560, from memory).

    Parameters
    ----------
    depth : int
        Number of earlier points that are combined.

    Examples
    --------
    >>> memory, x = AndersonMixing(), np.array([1.0])
    >>> for _ in range(6):
    ...     x = memory.mixed(x, np.cos(x))
    >>> print(np.round(x, 6))
    [0.739085]
    """

    def __init__(self, depth: int = 8):
        self.depth = depth
        self.points: list[NDArray] = []
        self.residuals: list[NDArray] = []

    def mixed(self, point: NDArray, image: NDArray) -> NDArray:
        """Point after this one.

        Parameters
        ----------
        point, image : (n,) real or complex arrays
            The point and its image under the fixed-point map.
        """
        self.points = [*self.points[-self.depth :], point]
        self.residuals = [*self.residuals[-self.depth :], image - point]
        if len(self.points) == 1:
            return image
        steps, changes = np.diff(self.points, axis=0).T, np.diff(self.residuals, axis=0).T
        last = self.residuals[-1]
        real = np.concatenate([changes.real, changes.imag])
        # the residuals of nearly settled rounds differ by rounding only: small singular values are left out
        part = np.linalg.lstsq(real, np.concatenate([last.real, last.imag]), rcond=1e-6)[0]
        return image - (steps + changes) @ part
