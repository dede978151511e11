"""Likelihood of explanations whose errors are smooth over frequency."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

INDEPENDENT_SAMPLES = 6.0
"""Number of independent complex samples of a model error over a band of one or two resonances.

Model errors are smooth over frequency, so that hundreds of points are not independent."""


def log_likelihood(misfit: NDArray | float, floor: float) -> NDArray | float:
    """Logarithm of the likelihood of a root mean square misfit, up to a constant.

    For n independent complex Gaussian errors of unknown size at least `floor`, the likelihood at
    its best size is (misfit^2 + floor^2)^-n; n is `INDEPENDENT_SAMPLES`.
    """
    return -INDEPENDENT_SAMPLES * np.log(np.square(misfit) + floor**2)


def shares(scores: NDArray) -> NDArray:
    """Relative likelihoods (n,) that add up to one, of logarithms (n,).

    Examples
    --------
    >>> print(shares(np.log([1.0, 3.0])))
    [0.25 0.75]
    """
    weights = np.exp(scores - np.max(scores))
    return weights / weights.sum()
