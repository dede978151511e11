"""How the parts of an antenna change with one dimension: a polynomial through a few solved steps."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simharness.errors import InputError

QUADRATIC, QUARTIC = (-1, 1), (-2, -1, 1, 2)
"""Steps, beside none, through which a polynomial goes."""
BEYOND = {1: 1.0, 2: 1.5, 4: 2.2}
"""How many steps a polynomial of each order is used over."""
FIRST_REACH = 2.2
"""How many steps can be expected of one that is not solved yet."""
_HALVINGS = 3


@dataclass(frozen=True)
class Path:
    """Change of the parts with one dimension.

    Attributes
    ----------
    step : float
        In the unit of the dimension.
    powers : (p, m) complex array
        Coefficients of the first and higher powers of the amount over the step.
    low, high : float
        Least and greatest amount for which it is good, in the unit of the dimension.
    """

    step: float
    powers: NDArray
    low: float
    high: float

    def reaches(self, amount: float) -> bool:
        """Whether it is good for an amount."""
        return self.low <= amount <= self.high

    def change(self, amount: float | NDArray) -> NDArray:
        """Change of the parts, (m,) for one amount and (s, m) for several (s,).

        Examples
        --------
        >>> Path(0.5, np.array([[2.0], [3.0]]), -1.0, 1.0).change(1.0).tolist()
        [16.0]
        """
        share = np.asarray(amount)[..., None] / self.step
        return share ** np.arange(1, len(self.powers) + 1) @ self.powers


def path(solved: Callable[[float], NDArray], step: float, steps: tuple[int, ...] = QUADRATIC) -> Path | None:
    """The path of one dimension; None where there is no antenna beside the one as drawn.

    Parameters
    ----------
    solved : function
        Change of the parts (m,) with the dimension off by an amount; raises InputError where there is no such
        antenna.
    step : float
        It is halved a few times where there is an antenna on neither side.
    steps : tuple of int
        Multiples of the step at which it is solved. Where some are missing, the polynomial is of lower order.
    """
    for _ in range(_HALVINGS):
        known: dict[int, NDArray] = {}
        for number in steps:
            try:
                known[number] = solved(number * step)
            except InputError:
                continue
        if known:
            return _through(known, step)
        step /= 2
    return None


def _through(known: dict[int, NDArray], step: float) -> Path:
    """The polynomial through no change and the known ones."""
    at = np.array(sorted(known), dtype=float)
    order = np.arange(1, at.size + 1)
    powers = np.linalg.solve(at[:, None] ** order, np.stack([known[int(number)] for number in at]))
    reach = step * BEYOND.get(at.size, 2.0)
    low, high = (reach if any(at < 0) else 0.0), (reach if any(at > 0) else 0.0)
    return Path(step, powers, -low, high)
